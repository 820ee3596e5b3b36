"""`trivet new FOLDER --from RAW`: a campaign begun from the files that are there already."""

from __future__ import annotations

import json
import re
import shutil
import textwrap
import typing
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from trivet.campaign.paths import SETTINGS_FILE
from trivet.campaign.proposal.people_tables import PeoplesTable, peoples_table
from trivet.cli.new import bench_log_text, written
from trivet.cli.sheet_lines import FACTOR, factor_settings, log_settings, sheet_settings
from trivet.cli.yaml_text import WIDTH, list_in_yaml, text_in_yaml, wrapped
from trivet.errors import InputError, Problem, printable
from trivet.rawfiles.proposal.groups import FileGroup, group_files
from trivet.rawfiles.proposal.names import NamePattern, name_patterns, squeezed
from trivet.rawfiles.proposal.propose import BY_DIFFERENCE, SIGN_KEYS
from trivet.rawfiles.time.elapsed import NO_DATE
from trivet.schema.settings.block import DECIDE
from trivet.schema.settings.raw import Layout
from trivet.schema.settings.science import Electrode
from trivet.schema.sheet_columns import SHEET_COLUMNS

_NAMED = 3
_LEFT_NAMED = 20
_MATERIALS = typing.get_args(Electrode.model_fields["material"].annotation)


@dataclass(frozen=True)
class _Entry:
    """A group of files with the patterns of its names, and its file of frequencies."""

    group: FileGroup
    patterns: tuple[NamePattern, ...]
    frequencies: str


@dataclass(frozen=True)
class _Tables:
    """Build sheet and bench log that were found among the files; None where there is none."""

    sheet: PeoplesTable | None
    log: PeoplesTable | None

    @property
    def paths(self) -> list[Path]:
        """Their files."""
        return [table.path for table in (self.sheet, self.log) if table is not None]


def new_from(folder: Path, raw: Path) -> str:
    """Write a campaign folder from a folder of exports; nothing that exists is touched.

    Parameters
    ----------
    folder : Path
        Folder to make, or one without a campaign.
    raw : Path
        Folder of exports; its files are copied into `raw` of the campaign, unless they lie below
        it already.

    Returns
    -------
    str
        What was found and what is to be decided, for the terminal.

    Raises
    ------
    InputError
        There is no file that could be understood, a file of the campaign exists already, or the
        folder can't be written.
    """
    if not raw.is_dir():
        raise InputError([Problem(str(raw), "is no folder.")])
    paths = sorted(path for path in raw.rglob("*") if path.is_file() and path.name[0] != ".")
    groups, left = group_files(paths)
    tables = _kept_by_people(groups, left)
    groups = [one for one in groups if not set(one.files) <= set(tables.paths)]
    if any(path in one.files for path in tables.paths for one in groups):
        # laid out as raw files are, so these have to be understood without it
        groups, left = group_files([path for path in paths if path not in tables.paths])
    left = {path: why for path, why in left.items() if path not in tables.paths}
    if not groups:
        shown = [Problem(str(path), f"{why}.") for path, why in list(left.items())[:_NAMED]]
        raise InputError([Problem(str(raw), "holds no file that is a table of numbers."), *shown])
    inside = raw.resolve().is_relative_to(folder.resolve())
    start = raw.resolve().relative_to(folder.resolve()) if inside else Path("raw")
    names = [[(start / path.relative_to(raw)).as_posix() for path in one.files] for one in groups]
    found = name_patterns(
        [(group.proposal.content == "impedance", own)
         for group, own in zip(groups, names, strict=True)]
    )  # fmt: skip
    entries = [
        _Entry(one, tuple(own), _frequencies(one, raw, start))
        for one, own in zip(groups, found, strict=True)
    ]
    cells = _cells(entries)
    files = {SETTINGS_FILE: "\n".join([*_settings(folder, entries, cells, tables), ""])}
    if tables.sheet is None:
        files["build-sheet.csv"] = _sheet(cells, _undated(entries))
    if tables.log is None:
        files["bench-log.csv"] = bench_log_text()
    written(folder, files)
    for path in tables.paths:
        shutil.copy2(path, folder / path.name)
    if not inside:
        _copy(folder, raw, [p for p in paths if p not in left and p not in tables.paths])
    told = _told(folder, entries, cells, left, copied=not inside)
    return "\n".join([*told, *_next(folder, tables)])


