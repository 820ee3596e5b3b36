"""Which raw files belong to a cell, by patterns with {cell}, {part}, {pair}, {cycle} and {any}."""

from __future__ import annotations

import os
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import chain
from pathlib import Path

from trivet.rawfiles.layout.file_names import Ids, Pattern, owners
from trivet.rawfiles.layout.pair_words import meant_pair, own_words
from trivet.schema.settings.raw import Raw


@dataclass(frozen=True)
class RawFile:
    """One raw file of a cell and what its name says.

    Attributes
    ----------
    path : Path
        Where it is.
    relative : str
        Path below the campaign folder, with `/`.
    content : str
        `cycling`, `impedance` or `plating`.
    layout : str
        Name of the layout it is read with.
    part : str
        Its {part}, as text; empty without one.
    pair : str
        `cell`, `positive` or `negative` from its name or its pattern; empty without one.
    cycle : int or None
        Its {cycle}.
    also : str
        Another pattern that matches the file and would read it differently; empty without one.
    folder : Path
        The campaign folder.
    """

    path: Path
    relative: str
    content: str
    layout: str
    part: str = ""
    pair: str = ""
    cycle: int | None = None
    also: str = ""
    folder: Path = Path()

    @property
    def order(self) -> tuple[object, ...]:
        """Key that orders files by cycle, part and name, numbers in them as numbers."""
        cycle = -1 if self.cycle is None else self.cycle
        return (cycle, natural_key(self.part), natural_key(self.relative))


def natural_key(text: str) -> tuple[tuple[int, int, str], ...]:
    """Key that puts `part9` before `part10`."""
    pieces = re.findall(r"[0-9]+|[^0-9]+", text)
    return tuple(
        (0, int(piece), piece) if piece[0] in "0123456789" else (1, 0, piece) for piece in pieces
    )


def find_files(
    campaign_folder: Path, raw: Raw, cell: str, *, other_cells: Sequence[str] = ()
) -> list[RawFile]:
    """Raw files of a cell that exist, in an order that depends on their names only.

    Parameters
    ----------
    campaign_folder : Path
        Folder that the patterns start from.
    raw : Raw
        Patterns and layouts.
    cell : str
        Id of the cell.
    other_cells : sequence of str
        Ids of the campaign. Where a pattern matches a file for several ids (`A` with part `12`,
        `A1` with part `2`), the file belongs to the longest id.
    """
    return match_files(
        candidate_files(campaign_folder, raw),
        campaign_folder=campaign_folder,
        raw=raw,
        cell=cell,
        other_cells=other_cells,
    )


def candidate_files(campaign_folder: Path, raw: Raw) -> list[Path]:
    """Files below the folders that the patterns start from: listed once for all cells."""
    below: list[str] = []
    entries = chain(*raw.by_content.values())
    for start in sorted({_fixed_folder(entry.files) for entry in entries}):
        below += _walk(campaign_folder, start)
    return [campaign_folder / relative for relative in below]


def raw_folders_files(campaign_folder: Path, raw: Raw) -> list[Path]:
    """Files below the outermost folders that patterns start from, those of no pattern too."""
    entries = chain(*raw.by_content.values())
    below: list[str] = []
    for start in sorted({_fixed_folder(entry.files).partition("/")[0] for entry in entries}):
        below += _walk(campaign_folder, start)
    named = {layout.frequencies_file for layout in raw.layouts.values()}
    return [campaign_folder / relative for relative in below if relative not in named]


def match_files(
    paths: Iterable[Path],
    *,
    campaign_folder: Path,
    raw: Raw,
    cell: str,
    other_cells: Sequence[str] = (),
) -> list[RawFile]:
    """Those of the given files that belong to a cell; each once, whatever patterns overlap.

    Parameters
    ----------
    paths : iterable of Path
        Absolute, or relative to the working directory, or relative to the campaign folder.
    campaign_folder, raw, cell, other_cells
        As in `find_files`.
    """
    return match_cells(paths, campaign_folder=campaign_folder, raw=raw, cells=(cell, *other_cells))[
        cell
    ]


