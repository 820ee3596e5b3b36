"""Verdicts over campaigns, and which rates chance does not explain."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from scipy.special import bdtr, bdtrc

NOMINAL = 0.05
CERTAIN = 0.001
"""A rate fails where chance would give one as bad less often than this."""
RATIOS = (1.0, 1.25, 1.5, 2.0)
"""True ratios of times: none, the margin of equivalence, and two beyond it."""
MARGIN_TURN = RATIOS.index(1.25)


@dataclass
class Verdicts:
    """Verdicts of drawn campaigns.

    Attributes
    ----------
    words : list of set of str
        Every verdict that a campaign came to, over its groups and data cuts.
    """

    words: list[set[str]] = field(default_factory=list)

    @property
    def replicates(self) -> int:
        """Campaigns drawn."""
        return len(self.words)

    def hits(self, verdict: str, first: int | None = None) -> int:
        """Campaigns that came to a verdict, among the first so many or all."""
        return sum(verdict in words for words in self.words[:first])


def too_many(hits: int, trials: int) -> bool:
    """Whether a rate is above the nominal one beyond chance (one-sided binomial)."""
    return hits > 0 and bool(bdtrc(hits - 1, trials, NOMINAL) < CERTAIN)


def too_few(hits: int, trials: int) -> bool:
    """Whether a coverage is below one less the nominal rate beyond chance."""
    return trials > 0 and bool(bdtr(hits, trials, 1 - NOMINAL) < CERTAIN)


def marked_from(trials: int) -> float:
    """Smallest rate that is marked, in percent; NaN where none is."""
    marked = (hits for hits in range(trials + 1) if too_many(hits, trials))
    return 100 * next(marked, float("nan")) / trials if trials else float("nan")


def share(hits: int, trials: int) -> str:
    """Per cent to one digit."""
    return "–" if not trials else f"{100 * hits / trials:.1f}"


def rate(hits: int, trials: int) -> str:
    """Per cent to one digit of a rate that may be 5 % at most, marked where it is more."""
    return share(hits, trials) + (" (!)" if too_many(hits, trials) else "")


VERDICT_HEADS = (
    "false different % | false equivalent % | different at 1.25 % | at 1.5 % | at 2 % | "
    "equivalent where the same %"
)


def verdict_columns(own: Sequence[Verdicts]) -> tuple[str, ...]:
    """Values below `VERDICT_HEADS`, of what was judged at every ratio of `RATIOS`."""
    same, edge = own[:2]
    return (
        rate(same.hits("different"), same.replicates),
        rate(edge.hits("equivalent"), edge.replicates),
        *(share(each.hits("different"), each.replicates) for each in own[1:]),
        share(same.hits("equivalent"), same.replicates),
    )


def heading(trials: int, power: int) -> str:
    """Sentence on how many campaigns a table counts, and from where on a rate is marked."""
    return (
        f"{trials} campaigns a row at ratios 1 and 1.25, {power} at 1.5 and 2; "
        f"marked (!) from {marked_from(trials):.1f} % on."
    )