def _kept_by_people(groups: Sequence[FileGroup], left: Mapping[Path, str]) -> _Tables:
    """Build sheet and bench log among the files; of each kind the first."""
    patterns = name_patterns(
        [(group.proposal.content == "impedance", [path.as_posix() for path in group.files])
         for group in groups]
    )  # fmt: skip
    cells = {cell for group in groups for cell in group.cells}
    cells |= {cell for of_group in patterns for pattern in of_group for cell in pattern.cells}
    found: dict[bool, PeoplesTable] = {}
    for path in sorted({*left, *(path for one in groups for path in one.files)}):
        table = peoples_table(path, cells)
        if table is not None:
            found.setdefault(table.sheet, table)
        if len(found) == len(("sheet", "log")):
            break
    return _Tables(found.get(True), found.get(False))


def _frequencies(group: FileGroup, raw: Path, start: Path) -> str:
    """Path of the file with exact frequencies below the campaign; empty without."""
    layout = group.proposal.layout
    if layout is None or not layout.frequencies_file:
        return ""
    path = group.proposal.path.parent / layout.frequencies_file
    return (start / path.relative_to(raw)).as_posix()


def _cells(entries: Sequence[_Entry]) -> list[str]:
    """Cells that names of files and columns name, in order; those of cycling where there are any.

    A word that names no cell of cycling is more likely a slip than a cell.
    """
    by_content: dict[bool, set[str]] = {}
    for entry in entries:
        found = by_content.setdefault(entry.group.proposal.content == "cycling", set())
        found |= set(entry.group.cells)
        found |= set() if entry.group.cells else {c for one in entry.patterns for c in one.cells}
    return sorted(by_content.get(True) or by_content.get(False, set()), key=_natural)


def _natural(text: str) -> list[tuple[int, str]]:
    """Key that puts 9 before 10."""
    return [(int(piece) if piece.isdecimal() else -1, piece)
            for piece in re.findall("[0-9]+|[^0-9]+", text)]  # fmt: skip


def _copy(folder: Path, raw: Path, paths: Sequence[Path]) -> None:
    """Copy files into the campaign, with their times."""
    for path in paths:
        target = folder / "raw" / path.relative_to(raw)
        target.parent.mkdir(parents=True, exist_ok=True)
        if not target.exists():
            shutil.copy2(path, target)


def _settings(
    folder: Path, entries: Sequence[_Entry], cells: Sequence[str], tables: _Tables
) -> Iterator[str]:
    """Lines of the settings: what a run needs, and what only a person can decide."""
    name = re.sub(r"[^a-z0-9]+", "-", folder.resolve().name.casefold()).strip("-") or "campaign"
    lower, upper = _limits(entries)
    yield "# Lines with 'decide' wait for you; 'trivet check' names each that is left."
    yield f"campaign: {{id: {json.dumps(name)}, title: {text_in_yaml(name)},"
    yield "  question: Which variant lives longer,  # decide: your question"
    yield "  time_zone: UTC}  # decide: the zone of times of day, as Europe/Berlin"
    yield from sheet_settings(tables.sheet)
    yield from log_settings(tables.log)
    yield "electrodes: {positive: {material: decide},"
    yield f"  negative: {{material: decide}}}}  # {', '.join(_MATERIALS)}"
    yield "cycling:"
    yield "  capacity_basis_mAh: decide"
    yield "  ageing_rate: decide  # rate of the ageing cycles [1/h]"
    yield f"  upper_voltage_V: decide  # {upper}"
    yield f"  lower_voltage_V: decide  # {lower}"
    yield from factor_settings(tables.sheet)
    yield "raw:"
    for content in ("cycling", "impedance"):
        chosen = [entry for entry in entries if entry.group.proposal.content == content]
        if chosen:
            yield f"  {content}:"
            yield from _files(chosen, cells)
    layouts = {entry.group.proposal.name: entry for entry in entries
               if entry.group.proposal.layout is not None}  # fmt: skip
    if layouts:
        yield "  layouts:"
        for entry in layouts.values():
            yield from _layout(entry)


