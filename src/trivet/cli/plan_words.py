"""Power of a plan in words for the terminal."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from trivet.schema.settings.inference import Comparison
from trivet.workflow.plan_power import PlanPower

_HOPELESS = 0.05
_LIKELY = 0.995


def plan_lines(found: Sequence[PlanPower], comparison: Comparison) -> Iterator[str]:
    """Lines on what the cells of the build sheet could show.

    Parameters
    ----------
    found : sequence of PlanPower
        Contrast by contrast.
    comparison : Comparison
        Settings of the campaign.
    """
    if not found:
        return
    looks = f"{found[0].looks} looks" if found[0].looks > 1 else "one look"
    yield (
        f"  chance that this plan shows something, with {looks}, if log time spreads by "
        f"{comparison.planned_spread:g} and {100 * comparison.planned_censored_share:.3g} % of "
        "the control outlive it (settings):"
    )
    for plan in found:
        chances = ", ".join(
            f"of {ratio:g} {_chance(power.power)}" for ratio, power in plan.difference.items()
        )
        margin = f"{comparison.equivalence_margin:g}"
        same = f"equivalence within {margin} {_chance(plan.same.power)}"
        if plan.same.power < _HOPELESS:
            same = f"equivalence within {margin} can't be shown with so few cells"
        yield (
            f"    {plan.factor}, {plan.group} ({plan.cells}) against {plan.control} "
            f"({plan.control_cells}): a time ratio {chances}; {same}"
        )


def _chance(power: float) -> str:
    """A chance in two digits."""
    if power < 1 - _LIKELY:
        return "below 0.01"
    return "above 0.99" if power > _LIKELY else f"{power:.2f}"
