"""Verdicts of comparisons, and the plain sentences that give their reasons."""

from __future__ import annotations

import math
from dataclasses import dataclass

from trivet.reasons import AtLooks
from trivet.schema.findings.finding import Finding

VERDICTS = ("different", "equivalent", "inconclusive", "not estimable")

SUBJECTS = {"cell": "cells", "reference": "references"}

COMPETING = (
    "Cause-specific: cells that ended before their reference was lost are censored here; see causes"
)


@dataclass(frozen=True)
class Tipping:
    """What would have had to become of stopped cells for a verdict to turn.

    Attributes
    ----------
    lives_on, ended : tuple of str
        Cells that would have lived on, and cells that would have ended when stopped.
    time : float or None
        Time up to which the former would have had to live [hours or cycles]; None where the
        latter are enough.
    """

    lives_on: tuple[str, ...]
    ended: tuple[str, ...]
    time: float | None


@dataclass(frozen=True)
class Seen:
    """What weekly looks have to say of a contrast.

    Attributes
    ----------
    how : AtLooks
        What came of them.
    date : str
        Date of the look that it came of; of the last look where the contrast waits, empty before
        the first.
    level : float
        Share of relabellings that reach the boundary of the last look [1].
    """

    how: AtLooks
    date: str
    level: float = math.nan


@dataclass(frozen=True)
class Grounds:
    """What a verdict rests on; numbers are NaN where there is none.

    Attributes
    ----------
    endpoint, clock, primary_clock : str
        Endpoint and clock of the comparison, and the clock that decides.
    group, control : str
        Names of the two groups.
    cells, events, control_cells, control_events : int
        Cells and ends in each [1].
    longer : bool
        Whether the group had fewer ends than expected.
    p, p_adjusted, smallest_attainable_p : float
        Exact p, the same over all contrasts, the smallest attainable [1].
    drawn : str
        How p was drawn and its interval; empty where enumerated.
    undecided : bool
        Whether the interval of a drawn p holds alpha.
    estimate, lower, upper : float
        Time ratio and its limits [1].
    confidence : float
        Confidence of these limits [1].
    same_lower, same_upper, same_confidence : float
        Limits of the time ratio that decide on equivalence, and their confidence [1].
    no_ratio : str
        Why there is no time ratio; empty otherwise.
    margin, alpha : float
        Margin of equivalence, level of the test [1].
    confounded : bool
        Whether no batch holds cells of both groups.
    idle_cells : int
        Cells in batches without the other group, which add nothing [1].
    interim : str
        Mark of an interim look; empty for a final one.
    unlike : bool
        Whether the groups were not followed alike.
    imputed_p : float
        p of the imputation-permutation test, where follow-up is unlike [1].
    deciding_p : float
        adjusted p that decides [1].
    turned : bool
        Whether the verdict turns when stopped cells are taken as ended, or as never ending.
    bounds_p : float
        Largest adjusted p with stopped cells taken as ended, or as never ending [1].
    bad_p : float
        Adjusted p with cells that looked bad taken as ended when stopped [1].
    turned_by_bad : bool
        Whether the verdict turns then.
    tipping : Tipping or None
        What would have to be so for it to turn; None where it does not, or by equivalence.
    seen : Seen or None
        What weekly looks have to say; None where they change nothing, or do not apply.
    """

    endpoint: str
    clock: str
    primary_clock: str
    group: str
    control: str
    cells: int
    events: int
    control_cells: int
    control_events: int
    longer: bool
    p: float
    p_adjusted: float
    smallest_attainable_p: float
    drawn: str
    undecided: bool
    estimate: float
    lower: float
    upper: float
    confidence: float
    same_lower: float
    same_upper: float
    same_confidence: float
    no_ratio: str
    margin: float
    alpha: float
    confounded: bool
    idle_cells: int
    interim: str
    unlike: bool = False
    imputed_p: float = math.nan
    deciding_p: float = math.nan
    turned: bool = False
    bounds_p: float = math.nan
    bad_p: float = math.nan
    turned_by_bad: bool = False
    tipping: Tipping | None = None
    seen: Seen | None = None


LEADS = (
    "The interval leaves out 1, but it comes from a Weibull model and counts neither contrasts nor "
    "looks; the test leads"
)
"""Why test and interval disagree."""
WIDE = 100.0
"""An interval that holds 1, and whose limits lie so far apart, tells nothing of a ratio."""


def tells_nothing(lower: float | None, upper: float | None) -> bool:
    """Whether the limits of a ratio leave open all that could be asked of it.

    Parameters
    ----------
    lower, upper : float or None
        Limits; NaN or None where there is none [1].
    """
    least = 0.0 if lower is None or math.isnan(lower) else lower
    most = math.inf if upper is None or math.isnan(upper) else upper
    return least <= 1 <= most and most >= WIDE * least


def disagree(
    p: float | None, alpha: float, lower: float | None = None, upper: float | None = None
) -> bool:
    """Whether an interval leaves out 1 where the test that decides shows no difference.

    Parameters
    ----------
    p, alpha : float or None, float
        p that decides, and the level [1].
    lower, upper : float or None
        Limits of the ratio, NaN or None where there is none [1].
    """
    apart = (lower is not None and lower > 1) or (upper is not None and upper < 1)
    return apart and p is not None and p > alpha


