"""Tables of campaigns in which nothing happens but ends and a last sight."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from trivet.studies.calibration.plain import Tally
from trivet.studies.calibration.rates import VERDICT_HEADS, share, too_few, verdict_columns

MODEL = {
    "time ratio": "weibull",
    "time ratio, few ends": "weibull",
    "time ratio lognormal": "lognormal",
    "time ratio lognormal, few ends": "lognormal",
    "hazard ratio": "any",
    "restricted mean difference": "any",
    "median, log-log": "any",
    "median, beta product": "any",
    "survival, log-log": "any",
    "survival, beta product": "any",
    "Weibull shape": "weibull",
    "Weibull scale": "weibull",
    "one in ten": "weibull",
}
"""Law of lives that each interval assumes."""


def verdict_table(tallies: Sequence[Sequence[Tally]]) -> Iterator[str]:
    """Lines of the table of verdicts.

    Parameters
    ----------
    tallies : sequence of sequence of Tally
        Each scenario at every ratio of `RATIOS`.
    """
    yield (
        f"| cells | censored | batches | follow-up | law | spread | {VERDICT_HEADS} | "
        "time ratio covers % |"
    )
    yield "|---|---|---|---|---|---|---|---|---|---|---|---|---|"
    for own in tallies:
        covered = sum(tally.covered["time ratio"] for tally in own[:2])
        missed = sum(tally.missed["time ratio"] for tally in own[:2])
        columns = (
            own[0].scenario.words,
            *verdict_columns(own),
            share(covered, covered + missed),
        )
        yield f"| {' | '.join(columns)} |"


def interval_table(tallies: Sequence[Tally]) -> Iterator[str]:
    """Lines of the table of intervals.

    Parameters
    ----------
    tallies : sequence of Tally
        Scenarios whose intervals count.
    """
    yield (
        "| 95 % interval | law assumed | covers % where it holds | lowest of a scenario % | "
        "covers % under the other law | undefined % | holds |"
    )
    yield "|---|---|---|---|---|---|---|"
    for name, law in MODEL.items():
        yield _interval(name, law, tallies)


def _interval(name: str, law: str, tallies: Sequence[Tally]) -> str:
    """Line of one interval."""
    inside = [t for t in tallies if law in ("any", t.scenario.law)]
    outside = [t for t in tallies if law not in ("any", t.scenario.law)]
    covered, missed, undefined = (
        sum(getattr(t, kind)[name] for t in inside) for kind in ("covered", "missed", "undefined")
    )
    each = [
        (t.covered[name], t.covered[name] + t.missed[name])
        for t in inside
        if t.covered[name] + t.missed[name]
    ]
    lowest = min((hits / trials for hits, trials in each), default=float("nan"))
    fails = sum(too_few(hits, trials) for hits, trials in each)
    other = sum(t.covered[name] for t in outside)
    others = other + sum(t.missed[name] for t in outside)
    known = covered + missed
    word = "yes" if not fails else f"no, low in {fails} of {len(each)}"
    return (
        f"| {name} | {law} | {share(covered, known)} | {100 * lowest:.1f} | "
        f"{share(other, others)} | {share(undefined, known + undefined)} | {word} |"
    )
