"""`trivet explain`: meaning, unit and origin of a column, a setting or a word of the report."""

from __future__ import annotations

import textwrap
import typing
from collections.abc import Iterator
from functools import cache

from pydantic import BaseModel

from trivet.campaign.settings_rules import WORDS
from trivet.errors import InputError, Problem, if_near
from trivet.reasons import STATED_REASONS
from trivet.schema.cell_facts import FAILURE_CAUSES, LOG_EVENTS
from trivet.schema.glossary import GLOSSARY
from trivet.schema.settings.block import is_block, marks_of, without_none
from trivet.schema.settings.campaign import Settings
from trivet.schema.sheet_columns import LOG_COLUMNS, SHEET_COLUMNS
from trivet.schema.tables.dictionary import TABLES

_WIDTH = 98


def explain(word: str) -> str:
    """Say everything that is known of a word.

    Parameters
    ----------
    word : str
        A column (`retention` or `cycles.retention`), a table, a setting by its path or the last
        part of it, or a word of the report.

    Raises
    ------
    InputError
        Nothing bears that name; near ones are offered.
    """
    wanted = word.strip()
    all_entries = _known()
    entries = [text for name, text in all_entries if wanted in (name, name.rpartition(".")[2])]
    if not entries:
        known = {part for name, _ in all_entries for part in (name, name.rpartition(".")[2])}
        message = "is no column, table, setting or word of the report."
        raise InputError([Problem(f"'{wanted}'", message, hint=if_near(wanted, sorted(known)))])
    return "\n\n".join(entries)


@cache
def _known() -> tuple[tuple[str, str], ...]:
    """Every name with what is to be said of it, made once."""
    return tuple(_entries())


def _entries() -> Iterator[tuple[str, str]]:
    """Every name with what is to be said of it."""
    for name, word in GLOSSARY.items():
        yield name, _entry(f"{name} ({word.kind})", word.meaning)
    for table in TABLES.values():
        columns = ", ".join(table.names)
        yield table.name, _entry(f"{table.name} (table)", f"One row is {table.row}.", columns)
        for column in table.columns:
            unit = f"[{column.unit}] " if column.unit not in ("", "1") else ""
            yield (
                f"{table.name}.{column.name}",
                _entry(
                    f"{column.name} {unit}(column of {table.name}, {column.type})",
                    column.meaning,
                    f"from {column.computed_by}",
                ),
            )
    for kept, meanings in (("build sheet", SHEET_COLUMNS), ("bench log", LOG_COLUMNS)):
        for name, meaning in meanings.items():
            yield f"{kept}.{name}", _entry(f"{name} (column of the {kept})", meaning)
    for kind, words in (("an event", LOG_EVENTS), ("a cause of an end", FAILURE_CAUSES),
                        ("a reason of a stop", STATED_REASONS)):  # fmt: skip
        for one in words:
            yield one, _entry(f"{one} ({kind}, as the bench log has it)",
                               "One of: " + ", ".join(words) + ".")  # fmt: skip
    yield from _settings(Settings, "")


def _settings(
    model: type[BaseModel], path: str, above: tuple[type[BaseModel], ...] = ()
) -> Iterator[tuple[str, str]]:
    """Every setting below a block; a block that holds blocks of its own kind is told once."""
    for name, field in model.model_fields.items():
        here = f"{path}{name}"
        annotation = without_none(field.annotation)
        extra = marks_of(field)
        unit = f"[{extra['unit']}] " if extra.get("unit") else ""
        notes = []
        if typing.get_origin(annotation) is typing.Literal:
            notes.append("one of: " + ", ".join(map(str, typing.get_args(annotation))))
        elif words := WORDS.get((model, name)):
            notes.append("one of: " + ", ".join(words))
        blocks = [one for one in (annotation, *typing.get_args(annotation)) if is_block(one)]
        if field.is_required():
            notes.append("without default: you decide")
        elif not blocks:
            notes.append(f"default: {field.default}")
        yield here, _entry(f"{here} {unit}(setting)", field.description or "", *notes)
        for block in blocks:
            if block not in (*above, model):
                yield from _settings(block, f"{here}.", (*above, model))


def _entry(head: str, *lines: str) -> str:
    """Head, and indented lines below it."""
    pad = "  "
    said = [textwrap.fill(line, _WIDTH, initial_indent=pad, subsequent_indent=pad)
            for line in lines if line]  # fmt: skip
    return "\n".join([head, *said])
