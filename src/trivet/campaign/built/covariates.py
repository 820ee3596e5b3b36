"""Covariates: numbers of the build sheet, minutes between two of its times, mass lost, by cell."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any
from zoneinfo import ZoneInfo

from trivet.campaign.built.weighings import MASS_LOST, mass_lost_of
from trivet.campaign.typed_values import number_of, time_s
from trivet.errors import near_name
from trivet.schema.cell_facts import CellFacts

SPAN = " to "
"""Between two columns of times in the setting."""
_UNIT = re.compile(r"_(mg|mm|um|uL|cm2|mAh|ohm|min|h|d|Cel|percent)$")
_UCUM = {"mAh": "mA.h", "ohm": "Ohm", "percent": "%"}
_MINUTE_S = 60.0


@dataclass(frozen=True)
class Covariate:
    """A number of each cell.

    Attributes
    ----------
    name : str
        As the settings name it.
    columns : tuple of str
        Column of the table of cells, or the two columns of times.
    """

    name: str
    columns: tuple[str, ...]

    @property
    def unit(self) -> str:
        """Unit in UCUM spelling: minutes, what the column's name ends in, or empty."""
        if len(self.columns) > 1:
            return "min"
        if self.name == MASS_LOST:
            return "mg/d"
        found = _UNIT.search(self.name)
        return _UCUM.get(found[1], found[1]) if found else ""


def covariate_of(name: str) -> Covariate:
    """Covariate that a setting names: `electrolyte_uL`, or `wetted_at to crimped_at`.

    Parameters
    ----------
    name : str
        Column of the sheet, or two columns of times with ' to ' between them.
    """
    parts = tuple(part.strip() for part in name.split(SPAN))
    return Covariate(name, parts if len(parts) == len(("from", "to")) else (name,))


def value_of(covariate: Covariate, row: Mapping[str, Any], zone: ZoneInfo) -> float:
    """Number of one cell; NaN where the sheet does not say.

    Parameters
    ----------
    covariate : Covariate
        What is asked for.
    row : mapping of str to object
        Its row of the build sheet or of the table of cells; None where a number is missing.
    zone : ZoneInfo
        Zone of times written by people.

    Raises
    ------
    ValueError
        The sheet says something that is no number or no time; the message is what it says.
    """
    texts = ["" if row.get(column) is None else str(row[column]) for column in covariate.columns]
    if not all(texts):
        return math.nan
    if len(texts) > 1:
        first, last = (time_s(text, zone) for text in texts)
        if first is None or last is None:
            raise ValueError(texts[0] if first is None else texts[1])
        return (last - first) / _MINUTE_S
    value = number_of(texts[0])
    if value is None:
        raise ValueError(texts[0])
    return value


def covariate_problems(
    names: Sequence[str], cells: Sequence[CellFacts], zone: ZoneInfo
) -> Iterator[tuple[int, str]]:
    """What is wrong with the covariates that the settings name.

    Parameters
    ----------
    names : sequence of str
        Setting `comparison.covariates`.
    cells : sequence of CellFacts
        All cells of the build sheet.
    zone : ZoneInfo
        Zone of times written by people.

    Yields
    ------
    tuple of int and str
        Place in the setting, and what is wrong.
    """
    if not cells:
        return
    weighed = any(mass_lost_of(facts, None) is not None for facts in cells)
    columns = [*cells[0].values, MASS_LOST]
    for place, name in enumerate(names):
        covariate = covariate_of(name)
        unknown = [column for column in covariate.columns if column not in columns]
        if unknown:
            hint = near_name(unknown[0], columns)
            yield place, f"the build sheet has no column '{unknown[0]}'. {hint}"
            continue
        if name in names[:place]:
            yield place, f"'{name}' is named twice."
        if name == MASS_LOST and not weighed:
            yield place, f"'{name}' needs two weighings of a cell in the bench log; none has two."
        for facts in cells:
            try:
                value_of(covariate, facts.values, zone)
            except ValueError as error:
                what = "time" if len(covariate.columns) > 1 else "number"
                yield place, f"'{name}' of cell '{facts.cell}' is '{error}', no {what}."