def plain_number(value: float) -> str:
    """Give a number with three significant digits, or `no limit` where there is none."""
    if not math.isfinite(value):
        return "no limit"
    if abs(value) >= 1000:
        return f"{value:.0f}"
    return f"{value:#.3g}".rstrip(".")


def plain_p(value: float) -> str:
    """Give a p with two significant digits."""
    return f"{value:#.2g}".rstrip(".")


def verdict_reason(verdict: str, *, grounds: Grounds) -> str:
    """Sentence that gives the reason of a verdict.

    Parameters
    ----------
    verdict : str
        One of `VERDICTS`.
    grounds : Grounds
        What it rests on.

    Returns
    -------
    str
        Finding, numbers, and what limits them.
    """
    limits = () if grounds.no_ratio else (grounds.lower, grounds.upper)
    parts = [_claim(verdict, grounds), _numbers(grounds)]
    if verdict == "inconclusive" and grounds.smallest_attainable_p > grounds.alpha:
        parts.append(
            "With these numbers no difference could have been shown: the smallest attainable p "
            f"is {plain_p(grounds.smallest_attainable_p)}"
        )
    if verdict == "inconclusive" and grounds.undecided:
        parts.append("The Monte Carlo interval of p includes alpha; draw more permutations")
    if verdict != "different" and disagree(grounds.deciding_p, grounds.alpha, *limits):
        parts.append(LEADS)
    if grounds.seen is not None:
        parts.append(_looks(grounds.seen, grounds))
    if grounds.unlike:
        parts.append(_unlike(grounds))
    if grounds.turned:
        parts.append(_turned(grounds))
    if grounds.turned_by_bad:
        parts.append(_looked_bad(grounds))
    parts += _stands(verdict, grounds)
    if grounds.idle_cells and verdict != "not estimable":
        parts.append(
            f"{grounds.idle_cells} of these cells stand in batches without the other group and "
            "add nothing to the test"
        )
    if grounds.endpoint == "reference":
        parts.append(COMPETING)
    if grounds.clock != grounds.primary_clock:
        parts.append(f"Sensitivity only: the primary clock is {grounds.primary_clock}")
    if grounds.interim:
        parts.append(grounds.interim)
    return ". ".join(parts) + "."


_AGAINST = {
    AtLooks.HELD: "what else was known then stood against it",
    AtLooks.HELD_BY_STOPS: "of some cells nobody says why they were followed no longer, and it did "
    "not hold whatever became of them; a reason in the bench log settles that",
    AtLooks.HELD_BY_BAD: "it did not hold with the cells that looked bad taken as ended when they "
    "were stopped",
}
"""What stood against a difference for which the tests had crossed."""


def _looks(seen: Seen, grounds: Grounds) -> str:
    """Sentence on weekly looks: what they have shown, or what they ask for still."""
    if seen.how is AtLooks.SHOWN:
        since = ""
        if grounds.deciding_p > grounds.alpha:
            since = f"; it stays shown, though p is {plain_p(grounds.deciding_p)} now"
        return f"Shown at the look of {seen.date}{since}"
    if seen.how is AtLooks.TURNED_ROUND:
        return f"At the look of {seen.date} the opposite difference was shown"
    if against := _AGAINST.get(seen.how, ""):
        return f"By the look of {seen.date} the tests had crossed for a difference, but {against}"
    start = f"The looks share a level of {grounds.alpha:.3g} between them"
    if not seen.date:
        return f"{start}, and the first is still to come"
    if not seen.level > 0:
        return f"{start}, and at that of {seen.date} no difference could be shown yet"
    last = "" if grounds.interim else "; it was the last, and what came later decides nothing"
    return (
        f"{start}: at that of {seen.date} p had to be at most {plain_p(seen.level)}, "
        f"for this contrast and for those tested with it{last}"
    )


def _turned(grounds: Grounds) -> str:
    """Sentence on stopped cells that keep a verdict from being reached."""
    start = (
        "Of some cells nobody says why they were followed no longer, and the verdict must hold "
        "whatever became of them"
    )
    found = grounds.tipping
    if found is None:
        return f"{start}: at a bound it would be another"
    unit = "h" if grounds.clock == "hours" else "cycles"
    ended = f"{_joined(found.ended)} had ended when stopped" if found.ended else ""
    lived = ""
    if found.lives_on and found.time is not None:
        lived = f"{_joined(found.lives_on)} had outlived {found.time:,.0f} {unit}"
    conditions = " and ".join(part for part in (lived, ended) if part)
    shown = f"The difference (p {plain_p(grounds.deciding_p)}) turns only if"
    return f"{start}. {shown} {conditions or 'they had lived on'}"


def _looked_bad(grounds: Grounds) -> str:
    """Sentence on cells that looked bad, with the p that turned a difference."""
    lost = grounds.deciding_p <= grounds.alpha < grounds.bad_p
    return (
        "The verdict must hold with the cells that looked bad taken as ended when they were "
        f"stopped, and it does not{f' (adjusted p {plain_p(grounds.bad_p)})' if lost else ''}"
    )


