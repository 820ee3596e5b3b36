"""Looks that share the level hold it, and cost little power.

Lan & DeMets 1983, Biometrika 70, 659: the level in all is that of one test. 400 campaigns at 5 %
cross 33 times or more with a chance of 0.3 % (binomial).
"""

from __future__ import annotations

import numpy as np
import pytest

from trivet.studies.weekly_looks import main, shown


def test_the_level_is_held_over_all_looks() -> None:
    """Without a difference at most 5 % show one, within chance; looks not paid for show more."""
    random = np.random.default_rng(5)
    shared, _, unpaid = np.sum([shown(1.0, random) for _ in range(400)], axis=0)
    assert shared < 33
    assert unpaid > shared


def test_looks_cost_little_power() -> None:
    """At twice the life the looks show nearly as often as the last one alone would."""
    random = np.random.default_rng(6)
    shared, last, _ = np.mean([shown(2.0, random) for _ in range(200)], axis=0)
    assert shared > 0.7
    assert shared > last - 0.05


def test_the_table_is_printed(capsys: pytest.CaptureFixture[str]) -> None:
    """A line a ratio."""
    assert main(["5"]) == 0
    assert len(capsys.readouterr().out.splitlines()) == 5
