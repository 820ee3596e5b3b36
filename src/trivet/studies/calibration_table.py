"""Tables of the calibration study."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from scipy.special import bdtr, bdtrc

NOMINAL = 0.05
CERTAIN = 0.001
"""A rate fails where chance would give one as bad less often than this."""

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


def too_many(hits: int, trials: int) -> bool:
    """Whether a rate is above the nominal one beyond chance (one-sided binomial)."""
    return hits > 0 and bool(bdtrc(hits - 1, trials, NOMINAL) < CERTAIN)


def too_few(hits: int, trials: int) -> bool:
    """Whether a coverage is below one less the nominal rate beyond chance."""
    return trials > 0 and bool(bdtr(hits, trials, 1 - NOMINAL) < CERTAIN)


def _share(hits: int, trials: int) -> str:
    """Per cent to one digit."""
    return "–" if not trials else f"{100 * hits / trials:.1f}"


def tables(tallies: Sequence[Any]) -> Iterator[str]:
    """Lines of both tables: wrong verdicts by scenario, coverage by interval.

    Parameters
    ----------
    tallies : sequence of trivet.studies.calibration.Tally
        In pairs: the scenario at a ratio of 1, then at the margin.
    """
    yield (
        "| cells | censored | batches | follow-up | law | spread | false different % | "
        "false equivalent % | different at the margin % | equivalent where the same % | "
        "time ratio covers % |"
    )
    yield "|---|---|---|---|---|---|---|---|---|---|---|"
    failed = 0
    for same, edge in zip(tallies[::2], tallies[1::2], strict=True):
        wrong = [(same, "different"), (edge, "equivalent")]
        rates = []
        for tally, word in wrong:
            bad = too_many(tally.verdicts[word], tally.replicates)
            failed += bad
            rates.append(_share(tally.verdicts[word], tally.replicates) + (" (!)" if bad else ""))
        shown = _share(edge.verdicts["different"], edge.replicates)
        shown += " | " + _share(same.verdicts["equivalent"], same.replicates)
        covered = same.covered["time ratio"] + edge.covered["time ratio"]
        trials = covered + same.missed["time ratio"] + edge.missed["time ratio"]
        yield (
            f"| {same.scenario.words} | {rates[0]} | {rates[1]} | {shown} | "
            f"{_share(covered, trials)} |"
        )
    yield ""
    yield f"Rates above 5 % beyond chance, marked (!): {failed}."
    yield ""
    yield (
        "| 95 % interval | law assumed | covers % where it holds | lowest of a scenario % | "
        "covers % under the other law | undefined % | holds |"
    )
    yield "|---|---|---|---|---|---|---|"
    for name, law in MODEL.items():
        yield _interval(name, law, tallies)


def _interval(name: str, law: str, tallies: Sequence[Any]) -> str:
    """Line of one interval."""
    inside = [t for t in tallies if law in ("any", t.scenario.law)]
    outside = [t for t in tallies if t not in inside]
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
        f"| {name} | {law} | {_share(covered, known)} | {100 * lowest:.1f} | "
        f"{_share(other, others)} | {_share(undefined, known + undefined)} | {word} |"
    )