def _files(entries: Sequence[_Entry], cells: Sequence[str]) -> Iterator[str]:
    """Patterns of one content; those that two layouts share are to be told apart by a person."""
    taken = set[str]()
    for entry in entries:
        proposal = entry.group.proposal
        layout = proposal.layout
        paired = layout is not None and any(c.quantity == "pair" for c in layout.columns)
        if not entry.patterns:
            first = entry.group.files[0].name
            yield f"    # decide: no pattern found for the {proposal.name} files, such as {first}"
        for pattern in entry.patterns:
            if pattern.files in taken:
                yield "    # decide: the same names, laid out otherwise: part them by folder"
            taken.add(pattern.files)
            yield from _doubts(pattern, cells)
            pair = pattern.pair.replace("?", DECIDE)
            if proposal.content == "impedance" and not paired and "{pair}" not in pattern.files:
                pair = pair or DECIDE
            else:
                pair = ""
            more = f", pair: {pair}" if pair else ""
            yield f"    - {{files: {text_in_yaml(pattern.files)}, layout: {proposal.name}{more}}}"


def _doubts(pattern: NamePattern, cells: Sequence[str]) -> Iterator[str]:
    """What a person must decide of the cells that names name."""
    if pattern.other_files:
        ours, others = _few(pattern.cells), _few(pattern.other_cells)
        yield f"    # decide: cells {ours} as below, or {others} by"
        yield f"    #   {{files: {text_in_yaml(pattern.other_files)}}}"
    plain = {squeezed(cell): cell for cell in cells}
    for name in pattern.cells:
        meant = plain.get(squeezed(name), name)
        if name not in cells and meant != name:
            said = printable(f"'{name}' here is '{meant}' elsewhere")
            yield f"    # decide: {said}: one name for one cell"


def _few(names: Sequence[str]) -> str:
    """The first of many names."""
    shown = printable(", ".join(names[:_NAMED]))
    return shown if len(names) <= _NAMED else f"{shown} ..."


def _layout(entry: _Entry) -> Iterator[str]:
    """Lines of a layout: what is not the default, and the columns."""
    proposal = entry.group.proposal
    layout = proposal.layout
    assert layout is not None
    for question in proposal.questions:
        yield f"    # decide: {question}"
    if BY_DIFFERENCE in proposal.evidence:
        yield f"    # which electrode is which: {proposal.evidence[BY_DIFFERENCE]}"
    sign = SIGN_KEYS[proposal.content]
    given = {
        name: value
        for name, value in layout.model_dump().items()
        if isinstance(value, str | int) and value != Layout.model_fields[name].default
    }
    given[sign] = getattr(layout, sign) if sign in proposal.evidence else DECIDE
    if entry.frequencies:
        given["frequencies_file"] = entry.frequencies
    items = [f"{name}: {text_in_yaml(value) if isinstance(value, str) else json.dumps(value)}"
             for name, value in given.items()]  # fmt: skip
    if words := {pair: given for pair, given in layout.pair_words.model_dump().items() if given}:
        items.append("pair_words: " + _flow(words))
    columns = [_column(column.model_dump()) for column in layout.columns]
    yield from wrapped(
        f"    {proposal.name}: {{", [*items, f"columns: [{columns[0]}", *columns[1:]], "]}"
    )


def _flow(lists: Mapping[str, Sequence[str]]) -> str:
    """Lists of words by name, on one line."""
    parts = (f"{name}: {list_in_yaml(words)}" for name, words in lists.items())
    return f"{{{', '.join(parts)}}}"