def match_cells(
    paths: Iterable[Path], *, campaign_folder: Path, raw: Raw, cells: Sequence[str]
) -> dict[str, list[RawFile]]:
    """Files of every cell, each path looked at once however many cells there are.

    Parameters
    ----------
    paths, campaign_folder, raw
        As in `match_files`.
    cells : sequence of str
        Ids of the campaign.

    Returns
    -------
    dict of str to list of RawFile
        By cell, in the order in which they are read.
    """
    patterns = [
        Pattern(content, entry, own_words(raw.layouts.get(entry.layout)))
        for content, entries in raw.by_content.items()
        for entry in entries
    ]
    ids = Ids(cells)
    found: dict[str, dict[str, RawFile]] = {cell: {} for cell in cells}
    for path in paths:
        relative = _relative(path, campaign_folder)
        for cell, matches in owners(relative, patterns, ids).items():
            if relative not in found[cell]:
                file = _raw_file(campaign_folder / relative, relative, matches)
                found[cell][relative] = replace(file, folder=campaign_folder)
    return {
        cell: sorted(files.values(), key=lambda file: (file.content, file.order))
        for cell, files in found.items()
    }


def _raw_file(
    path: Path, relative: str, matches: Sequence[tuple[Pattern, re.Match[str]]]
) -> RawFile:
    """One file from the first pattern that matches it."""
    first, match = matches[0]
    named = match.groupdict()
    differing = [other.files for other, _ in matches[1:] if other.reading != first.reading]
    return RawFile(
        path=path,
        relative=relative,
        content=first.content,
        layout=first.layout,
        part=named.get("part") or "",
        pair=meant_pair(named["pair"], first.pair_words) if named.get("pair") else first.pair,
        cycle=int(named["cycle"]) if named.get("cycle") else None,
        also=differing[0] if differing else "",
    )


def _relative(path: Path, campaign_folder: Path) -> str:
    """Path below the campaign folder; the path itself where it is given that way already."""
    text = path.as_posix()
    if campaign_folder != Path() and text.startswith(f"{campaign_folder.as_posix()}/"):
        return text[len(campaign_folder.as_posix()) + 1 :]
    base, full = campaign_folder.absolute(), path.absolute()
    return full.relative_to(base).as_posix() if full.is_relative_to(base) else text


def _fixed_folder(pattern: str) -> str:
    """The folders of a pattern that stand before its first placeholder."""
    return "/".join(pattern.partition("{")[0].split("/")[:-1])


def _walk(campaign_folder: Path, start: str) -> list[str]:
    """Relative paths of all files below a folder, sorted; none where the folder is absent."""
    out = []
    for folder, folders, files in os.walk(campaign_folder / start):
        folders.sort()
        base = Path(folder).relative_to(campaign_folder)
        out += [(base / name).as_posix() for name in sorted(files)]
    return out


def unreachable_folders(campaign_folder: Path, raw: Raw) -> dict[str, str]:
    """Folders among the raw data that can't be looked into, each with why; links to folders too.

    Returns
    -------
    dict of str to str
        Reason by path below the campaign folder.
    """
    found: dict[str, str] = {}

    def note(error: OSError) -> None:
        """Keep the folder that could not be listed; one that is absent has no data to lose."""
        if not isinstance(error, FileNotFoundError):
            relative = Path(error.filename).relative_to(campaign_folder).as_posix()
            found[relative] = str(error.strerror)

    entries = chain(*raw.by_content.values())
    for start in sorted({_fixed_folder(entry.files) for entry in entries}):
        for folder, folders, _files in os.walk(campaign_folder / start, onerror=note):
            for name in folders:
                path = Path(folder) / name
                if path.is_symlink():
                    relative = path.relative_to(campaign_folder).as_posix()
                    found[relative] = f"it is a link to '{path.readlink()}', which is not followed"
    return found
