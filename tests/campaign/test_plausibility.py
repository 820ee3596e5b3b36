"""Facts of the trade about the build: they warn beyond their limits, common practice, no source."""

import pytest

from trivet.campaign.plausibility import implausible
from trivet.schema.cell_facts import CellFacts

USUAL = {
    "lead_wire_um": 50.0,
    "mesh_diameter_mm": 4.0,
    "mesh_thickness_um": 10.0,
    "lead_insulation_um": 30.0,
    "positive_diameter_mm": 12.0,
    "negative_diameter_mm": 13.0,
}


def built(separators="2+1", **sizes):
    """A cell with usual sizes but for those given."""
    return CellFacts("c1", "b1", values={"separators": separators}, numbers=USUAL | sizes)


def test_a_usual_build_raises_nothing():
    """All sizes at their usual value, or none given: no finding."""
    assert not implausible(built())
    assert not implausible(CellFacts("c1", "b1"))
    assert not implausible(CellFacts("c1", "b1", values={"separators": "thick"}))


@pytest.mark.parametrize(
    ("column", "value", "limit"),
    [
        ("separators", "1", 2.0),
        ("separators", "3+2", 4.0),
        ("lead_wire_um", 24.9, 25.0),
        ("lead_wire_um", 50.1, 50.0),
        ("mesh_diameter_mm", 5.1, 5.0),
        ("mesh_thickness_um", 30.0, 20.0),
        ("lead_insulation_um", 100.0, 45.0),
    ],
)
def test_a_size_beyond_its_limit_warns(column, value, limit):
    """One caution with value, limit and the words 'common practice, no source'."""
    (found,) = implausible(built(**{column: value}))
    assert (found.severity, found.limit) == ("caution", limit)
    assert f"'{column}' is" in found.message
    assert "common practice, no source" in found.message


def test_a_mesh_beyond_the_electrode_warns():
    """A disc wider than the smaller electrode reaches over its edge."""
    (found,) = implausible(built(mesh_diameter_mm=4.5, positive_diameter_mm=4.0))
    assert (found.value, found.limit) == (4.5, 4.0)
    assert not implausible(built(mesh_diameter_mm=4.5, positive_diameter_mm=4.5))