def _stands(verdict: str, grounds: Grounds) -> list[str]:
    """Sentence on stopped cells that a verdict stands without, with its p where it is one of p."""
    different = verdict == "different"
    taken = (
        (grounds.bounds_p, "whatever became of the cells that nobody says why they were followed "
         "no longer", "at most "),
        (grounds.bad_p, "with the cells that looked bad taken as ended when they were stopped", ""),
    )  # fmt: skip
    held = [
        f"{how}{f' (adjusted p {most}{plain_p(p)})' if different else ''}"
        for p, how, most in taken
        if math.isfinite(p) and (p <= grounds.alpha or not different)
    ]
    return (
        [f"It holds {', and '.join(held)}"]
        if held and verdict in ("different", "equivalent")
        else []
    )


def _joined(names: tuple[str, ...]) -> str:
    """Names as a list in words."""
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def _unlike(grounds: Grounds) -> str:
    """Sentence on groups that were not followed alike."""
    start = "Follow-up differs between the groups"
    if not math.isfinite(grounds.imputed_p):
        return f"{start}, and no test that allows for it could be done"
    return (
        f"{start}, so the larger of the exact p and of p of the imputation-permutation test, "
        f"{plain_p(grounds.imputed_p)}, decides (adjusted {plain_p(grounds.deciding_p)})"
    )


def _claim(verdict: str, grounds: Grounds) -> str:
    """First sentence: what is found."""
    subjects = SUBJECTS[grounds.endpoint]
    pair = f"{subjects} of '{grounds.group}' and of '{grounds.control}'"
    factor = f"a factor of {plain_number(grounds.margin)}"
    if verdict == "different":
        how = "last longer than" if grounds.longer else "do not last as long as"
        return (
            f"{subjects.capitalize()} of '{grounds.group}' {how} {subjects} of '{grounds.control}'"
        )
    if verdict == "equivalent":
        also = (
            f"; a difference inside it is shown too, p {plain_p(grounds.p_adjusted)}"
            if grounds.p_adjusted <= grounds.alpha
            else ""
        )
        return f"{pair[0].upper()}{pair[1:]} last the same within {factor}{also}"
    if verdict == "inconclusive":
        return f"Neither a difference nor equivalence within {factor} is shown between {pair}"
    return _nothing(grounds)


def _nothing(grounds: Grounds) -> str:
    """Why a contrast is not estimable."""
    if not grounds.cells or not grounds.control_cells:
        return f"Nothing to compare: no cell of '{grounds.control}' counts"
    if math.isfinite(grounds.p) and not math.isfinite(grounds.deciding_p) and grounds.unlike:
        return (
            f"The cells of '{grounds.group}' and '{grounds.control}' entered or left observation "
            "at different times, and no test allows for that"
        )
    if grounds.confounded:
        return (
            f"No batch holds cells of both '{grounds.group}' and '{grounds.control}', so a "
            "difference between groups can't be told from one between batches"
        )
    return "Nothing to compare: no informative event"


def _numbers(grounds: Grounds) -> str:
    """Second sentence: effect, interval, p, cells and ends."""
    counts = (
        f"{grounds.events} of {grounds.cells} ended against {grounds.control_events} of "
        f"{grounds.control_cells}"
    )
    if not math.isfinite(grounds.p):
        return counts
    test = f"exact log-rank p {plain_p(grounds.p)}"
    if math.isfinite(grounds.p_adjusted) and grounds.p_adjusted != grounds.p:
        test += f" (over all contrasts {plain_p(grounds.p_adjusted)})"
    if grounds.drawn:
        test += f" ({grounds.drawn})"
    if grounds.no_ratio:
        return f"{counts}; {test}; {grounds.no_ratio}"
    ratio = (
        f"time ratio {plain_number(grounds.estimate)}, {100 * grounds.confidence:.3g} % interval "
        f"{plain_number(grounds.lower)} to {plain_number(grounds.upper)}"
        f"{' (no information)' if tells_nothing(grounds.lower, grounds.upper) else ''}, "
        f"{100 * grounds.same_confidence:.3g} % interval for equivalence "
        f"{plain_number(grounds.same_lower)} to {plain_number(grounds.same_upper)}"
    )
    return f"{counts}; {test}; {ratio}"


def unlike_follow_up(
    *, factor: str, endpoint: str, group: str, control: str, p: float, limit: float
) -> Finding:
    """Give the finding for two groups that were not followed alike.

    Parameters
    ----------
    factor, endpoint, group, control : str
        The contrast.
    p, limit : float
        p of the exact log-rank test on the times of censoring, and its limit [1].
    """
    return Finding(
        cell="",
        check="followed alike",
        severity="caution",
        message=f"'{group}' and '{control}' ({factor}, {endpoint} endpoint) were not followed "
        "alike: their times of censoring or entry differ. The permutation test is exact only "
        "where groups are followed alike.",
        action="the larger p of the exact and of the imputation-permutation test decides",
        value=p,
        limit=limit,
        unit="1",
    )
