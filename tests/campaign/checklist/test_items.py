"""The reporting checklist: what is known, what is not, and what to write down."""

from __future__ import annotations

from typing import Any

import pytest

from trivet.campaign.checklist.items import checklist
from trivet.campaign.checklist.points import sheet, spread
from trivet.campaign.checklist.record import Recorded
from trivet.schema.settings.inference import Comparison, Lifetime
from trivet.schema.settings.science import Cycling, Electrodes, Reference, Trust

# Items of the union of published checklists (Sun, ACS Energy Lett. 2021, 6, 2187; Chen et al.,
# Joule 2019, 3, 1094; Li et al., J. Power Sources 2020): a word that each topic must have.
ASKED = (
    "crimp", "spring", "spacers", "lot", "foil", "disc mass", "thickness", "porosity", "salt",
    "molarity", "solvents", "additives", "volume", "water", "oxygen", "set point", "controlled",
    "formation", "cut-off", "accuracy", "amplitude", "state of charge", "licence", "excluded",
    "insulation", "plating current", "efficiency", "operator",
)  # fmt: skip


def recorded(cells: list[dict[str, Any]], **tables: list[dict[str, Any]]) -> Recorded:
    """A campaign with these cells and hardly anything else."""
    names = ("cycles", "spectra", "ledger", "lifetimes", "timeline", "plating", "cell_measures")
    return Recorded(
        tables={"cells": cells, **{name: tables.get(name, []) for name in names}},
        frequencies_Hz=(),
        campaign="c",
        licence="",
        electrodes=Electrodes.model_validate(
            {"positive": {"material": "LFP"}, "negative": {"material": "graphite"}}
        ),
        cycling=Cycling(
            capacity_basis_mAh=2.0, ageing_rate=0.5, upper_voltage_V=3.65, lower_voltage_V=2.5
        ),
        reference=Reference(),
        trust=Trust(),
        lifetime=Lifetime(),
        comparison=Comparison.model_validate({"factors": [{"factor": "seal", "control": "x"}]}),
        version="0",
    )


CELL = {"cell": "A", "included": 1, "exclusion_reason": "", "seal": "x"}


def test_nothing_is_blank() -> None:
    """Each point asked for stands in an answer, or as not recorded; the score adds up."""
    rows = checklist(recorded([CELL]))
    text = " ".join(row["answer"] for row in rows)
    assert all(word in text for word in ASKED)
    assert [row["item"] for row in rows] == list(range(1, len(rows) + 1))
    for row in rows:
        assert row["answer"]
        assert ("not recorded" in row["answer"]) == (row["known"] < row["points"]), row
        assert bool(row["write_down"]) == (row["known"] < row["points"]), row


def test_what_is_written_down_is_asked_no_more() -> None:
    """A column of the sheet answers its point, and the score rises by one."""
    before = {row["topic"]: row for row in checklist(recorded([CELL]))}["Case"]
    after = {row["topic"]: row for row in checklist(recorded([CELL | {"spring": "wave"}]))}["Case"]
    assert "spring: wave" in after["answer"]
    assert after["known"] == before["known"] + 1
    assert "spring" in before["write_down"]
    assert "spring" not in after["write_down"]


def test_a_column_filled_for_some_cells_is_not_complete() -> None:
    """What is known of some cells is said with their number and still asked for."""
    point = sheet([{"spring": "wave"}, {"spring": ""}], "spring", "spring")
    assert point.answer == "wave (1 of 2 cells)"
    assert not point.complete
    assert point.write_down == "spring of every cell"


def test_excluded_cells_keep_their_reason() -> None:
    """The checklist counts built and used, and names who was left out and why."""
    out = {"cell": "B", "included": 0, "exclusion_reason": "dropped", "seal": "x"}
    rows = {row["topic"]: row for row in checklist(recorded([CELL, out], cycles=[]))}
    assert "B (dropped)" in rows["Number of cells"]["answer"]


@pytest.mark.parametrize(
    ("values", "words"),
    [([], ""), ([2.0, None], "2 V (n = 1)"), ([1.0, 2.0, 9.0], "median 2 V, 1 to 9 (n = 3)")],
)
def test_no_number_without_its_count(values: list[float | None], words: str) -> None:
    """Medians stand with their range and the number of values."""
    assert spread(values, "V") == words
