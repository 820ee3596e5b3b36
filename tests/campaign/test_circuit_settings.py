"""Models of impedance in `campaign.yaml`: what is wrong is said with its path and a near name."""

from __future__ import annotations

from pathlib import Path

import pytest

from trivet.campaign.settings_file import read_settings

DEMO = Path(__file__).resolve().parents[2] / "config" / "demo" / "campaign.yaml"


def problems_of(folder: Path, impedance: str) -> list[str]:
    """What is said of the demo's settings with another block of impedance."""
    path = folder / "campaign.yaml"
    path.write_text(DEMO.read_text(encoding="utf-8") + "\nimpedance:\n" + impedance, "utf-8")
    return [str(problem) for problem in read_settings(path).problems]


def test_a_whole_model_is_taken(tmp_path: Path) -> None:
    """Nodes in series and in parallel, with a porous line and its surface, are no error."""
    model = """\
  positive_model:
    series:
      - {element: inductor}
      - {element: resistor}
      - parallel: [{element: resistor}, {element: constant phase}]
      - element: porous line
        surface: {parallel: [{element: resistor}, {element: capacitor}]}
      - {element: warburg open}
"""
    assert problems_of(tmp_path, model) == []


@pytest.mark.parametrize(
    ("node", "expected"),
    [
        ("{element: gerisher}", ("series[1].element' is 'gerisher'", "Did you mean 'gerischer'?")),
        ("{elemnt: arc}", ("'elemnt' in 'impedance.positive_model.series[1]'", "'element'")),
        ("{parallel: [{element: arc}]}", ("series[1].parallel' has 1 nodes; it needs 2",)),
        ("{element: porous line}", ("series[1]': 'surface' is needed by a porous line",)),
        ("{}", ("series[1]' needs one of 'element', 'series' and 'parallel'; found none",)),
        (
            "{element: arc, series: [{element: arc}]}",
            ("series[1]' needs one of", "found 'element' and 'series'"),
        ),
    ],
)
def test_a_wrong_node_is_named_by_its_path(
    tmp_path: Path, node: str, expected: tuple[str, ...]
) -> None:
    """One wrong node gives one problem with the line, the path of the node and a near name."""
    model = f"  positive_model:\n    series:\n      - {{element: resistor}}\n      - {node}\n"
    (problem,) = problems_of(tmp_path, model)
    assert "line" in problem.split(":")[0]
    for words in expected:
        assert words in problem


def test_frequencies_and_thresholds_are_checked(tmp_path: Path) -> None:
    """A modulus at no frequency, a window that is closed: each is said with its value."""
    said = problems_of(tmp_path, "  modulus_frequencies_Hz: [1.0, -1.0]\n")
    assert len(said) == 1
    assert "-1 is no frequency" in said[0]
    closed = problems_of(tmp_path, "  lowest_frequency_Hz: 10.0\n  highest_frequency_Hz: 1.0\n")
    assert len(closed) == 1
    assert "must be below" in closed[0]
