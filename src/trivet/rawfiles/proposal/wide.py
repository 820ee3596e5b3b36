"""Tables with one spectrum a row, known by headers that differ by a number only."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Sequence
from pathlib import Path

import numpy as np

from trivet.rawfiles.proposal.words import quantity_of
from trivet.store.regular_file import read_regular

_NUMBERED = re.compile(r"^(.*?)([0-9]+\.?[0-9]*(?:[eE][+-]?[0-9]+)?)([^0-9]*)$")
_FEWEST = 5


def guess_wide(header: Sequence[str]) -> dict[str, str]:
    """Patterns of the real and imaginary parts, as settings of a layout.

    Parameters
    ----------
    header : sequence of str
        Headers of the file.

    Returns
    -------
    dict of str to str
        `wide_real`, `wide_imaginary`; empty where the file is no such table.
    """
    groups: dict[str, list[str]] = defaultdict(list)
    for cell in header:
        match = _NUMBERED.match(cell.strip())
        if match:
            groups[f"{match.group(1)}{{frequency}}{match.group(3)}"].append(match.group(2))
    large = {pattern: numbers for pattern, numbers in groups.items() if len(numbers) >= _FEWEST}
    named = {quantity_of(pattern.split("{")[0]): pattern for pattern in large}
    real, imaginary = named.get("real"), named.get("imaginary")
    if real is None or imaginary is None or large[real] != large[imaginary]:
        return {}
    return {"wide_real": real, "wide_imaginary": imaginary}


def frequencies_of(header: Sequence[str], pattern: str) -> np.ndarray:
    """Frequencies that the headers of a pattern state [Hz], shape (n_points,)."""
    before, _, behind = pattern.partition("{frequency}")
    regex = re.compile(re.escape(before) + r"([0-9.eE+-]+)" + re.escape(behind))
    matches = [regex.fullmatch(cell.strip()) for cell in header]
    return np.array([float(match.group(1)) for match in matches if match])


def holds_frequencies(path: Path, shown_Hz: np.ndarray) -> bool:
    """Whether a file holds the exact frequencies, one a line, of rounded ones in headers."""
    try:
        values = np.array([float(line) for line in read_regular(path).decode("utf-8-sig").split()])
    except (OSError, ValueError):
        return False
    if len(values) != len(shown_Hz) or not np.all(values > 0):
        return False
    return bool(np.all(np.abs(values / shown_Hz - 1) < 0.1))
