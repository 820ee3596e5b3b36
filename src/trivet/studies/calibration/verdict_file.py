"""Verdicts of a run in a file: a line a campaign, so that two rules can be laid side by side."""

from __future__ import annotations

import csv
from collections.abc import Mapping
from pathlib import Path

from trivet.studies.calibration.rates import Verdicts

Key = tuple[str, int, int]
"""Name of the part, place of the row, place of the ratio."""
COLUMNS = ("part", "place", "turn", "campaign", "verdicts")
BETWEEN = "+"


def write_verdicts(path: Path, found: Mapping[Key, Verdicts]) -> None:
    """Write the verdicts that every campaign came to.

    Parameters
    ----------
    path : Path
        Where to.
    found : mapping
        Verdicts by row and ratio.
    """
    with path.open("w", encoding="utf-8", newline="") as file:
        lines = csv.writer(file, lineterminator="\n")
        lines.writerow(COLUMNS)
        for key, verdicts in found.items():
            for number, words in enumerate(verdicts.words):
                lines.writerow((*key, number, BETWEEN.join(sorted(words))))


def read_verdicts(path: Path) -> dict[Key, Verdicts]:
    """Read what `write_verdicts` wrote.

    Parameters
    ----------
    path : Path
        The file.
    """
    found: dict[Key, Verdicts] = {}
    with path.open(encoding="utf-8", newline="") as file:
        for row in csv.DictReader(file):
            key = row["part"], int(row["place"]), int(row["turn"])
            found.setdefault(key, Verdicts()).words.append(set(row["verdicts"].split(BETWEEN)))
    return found