def _column(column: Mapping[str, object]) -> str:
    """A column of a layout."""
    parts = [f"{name}: {text_in_yaml(value)}" for name, value in column.items()
             if isinstance(value, str) and value]  # fmt: skip
    return f"{{{', '.join(parts)}}}"


def _limits(entries: Sequence[_Entry]) -> tuple[str, str]:
    """How far the files looked at are discharged and charged, in words."""
    low, high = [], []
    for rows in (entry.group.proposal.rows for entry in entries):
        if len(rows.get("cell_V", ())):
            voltage, current = rows["cell_V"], rows["current_mA"]
            low += voltage[(current < 0) & np.isfinite(voltage)].tolist()
            high += voltage[(current > 0) & np.isfinite(voltage)].tolist()
    lower = f"the files looked at are discharged to {min(low):.4g} V" if low else "[V]"
    upper = f"the files looked at are charged to {max(high):.4g} V" if high else "[V]"
    return lower, upper


def _undated(entries: Sequence[_Entry]) -> list[str]:
    """Cells whose cycling files have an elapsed time only."""
    found = set[str]()
    for entry in entries:
        proposal = entry.group.proposal
        if proposal.content == "cycling" and any(f.check == NO_DATE for f in proposal.findings):
            found |= {cell for pattern in entry.patterns for cell in pattern.cells}
    return sorted(found, key=_natural)


def _sheet(cells: Sequence[str], undated: Sequence[str]) -> str:
    """A build sheet with a row a cell, and which cells need the start of their cycling."""
    rows = "".join(f"{cell},,,\n" for cell in cells)
    started = (
        f"# Files of {_few(undated)} hold no date: add a column 'cycling_started_at' for them.\n"
        if undated
        else ""
    )
    others = textwrap.fill(
        ", ".join(name for name in SHEET_COLUMNS if name not in ("cell", "batch", "crimped_at")),
        WIDTH, initial_indent="#   ", subsequent_indent="#   ",
    )  # fmt: skip
    return (
        "# Cells as found in names of files. Fill in batch, variant and when each was crimped;\n"
        "# add cells without files, your own columns, and of these what you know\n"
        "# ('trivet explain NAME' says what each is):\n"
        f"{others}\n{started}"
        f"cell,batch,{FACTOR},crimped_at\n{rows}"
    )


def _told(
    folder: Path,
    entries: Sequence[_Entry],
    cells: Sequence[str],
    left: dict[Path, str],
    *,
    copied: bool,
) -> Iterator[str]:
    """What was found, and what is next."""
    yield f"{folder} is begun:"
    for entry in entries:
        proposal, files = entry.group.proposal, len(entry.group.files)
        where = ", ".join(f"'{one.files}'" for one in entry.patterns) or "no pattern found"
        yield f"  {files} {proposal.content} files by layout {proposal.name}: {where}"
        open_ones = [one for one in entry.patterns if any(_doubts(one, cells))]
        if open_ones:
            named = ", ".join(f"'{one.files}'" for one in open_ones)
            yield f"    which cells these are is to be decided: {named}"
    yield f"  {len(cells)} cells: {', '.join(cells)}"
    if undated := _undated(entries):
        yield f"  no date in the files of {_few(undated)}: column 'cycling_started_at' places them"
    for path, why in list(left.items())[:_LEFT_NAMED]:
        yield f"  left out: {path}: {why}"
    if len(left) > _LEFT_NAMED:
        yield f"  left out: {len(left) - _LEFT_NAMED} more files"
    if copied:
        yield f"  the files were copied to {folder / 'raw'}, untouched"


def _next(folder: Path, tables: _Tables) -> Iterator[str]:
    """What was taken for build sheet and bench log, and what is to be done."""
    for what, table in (("build sheet", tables.sheet), ("bench log", tables.log)):
        if table is not None:
            yield f"  {what}: {table.path.name}, copied to {folder}; see which columns were taken"
    fill = "" if tables.sheet is not None else ", fill in 'build-sheet.csv'"
    yield f"Next: decide what '{SETTINGS_FILE}' marks{fill}, then"
    yield f"  trivet check {folder}"
