"""Benchmark: full enumeration of the exact log-rank test, and drawing where it is too much."""

from __future__ import annotations

import time

import numpy as np

from trivet.science.survival.exact_log_rank import exact_log_rank

AIMS_S = {8: 0.2, 12: 10.0}
"""Seconds for full enumeration, by cells a group."""
DRAWN_AIM_S = 2.0
DRAWS = 200_000


def timed(cells: int, *, enumeration_limit: int) -> tuple[float, str]:
    """Seconds of one test of two groups without ties, and how it was done."""
    lives = np.random.default_rng(1).weibull(2, 2 * cells)
    start = time.perf_counter()
    found = exact_log_rank(
        lives,
        observed=np.ones(2 * cells, dtype=int),
        group=np.repeat([0, 1], cells),
        enumeration_limit=enumeration_limit,
        draws=DRAWS,
    )
    spent = time.perf_counter() - start
    how = f"{found.draws} drawn" if found.draws else f"all {found.permutations} enumerated"
    return spent, how


def main() -> None:
    """Print the times beside their aims."""
    print("Exact log-rank test of two groups")
    for cells, aim in AIMS_S.items():
        spent, how = timed(cells, enumeration_limit=10_000_000)
        print(f"  {cells} against {cells}: {how} in {spent:.3f} s (aim {aim} s)")
    spent, how = timed(12, enumeration_limit=1)
    print(f"  12 against 12: {how} in {spent:.3f} s (aim {DRAWN_AIM_S} s)")


if __name__ == "__main__":
    main()
