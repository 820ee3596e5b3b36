"""Electrodes and references as printed: figures show the tables' numbers, words count rows."""

from __future__ import annotations

import numpy as np
import pytest
from report_campaign import with_rows

from trivet.report.frame.data import ReportData, last_states, where
from trivet.report.frame.style import Drawing, look
from trivet.report.sections.appendix.potentials import differential
from trivet.report.sections.appendix.reference_tables import platings
from trivet.report.sections.comparison import comparison
from trivet.report.sections.electrodes import deposition, margin, shares
from trivet.report.sections.reference import reference


def drawn(made: list) -> Drawing:
    """The only drawing of a kind."""
    (drawing,) = made
    assert isinstance(drawing, Drawing)
    return drawing


def test_shares_are_those_of_the_table(data: ReportData) -> None:
    """Every line of the figure holds numbers of electrode_cycles, none of a withheld cycle."""
    with look():
        drawing = drawn(shares(data))
    known = {
        (row["cell"], row["cycle"]): row["polarisation_share"]
        for row in where(data.rows["electrode_cycles"], electrode="positive")
    }
    assert drawing.numbers
    for row in drawing.numbers:
        assert known[row["cell"], row["cycle"]] == row["polarisation_share"] is not None
    heights = np.concatenate([line.get_ydata() for line in drawing.figure.axes[0].lines[:-1]])
    assert set(heights) <= {*known.values()}


def test_differential_capacity_is_drawn_for_trusted_cells_only(data: ReportData) -> None:
    """One cell a group with bins; cells of a lost reference have none."""
    with look():
        drawing = drawn(differential(data))
    cells = {row["cell"] for row in drawing.numbers}
    assert cells <= {row["cell"] for row in data.rows["differential_capacity"]}
    assert len(cells) == len(data.groups)


def test_every_doubted_reference_stands_with_its_first_reason(data: ReportData) -> None:
    """Each reference whose last state is not trusted has a line; a lost one says by what."""
    said = reference(data)
    lines = {row[0].text: [cell.text for cell in row] for row in said["table"].rows}
    states = last_states(data.rows["timeline"], "reference")
    assert {cell for cell, state in states.items() if state != "trusted"} <= set(lines)
    for cell in (cell for cell, state in states.items() if state == "lost"):
        assert "lost" in lines[cell][3]


def test_a_lost_reference_with_lithium_is_told_from_one_without(data: ReportData) -> None:
    """Of two lost ones the wire of one is no lithium any more, by the table fitness."""
    rows = [row for row in data.rows["fitness"]
            if row["cell"] != "B04" or row["reason"] == "anchored"]  # fmt: skip
    said = reference(with_rows(data, fitness=rows))
    lines = {row[0].text: row[2].text for row in said["table"].rows}
    assert lines["B04"] == "lost: off beyond the limit"
    assert lines["A08"] == "lost: no lithium on the wire since 700 h"
    assert said["without_lithium"] == "A08"


def test_references_that_nobody_could_check_are_named_where_they_count(data: ReportData) -> None:
    """They stand among the cells of a contrast; the sentence below it says which."""
    assert not [note for note in comparison(data)["notes"] if "No check was possible" in note]
    rows = [
        row | {"censored_because": "no check possible", "duration": 0.0}
        if (row["cell"], row["endpoint"]) == ("A01", "reference") else row
        for row in data.rows["lifetimes"]
    ]  # fmt: skip
    (said,) = [
        note
        for note in comparison(with_rows(data, lifetimes=rows))["notes"]
        if note.startswith("No check was possible")
    ]
    assert "of the reference of A01: counted among the cells above" in said


def test_platings_stand_with_expected_and_observed_life(data: ReportData) -> None:
    """One row a plating; a loss is named, a life without one goes on."""
    table = platings(data)
    assert len(table.rows) == len(data.rows["plating"])
    observed = [row[-1].text for row in table.rows]
    lost = sum(row["lost"] for row in data.rows["plating"])
    assert sum("(lost)" in text for text in observed) == lost > 0
    assert sum("or more" in text for text in observed) == len(observed) - lost


def test_deposition_is_counted_with_its_limits(data: ReportData) -> None:
    """The sentence has the limits of the settings and the number of cycles of each verdict."""
    text = deposition(data)
    number = sum(row["lithium_deposition"] == "no" for row in data.rows["electrode_cycles"])
    assert "by more than 5 mV" in text
    assert "by the cell's own spectra" in text
    assert f"else in {number} cycles" in text


def test_the_margin_is_drawn_with_its_limit(data: ReportData) -> None:
    """Every group has a panel with both limits and the margins of its trusted cells in mV."""
    with look():
        drawing = drawn(margin(data))
    known = {
        (row["cell"], row["cycle"]): row["corrected_minimum_V"]
        for row in where(data.rows["electrode_cycles"], electrode="negative")
    }
    assert drawing.numbers
    for row in drawing.numbers:
        assert row["margin_mV"] == pytest.approx(1000.0 * known[row["cell"], row["cycle"]])
    for axes in drawing.figure.axes[: len(data.groups)]:
        level = {float(line.get_ydata()[0]) for line in axes.lines if len(line.get_xdata()) == 2}
        assert {0.0, data.settings.trust.deposition_near_mV} <= level
        low, high = axes.get_ylim()
        assert low < 0.0 < data.settings.trust.deposition_near_mV < high
