"""Files of a folder grouped by how they are laid out, with one proposal a group."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from trivet.rawfiles.layout.units import kind_of
from trivet.rawfiles.proposal.propose import Proposal, propose
from trivet.rawfiles.proposal.text import TextGuess, guess_text, is_number
from trivet.rawfiles.text.text_file import RawFileError

_FEWEST_NUMBERS = 2
_NO_MEASUREMENT = (
    "no column of current, voltage or impedance; if it is the build sheet or the bench log, name "
    "it in build_sheet.file or bench_log.file"
)
_TRIED = 5
"""So many files of a group are read for a proposal; that with the fewest questions is taken."""


@dataclass(frozen=True)
class FileGroup:
    """Files that are laid out alike.

    Attributes
    ----------
    proposal : Proposal
        How.
    files : tuple of Path
        The files.
    cells : tuple of str
        Cells that a column of theirs names.
    """

    proposal: Proposal
    files: tuple[Path, ...]
    cells: tuple[str, ...]


def group_files(
    paths: Sequence[Path], *, time_zone: str = "UTC"
) -> tuple[list[FileGroup], dict[Path, str]]:
    """Group files by delimiter, headers and units.

    Parameters
    ----------
    paths : sequence of Path
        Files.
    time_zone : str
        IANA zone of times of day.

    Returns
    -------
    list of FileGroup
        In the order of their first files.
    dict of Path to str
        Files that are no tables, each with why.
    """
    found: dict[tuple[object, ...], list[tuple[Path, TextGuess]]] = {}
    left: dict[Path, str] = {}
    for path in paths:
        try:
            guess = guess_text(path)
        except RawFileError as fault:
            left[path] = fault.message
        except OSError as error:
            left[path] = str(error.strerror)
        else:
            key = (guess.delimiter, guess.header, guess.unit_row, guess.units, guess.header_rows)
            found.setdefault(key, []).append((path, guess))
    groups = []
    for members in found.values():
        proposal = _best(members, paths, time_zone)
        if not _is_measured(proposal, members[0][1]):
            left |= dict.fromkeys((path for path, _ in members), _NO_MEASUREMENT)
            continue
        groups.append(
            FileGroup(proposal, tuple(path for path, _ in members), _cells(proposal, members))
        )
        left.pop(_frequencies(proposal), None)
    return groups, left


def _is_measured(proposal: Proposal, guess: TextGuess) -> bool:
    """Whether a file holds a current, a voltage or an impedance, or may: it is mostly numbers."""
    columns = [] if proposal.layout is None else proposal.layout.columns
    known = proposal.layout is None or proposal.content == "impedance"
    if known or any(kind_of(column.quantity) in ("current", "voltage") for column in columns):
        return True
    values = [guess.column(place) for place in range(len(guess.header))]
    return sum(sum(map(is_number, one)) * 2 > len(one) for one in values) >= _FEWEST_NUMBERS


def _best(
    members: Sequence[tuple[Path, TextGuess]], paths: Sequence[Path], time_zone: str
) -> Proposal:
    """Proposal of the file that leaves the fewest questions; a rarer encoding tells more."""
    ordered = sorted(members, key=lambda one: (one[1].encoding == "utf-8", members.index(one)))
    tried = []
    for path, _ in ordered[:_TRIED]:
        near = [other for other in paths if other.parent == path.parent]
        tried.append(propose(path, others=near, time_zone=time_zone))
        if not tried[-1].questions:
            break
    return min(tried, key=lambda one: len(one.questions))


def _frequencies(proposal: Proposal) -> Path:
    """File with the exact frequencies of a wide table; that of the proposal without one."""
    name = "" if proposal.layout is None else proposal.layout.frequencies_file
    return proposal.path.parent / name if name else proposal.path


def _cells(proposal: Proposal, members: Sequence[tuple[Path, TextGuess]]) -> tuple[str, ...]:
    """Cells that a column names, as far as the head and the tail of the files show."""
    columns = [] if proposal.layout is None else proposal.layout.columns
    header = next((column.header for column in columns if column.quantity == "cell"), None)
    if header is None:
        return ()
    named = {word for _, guess in members for word in guess.column(guess.header.index(header))}
    return tuple(sorted(named))
