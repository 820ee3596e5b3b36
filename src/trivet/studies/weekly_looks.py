"""What weekly looks cost: how often a difference is shown, with and without paying for the looks.

Run as `python -m trivet.studies.weekly_looks [CAMPAIGNS] [SEED]`. Sixteen cells, eight a group, in
three batches of 6, 6 and 4 a week apart; lives after Weibull with shape 1/0.3; five weekly looks,
the last at the planned end; 1,000 relabellings within batches.
"""

from __future__ import annotations

import sys

import numpy as np

from trivet.science.lives.lives import Lives
from trivet.science.survival.looks import lives_at, looks

CAMPAIGNS = 400
RATIOS = (1.0, 1.5, 2.0)
ALPHA = 0.05
_SHAPE = 1.0 / 0.3
_LIFE_WEEKS = 4.0
_LOOKS = (2.0, 3.0, 4.0, 5.0, 6.0)
_BATCH = np.repeat([0, 1, 2], [6, 6, 4])
_GROUP = np.array([0, 1] * 8)
_RELABELLINGS = 1000


def shown(ratio: float, random: np.random.Generator) -> tuple[bool, bool, bool]:
    """Whether one campaign shows a difference.

    Parameters
    ----------
    ratio : float
        Lives of group 1 over those of the control [1].
    random : numpy.random.Generator
        Source of the lives and of the relabellings.

    Returns
    -------
    tuple of bool
        By looks that share the level; by the last look alone; at any look at the full level.
    """
    lives = _LIFE_WEEKS * random.weibull(_SHAPE, _GROUP.size) * np.where(_GROUP == 1, ratio, 1.0)
    start = _BATCH.astype(float)
    seen = Lives(
        duration=lives, observed=np.ones(lives.size, dtype=np.int64), group=_GROUP, batch=_BATCH
    )
    found = looks(
        [lives_at(seen, look, start=start, known_at=start + lives) for look in _LOOKS],
        times=_LOOKS,
        fractions=[look / _LOOKS[-1] for look in _LOOKS],
        alpha=ALPHA,
        most=_RELABELLINGS,
        seed=int(random.integers(2**31)),
    )
    return (
        any(look.crossed for look in found),
        found[-1].p <= ALPHA,
        any(look.p <= ALPHA for look in found),
    )


def main(arguments: list[str]) -> int:
    """Print the table."""
    campaigns = int(arguments[0]) if arguments else CAMPAIGNS
    random = np.random.default_rng(int(arguments[1]) if len(arguments) > 1 else 1)
    print("| time ratio | shared level % | last look alone % | any look, not paid for % |")
    print("|---|---|---|---|")
    for ratio in RATIOS:
        share = 100.0 * np.mean([shown(ratio, random) for _ in range(campaigns)], axis=0)
        print(f"| {ratio:g} | " + " | ".join(f"{value:.1f}" for value in share) + " |", flush=True)
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
