"""The protocol of the demo: rows, capacities and what ends a cell."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from itertools import pairwise

import numpy as np
import pytest

from trivet.demo.plan import CellPlan, plan_campaign
from trivet.demo.protocol import CellRun, simulate
from trivet.demo.spectra import exact_spectra_ohm
from trivet.demo.truth import true_cell, true_cycles

RunOf = Callable[[str], CellRun]


def test_rows_never_go_back_and_never_leave_a_gap(run_of: RunOf) -> None:
    """Time never falls, and no two rows are more than ten minutes apart."""
    steps_s = np.diff(run_of("c01").time_s)

    assert steps_s.min() >= 0.0
    assert steps_s.max() <= 600.0


def test_each_step_of_current_has_two_rows_at_one_time(run_of: RunOf) -> None:
    """A step between rest, charge and discharge has a row before and after it at one time."""
    run = run_of("c01")
    steps = np.flatnonzero(np.diff(np.sign(run.current_mA)))

    assert steps.size > 100
    assert np.all(run.time_s[steps] == run.time_s[steps + 1])


def test_a_row_stands_ten_seconds_after_each_start_of_a_discharge(run_of: RunOf) -> None:
    """Dc resistance at ten seconds needs a row there."""
    run = run_of("c01")
    starts = np.flatnonzero((run.current_mA[1:] < 0.0) & (run.current_mA[:-1] >= 0.0)) + 1

    assert np.allclose(run.time_s[starts + 1] - run.time_s[starts], 10.0)


def test_the_cell_stays_within_its_limits_while_it_is_sound(run_of: RunOf) -> None:
    """Current never takes a sound cell beyond 2.5 or 3.65 V, to 0.1 mV."""
    run = run_of("c01")
    cell_V = run.positive_V - run.negative_V

    assert cell_V[run.current_mA > 0.0].max() <= 3.65 + 1e-4
    assert cell_V[run.current_mA < 0.0].min() >= 2.5 - 1e-4


def test_lithium_taken_by_the_side_reaction_is_what_the_cell_loses(run_of: RunOf) -> None:
    """Between two ageing cycles capacity falls by the charges less the discharges in between."""
    cycles = [c for c in true_cycles(run_of("c01")) if c.kind == "ageing" and c.complete]
    pairs = [(a, b) for a, b in pairwise(cycles) if b.cycle == a.cycle + 1]
    early, late = pairs[10]

    # The discharge before, the charge after: the graphite starts and ends empty.
    assert late.charge_mAh == pytest.approx(early.discharge_mAh, rel=1e-3)
    assert early.charge_mAh > early.discharge_mAh


def test_additive_spectra_before_noise(run_of: RunOf) -> None:
    """The cell's impedance is the sum of its electrodes' (Kirchhoff)."""
    spectra = exact_spectra_ohm(run_of("c01").check_ups[0])

    assert np.array_equal(spectra["cell"], spectra["positive"] + spectra["negative"])


def test_a_spectrum_is_taken_in_the_second_cycle_and_each_week(run_of: RunOf) -> None:
    """Spectra start in the second formation cycle and follow a week apart, in a rest."""
    run = run_of("c01")
    hours = [check_up.hours for check_up in run.check_ups]

    assert run.check_ups[0].cycle == 2
    assert np.all((np.diff(hours) > 160.0) & (np.diff(hours) < 200.0))
    for check_up in run.check_ups:
        row = np.searchsorted(run.time_s, check_up.hours * 3600.0)
        assert run.current_mA[row - 1] == run.current_mA[row] == 0.0


@pytest.mark.parametrize(
    ("cell", "fate", "cause"),
    [
        ("c01", "ended", "capacity"),
        ("c04", "ended", "internal short"),
        ("c13", "ended", "cut-off at once"),
        ("c14", "ended", "open circuit"),
        ("c09", "ended", "leak"),
        ("c07", "stopped", None),
        ("c17", "running", None),
    ],
)
def test_each_fate_happens(
    plans: dict[str, CellPlan], run_of: RunOf, cell: str, fate: str, cause: str | None
) -> None:
    """The fate that the plan gives a cell is what its data show by the campaign's rules."""
    truth = true_cell(plans[cell], run=run_of(cell))

    assert (truth["fate"], truth["cause"]) == (fate, cause)


@pytest.mark.parametrize("cell", ["c01", "c03", "c06", "c10", "c11", "c15", "c19", "c21"])
def test_the_end_by_capacity_is_not_a_matter_of_rounding(run_of: RunOf, cell: str) -> None:
    """Retention crosses 0.8 once, by more than files can hide: 0.005 % before and after."""
    cycles = [c for c in true_cycles(run_of(cell)) if c.kind == "ageing" and c.complete]
    retention = np.array([c.discharge_mAh for c in cycles]) / cycles[0].discharge_mAh
    first = int(np.flatnonzero(retention < 0.8)[0])

    assert retention[first - 1] - 0.8 > 5e-5
    assert 0.8 - retention[first] > 5e-5
    assert np.all(retention[first:] < 0.8)


def test_a_cell_depends_on_its_own_random_numbers_only(plans: dict[str, CellPlan]) -> None:
    """Another seed makes another cell; the same seed the same, whatever else is made."""
    again = simulate(plan_campaign()[12])
    other = plan_campaign(7)[12]

    assert again is not None
    assert again.plan == plans["c13"]
    assert other.ageing != plans["c13"].ageing


def test_roles_are_dealt_within_batches_and_none_is_lost() -> None:
    """Any seed has the same roles in each batch as the default."""
    for batch in ("B1", "B2", "B3"):
        default, other = (
            Counter(plan.role for plan in plan_campaign(*seed) if plan.batch == batch)
            for seed in ((), (11,))
        )

        assert default == other


def test_seals_and_stacks_are_balanced() -> None:
    """Every seal has eight cells, two at least in each batch, four of each stack."""
    cells = Counter((plan.seal, plan.separators) for plan in plan_campaign())
    in_batch = Counter((plan.seal, plan.batch) for plan in plan_campaign())

    assert set(cells.values()) == {4}
    assert len(in_batch) == 9
    assert min(in_batch.values()) >= 2


def test_without_seal_effect_lives_do_not_depend_on_the_seal() -> None:
    """At an effect of 0 the seal is no input to a cell's life; at 1 epoxy lasts 1.6 times."""
    with_effect, without = (plan_campaign(5, seal_effect=effect) for effect in (1.0, 0.0))

    ratios = {
        a.seal: a.ageing.life_h / b.ageing.life_h for a, b in zip(with_effect, without, strict=True)
    }

    assert ratios == pytest.approx({"tape": 1.0, "epoxy": 1.6, "sleeve": 1.04})
