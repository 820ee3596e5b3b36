"""Rules that hold between settings, which a single field can't state."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from trivet.errors import near_name
from trivet.rawfiles.layout.rules import broken_layout
from trivet.reasons import Pooled
from trivet.reference_checks import CHECKS
from trivet.schema.settings.anchors import anchor_problem
from trivet.schema.settings.block import Block
from trivet.schema.settings.campaign import BenchLog, BuildSheet, Campaign
from trivet.schema.settings.inference import Comparison, Lifetime
from trivet.schema.settings.raw import Raw, RawFiles
from trivet.schema.settings.science import Cycling, Electrodes, Impedance, Reference, Trust
from trivet.schema.settings.spectra import Node, circuit_problems
from trivet.schema.settings.yaml_lines import Place
from trivet.schema.sheet_columns import LOG_COLUMNS, LOG_WORDS, NUMBERS
from trivet.science.circuit.elements import ELEMENTS

FEWEST_IN_ORDER, MOST_IN_ORDER = 2, 7
"""Values that an order may have: the smallest p of a trend looks at every order of them."""
_SHARING = {"note", *NUMBERS}
"""Columns of the log that may be one in the file."""
_PLACEHOLDERS = ("cell", "part", "pair", "cycle", "any")
WORDS: dict[tuple[type, str], Collection[str]] = {(Node, "element"): ELEMENTS}
"""Words that a setting of a block may be, where their list stands in a room of its own."""
Broken = tuple[Place, str]


def broken_rules(blocks: dict[str, Any]) -> list[Broken]:
    """Every rule that the settings break, with the place of the setting to change.

    Parameters
    ----------
    blocks : dict of str to Block
        The blocks that are right by themselves; a rule between blocks needs all of them.
    """
    rules = (
        (_campaign, ("campaign",)),
        (_raw, ("raw",)),
        (_one_source, ("raw", "lifetime")),
        (_cycling, ("cycling",)),
        (_reference, ("reference",)),
        (_anchor, ("reference", "electrodes")),
        (_trust, ("trust",)),
        (_impedance, ("impedance",)),
        (_factors, ("comparison", "build_sheet")),
        (_earlier, ("comparison",)),
        (_sheets, ("build_sheet", "bench_log")),
    )
    broken: list[Broken] = []
    for rule, needed in rules:
        if all(name in blocks for name in needed):
            broken += rule(*(blocks[name] for name in needed))
    return broken


def _campaign(campaign: Campaign) -> Iterator[Broken]:
    """Time zone and dates."""
    if not zone_exists(campaign.time_zone):
        yield (
            ("campaign", "time_zone"),
            (f"'{campaign.time_zone}' is no time zone; use an IANA name such as 'Europe/Berlin'."),
        )
    for key in ("data_cut", "planned_end"):
        value = getattr(campaign, key)
        if value is not None and not _is_iso(value):
            yield (
                ("campaign", key),
                (f"'{value}' is no date; write it as 2026-05-15 or 2026-05-15T18:00."),
            )


def _raw(raw: Raw) -> Iterator[Broken]:
    """Patterns and the layouts they name."""
    for content, entries in raw.by_content.items():
        for position, entry in enumerate(entries):
            place: Place = ("raw", content, position)
            yield from _pattern((*place, "files"), entry.files, names_cell=_names_cell(raw, entry))
            if entry.layout != "bdf" and entry.layout not in raw.layouts:
                hint = near_name(entry.layout, [*raw.layouts, "bdf"])
                yield (*place, "layout"), f"layout '{entry.layout}' is not defined. {hint}"
    for name, layout in raw.layouts.items():
        place = ("raw", "layouts", name)
        if name == "bdf":
            yield place, "'bdf' names the built-in layout; choose another name."
        if layout.time_zone and not zone_exists(layout.time_zone):
            yield (*place, "time_zone"), f"'{layout.time_zone}' is no time zone."
        yield from broken_layout(place, layout)
        if layout.decimal == layout.delimiter:
            yield (
                (*place, "decimal"),
                (f"decimal sign and delimiter are both '{layout.decimal}'; one must differ."),
            )


def _one_source(raw: Raw, lifetime: Lifetime) -> Iterator[Broken]:
    """Lives come from raw files or from a table of lives."""
    declared = bool(raw.cycling or raw.impedance)
    if not declared and lifetime.table is None:
        yield (
            ("raw",),
            (
                "no raw files are declared; give 'cycling' or 'impedance' files, or a table of "
                "lives in 'lifetime.table'."
            ),
        )
    if declared and lifetime.table is not None:
        message = "lives come from a table or from the raw files; leave out one of the two."
        yield ("lifetime", "table"), message
    if lifetime.table is not None and _outside(lifetime.table):
        message = f"'{lifetime.table}' must be a file below the campaign folder, with '/'."
        yield ("lifetime", "table"), message


def _words(bench_log: BenchLog) -> Iterator[Broken]:
    """Own words stand for a word of ours, each for one."""
    every = [word.casefold() for words in bench_log.words.values() for word in words]
    for ours, words in bench_log.words.items():
        if ours not in LOG_WORDS:
            message = f"'{ours}' is no event, cause or reason. {near_name(ours, LOG_WORDS)}"
            yield ("bench_log", "words", ours), message
        for word in words:
            if every.count(word.casefold()) > 1:
                yield ("bench_log", "words", ours), f"'{word}' is given for several words."


def _may_share(block: str, names: Collection[str]) -> bool:
    """Whether columns may be one: numbers of the log among its remarks, each for its own events."""
    return block == "bench_log" and "note" in names and set(names) <= _SHARING


def _sheets(build_sheet: BuildSheet, bench_log: BenchLog) -> Iterator[Broken]:
    """Files that people keep lie in the campaign folder, and each column has one name."""
    for block, columns in (("build_sheet", build_sheet.columns), ("bench_log", bench_log.columns)):
        named: dict[str, list[str]] = {}
        for ours, theirs in columns.items():
            named.setdefault(str(theirs), []).append(ours)
        for ours, theirs in columns.items():
            if len(names := named[str(theirs)]) > 1 and not _may_share(block, names):
                yield (block, "columns", ours), f"column '{theirs}' is given for several names."
    for ours in bench_log.columns:
        if ours not in LOG_COLUMNS:
            hint = near_name(ours, LOG_COLUMNS)
            yield ("bench_log", "columns", ours), f"'{ours}' is no column of the log. {hint}"
    yield from _words(bench_log)
    for block, path in (("build_sheet", build_sheet.file), ("bench_log", bench_log.file)):
        if path is not None and _outside(path):
            yield (
                (block, "file"),
                f"'{path}' must be a file below the campaign folder, with '/'.",
            )


def _outside(path: str) -> bool:
    """Whether a path may lead out of the campaign folder."""
    return path.startswith(("/", "~")) or ".." in path.split("/") or "\\" in path


def _names_cell(raw: Raw, entry: RawFiles) -> bool:
    """Whether a column of the files names the cell."""
    layout = raw.layouts.get(entry.layout)
    return layout is not None and any(column.quantity == "cell" for column in layout.columns)


def _pattern(place: Place, pattern: str, *, names_cell: bool) -> Iterator[Broken]:
    """One pattern of raw files."""
    names = re.findall(r"\{([^{}]*)\}", pattern)
    for name in names:
        if name not in _PLACEHOLDERS:
            yield place, (f"'{{{name}}}' is no placeholder. {near_name(name, _PLACEHOLDERS)}")
    if names_cell and "cell" in names:
        yield place, f"'{pattern}' must not have {{cell}}, since a column names the cell."
        return
    if not names_cell and "cell" not in names:
        yield place, f"'{pattern}' must have {{cell}}."
    if _outside(pattern):
        yield place, f"'{pattern}' must be a path below the campaign folder, with '/'."


def _cycling(cycling: Cycling) -> Iterator[Broken]:
    """Voltage limits and rates."""
    yield from _below("cycling", cycling, "lower_voltage_V", "upper_voltage_V")
    yield from _below("cycling", cycling, "check_up_rate", "ageing_rate")


def _reference(reference: Reference) -> Iterator[Broken]:
    """The window of the anchor."""
    yield from _below(
        "reference", reference, "anchor_state_of_charge_from", "anchor_state_of_charge_to"
    )


def _anchor(reference: Reference, electrodes: Electrodes) -> Iterator[Broken]:
    """A known potential that these materials have."""
    problem = anchor_problem(reference, electrodes)
    if problem:
        yield ("reference", "anchor"), problem


def _trust(trust: Trust) -> Iterator[Broken]:
    """Suspect comes before lost or rejected."""
    for entry in CHECKS.values():
        if len(set(entry.limits)) == 2:
            low, high = reversed(entry.limits) if entry.falls else entry.limits
            yield from _below("trust", trust, low, high)
    for quantity in ("kk", "additivity", "repeat"):
        yield from _below(
            "trust", trust, f"{quantity}_suspect_percent", f"{quantity}_rejected_percent"
        )
    for quantity in ("sweep_change", "amplitude"):
        yield from _below("trust", trust, f"{quantity}_suspect_mV", f"{quantity}_rejected_mV")
    yield from _below("trust", trust, "offset_lost_mV", "no_lithium_mV")


def _impedance(impedance: Impedance) -> Iterator[Broken]:
    """Models are whole, the window is open, stated frequencies are frequencies."""
    yield from _below("impedance", impedance, "lowest_frequency_Hz", "highest_frequency_Hz")
    for name in ("positive_model", "negative_model", "cell_model"):
        if (model := getattr(impedance, name)) is not None:
            yield from circuit_problems(model, ("impedance", name), ELEMENTS)
    for position, frequency in enumerate(impedance.modulus_frequencies_Hz):
        if not frequency > 0:
            place = ("impedance", "modulus_frequencies_Hz", position)
            yield place, f"{frequency:g} is no frequency; it must be above 0 Hz."


def _below(name: str, block: Block, low: str, high: str) -> Iterator[Broken]:
    """One setting of a block must be below another."""
    low_value, high_value = getattr(block, low), getattr(block, high)
    if not low_value < high_value:
        yield (
            (name, low),
            f"'{name}.{low}' is {low_value:g}; it must be below '{high}' ({high_value:g}).",
        )


def _factors(comparison: Comparison, build_sheet: BuildSheet) -> Iterator[Broken]:
    """Factors that are compared are factors of the build sheet, each once."""
    seen: set[str] = set()
    for position, factor in enumerate(comparison.factors):
        place = ("comparison", "factors", position, "factor")
        if factor.factor not in build_sheet.factors:
            hint = near_name(factor.factor, build_sheet.factors)
            yield place, f"'{factor.factor}' is not among 'build_sheet.factors'. {hint}"
        if factor.factor in seen:
            yield place, f"factor '{factor.factor}' is compared twice."
        seen.add(factor.factor)
    for name, levels in comparison.ordered.items():
        order = ("comparison", "ordered", name)
        if name not in seen:
            yield (
                order,
                f"'{name}' is not among 'comparison.factors'. {near_name(name, sorted(seen))}",
            )
        if len(set(levels)) < len(levels) or not FEWEST_IN_ORDER <= len(levels) <= MOST_IN_ORDER:
            yield (
                order,
                f"the order of '{name}' must name {FEWEST_IN_ORDER} to {MOST_IN_ORDER} values, "
                "each once.",
            )


def _earlier(comparison: Comparison) -> Iterator[Broken]:
    """Each earlier campaign has a name of its own and one source, below the campaign folder."""
    names: set[str] = set()
    paths: set[str] = set()
    for position, one in enumerate(comparison.earlier):
        place = ("comparison", "earlier", position)
        if one.name in list(Pooled):
            yield (*place, "name"), f"'{one.name}' has a meaning in the table; take another name."
        if one.name in names:
            yield (*place, "name"), f"two earlier campaigns are called '{one.name}'."
        names.add(one.name)
        given = [path for path in (one.table, one.archive) if path is not None]
        if len(given) != 1:
            yield (*place, "name"), f"give '{one.name}' either a 'table' or an 'archive'."
        for path in given:
            key = "table" if path == one.table else "archive"
            if _outside(path):
                yield (*place, key), f"'{path}' must lie below the campaign folder, with '/'."
            if path in paths:
                yield (*place, key), f"'{path}' is given twice; its cells would count twice."
            paths.add(path)


def zone_exists(name: str) -> bool:
    """Whether a time zone of this IANA name is known."""
    try:
        ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        return False
    return True


def _is_iso(text: str) -> bool:
    """Whether text is a date or time in ISO 8601."""
    try:
        datetime.fromisoformat(text)
    except ValueError:
        return False
    return True
