"""What can be wrong with a declared layout, told before any file is read."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator

from trivet.errors import near_name
from trivet.rawfiles.layout.declared import normal_header
from trivet.rawfiles.layout.pair_words import normal_word
from trivet.rawfiles.layout.units import CLOCK, UnitError, known_unit, normal_unit, unit_of
from trivet.rawfiles.text.encodings import text_encoding
from trivet.schema.settings.raw import Layout, LayoutColumn
from trivet.schema.settings.yaml_lines import Place
from trivet.schema.tables.impedance import PAIRS

_ENCODINGS = ("utf-8", "utf-16", "cp1252", "latin-1", "gbk", "shift_jis")
_NEVER_TWICE = ("ignored",)
_SPLIT_CURRENTS = ("charge current", "discharge current")
_PARTS = ("real", "imaginary", "modulus", "phase")
_UNITS_AT_END = (
    re.compile(r"[\[(]\s*([^\[\]()]+?)\s*[\])]\s*$"),
    re.compile(r"[/_]\s*([mu\u00b5\u03bc]?V[\s_]+(?:vs\.?|gegen|against|contre|contra)[\s_].*)$"),
    re.compile(r"[/_]\s*([^/_\s]+)\s*$"),
)
"""In brackets; a voltage with what it is against; behind a sign."""


def broken_layout(place: Place, layout: Layout) -> Iterator[tuple[Place, str]]:
    """Everything that is wrong with one layout.

    Parameters
    ----------
    place : Place
        Where it stands in the settings.
    layout : Layout
        The layout.

    Yields
    ------
    tuple of Place and str
        The setting to change, and why.
    """
    try:
        text_encoding(layout.encoding)
    except LookupError:
        hint = near_name(layout.encoding, _ENCODINGS)
        yield (*place, "encoding"), f"encoding '{layout.encoding}' is not known. {hint}"
    if layout.thousands and layout.thousands == layout.decimal:
        message = f"thousands sign and decimal sign are both '{layout.decimal}'; one must differ."
        yield (*place, "thousands"), message
    yield from _columns(place, layout)
    yield from _currents(place, layout)
    yield from _pair_words(place, layout)
    yield from _wide(place, layout)


def _columns(place: Place, layout: Layout) -> Iterator[tuple[Place, str]]:
    """Quantities and headers once each, units that fit."""
    quantities = Counter((column.quantity, column.pair) for column in layout.columns)
    paired = [column for column in layout.columns if column.pair]
    headers = Counter(
        normal_header(header) for column in layout.columns for header in _headers(column)
    )
    for position, column in enumerate(layout.columns):
        here: Place = (*place, "columns", position)
        if column.pair and column.quantity not in _PARTS:
            yield (
                (*here, "pair"),
                f"'{column.quantity}' is no part of impedance, so it has no pair.",
            )
        if paired and column.quantity in _PARTS and not column.pair:
            yield (*here, "quantity"), f"'{column.quantity}' needs a pair, since others have one."
        if quantities[column.quantity, column.pair] > 1 and column.quantity not in _NEVER_TWICE:
            yield (
                (*here, "quantity"),
                f"'{column.quantity}' is declared for several columns.{_split(column)}",
            )
        for header in _headers(column):
            if headers[normal_header(header)] > 1:
                yield (*here, "header"), f"header '{header}' is declared several times."
        yield from _unit(here, column)


def _pair_words(place: Place, layout: Layout) -> Iterator[tuple[Place, str]]:
    """A word means one pair."""
    seen: dict[str, str] = {}
    for pair in PAIRS:
        for word in getattr(layout.pair_words, pair):
            here: Place = (*place, "pair_words", pair)
            if not word.strip():
                yield here, "a word for a pair must not be empty."
            elif seen.setdefault(normal_word(word), pair) != pair:
                yield here, f"'{word}' is given for {seen[normal_word(word)]} too; which is right?"


def _split(column: LayoutColumn) -> str:
    """What to do with two columns of current."""
    if column.quantity != "current":
        return ""
    return " Where one is of charge and one of discharge, declare them as 'charge current' and " + (
        "'discharge current'."
    )


def _currents(place: Place, layout: Layout) -> Iterator[tuple[Place, str]]:
    """One signed current, or those of charge and discharge, whose sign is in their names."""
    split = [at for at, c in enumerate(layout.columns) if c.quantity in _SPLIT_CURRENTS]
    if not split:
        return
    here: Place = (*place, "columns", split[0], "quantity")
    named = layout.columns[split[0]].quantity
    if any(column.quantity == "current" for column in layout.columns):
        yield here, f"'{named}' is declared beside 'current'; one of the two must go."
    if any(column.quantity == "state" for column in layout.columns):
        yield here, f"'{named}' has its sign already, so a column of states must go."
    if layout.charging_current == "negative":
        message = f"'{named}' has its sign already; leave out 'charging_current'."
        yield (*place, "charging_current"), message


def _headers(column: LayoutColumn) -> list[str]:
    """All headers of a column."""
    return [column.header, *column.also]


def _unit(place: Place, column: LayoutColumn) -> Iterator[tuple[Place, str]]:
    """A unit that is known, fits the quantity and is not contradicted by the header."""
    if column.quantity == "ignored":
        return
    clock = column.quantity == "elapsed time" and normal_unit(column.unit) == CLOCK
    if normal_unit(column.unit) == CLOCK and not clock:
        yield (*place, "unit"), f"'{CLOCK}' is for elapsed time only, not for {column.quantity}."
        return
    try:
        declared = unit_of(column.quantity, column.unit)
    except UnitError as error:
        yield (*place, "unit"), f"{error}."
        return
    for header in _headers(column):
        stated = header_unit(header)
        known = known_unit(stated) if stated else None
        if known and known.kind == declared.kind and known != declared and not clock:
            yield (
                (*place, "unit"),
                f"header '{header}' says '{stated}', the unit is '{column.unit}'; which is right?",
            )


def header_unit(header: str) -> str:
    """What stands in a header where a unit would: in (), [], behind / or _; empty without."""
    matches = (pattern.search(header) for pattern in _UNITS_AT_END)
    return next((match.group(1).strip() for match in matches if match), "")


def _wide(place: Place, layout: Layout) -> Iterator[tuple[Place, str]]:
    """A wide table names both parts, each with the frequency in it."""
    given = (layout.wide_real, layout.wide_imaginary)
    for key, header in zip(("wide_real", "wide_imaginary"), given, strict=True):
        if any(given) and header.count("{frequency}") != 1:
            yield (*place, key), f"'{header}' must have {{frequency}} exactly once."
    if any(given):
        try:
            unit_of("real", layout.wide_unit)
        except UnitError as error:
            yield (*place, "wide_unit"), f"{error}."
    path = layout.frequencies_file
    if path.startswith(("/", "~")) or ".." in path.split("/"):
        message = f"'{path}' must be a path below the campaign folder, with '/'."
        yield (*place, "frequencies_file"), message
