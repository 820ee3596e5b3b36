"""What the tests of the demo share: the plan and one simulated cell of each kind."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache

import pytest

from trivet.demo.plan import CellPlan, plan_campaign
from trivet.demo.protocol import CellRun, simulate


@pytest.fixture(scope="session")
def plans() -> dict[str, CellPlan]:
    """Plans of the default seed by cell."""
    return {plan.cell: plan for plan in plan_campaign()}


@pytest.fixture(scope="session")
def run_of(plans: dict[str, CellPlan]) -> Callable[[str], CellRun]:
    """What happened to a cell; simulated once."""

    @cache
    def run(cell: str) -> CellRun:
        made = simulate(plans[cell])
        assert made is not None
        return made

    return run
