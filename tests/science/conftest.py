"""Published sets of lives that several tests of the sciences use, as fixtures."""

from __future__ import annotations

import numpy as np
import pytest

# Freireich et al. 1963, Blood 21, 699; Gehan 1965: weeks in remission, negative = censored.
# Printed pair by pair in Klein & Moeschberger, Survival Analysis, section 1.2.
MERCAPTOPURINE = (6, 6, 6, -6, 7, -9, 10, -10, -11, 13, 16, -17, -19, -20, 22, 23, -25, -32, -32,
                  -34, -35)  # fmt: skip
PLACEBO = (1, 1, 2, 2, 3, 4, 4, 5, 5, 8, 8, 8, 8, 11, 11, 12, 12, 15, 17, 22, 23)
PAIRS = ((10, 1), (7, 22), (-32, 3), (23, 12), (22, 8), (6, 17), (16, 2), (-34, 11), (-32, 8),
         (-25, 12), (-11, 2), (-20, 5), (-19, 4), (6, 15), (-17, 8), (-35, 23), (6, 5), (13, 11),
         (-9, 4), (-6, 1), (-10, 8))  # fmt: skip
PARTIAL_PAIRS = (1, 6, 12, 16, 17)

# Therneau, Software validation (survival package vignette), "test data 1": time, event, x.
SIX = ((1, 1, 1), (1, 0, 1), (6, 1, 1), (6, 1, 0), (8, 0, 0), (9, 1, 0))

# Kardaun 1983, larynx cancer; printed in Klein & Moeschberger, Survival Analysis, section 1.8:
# years from treatment by stage, + = censored.
LARYNX = (
    "0.6 1.3 2.4 2.5+ 3.2 3.2+ 3.3 3.3+ 3.5 3.5 4 4 4.3 4.5+ 4.5+ 5.3 5.5+ 5.9+ 5.9+ 6 6.1+ "
    "6.2+ 6.4 6.5 6.5+ 6.7+ 7+ 7.4 7.4+ 8.1+ 8.1+ 9.6+ 10.7+",
    "0.2 1.8 2 2.2+ 2.6+ 3.3+ 3.6 3.6+ 4 4.3+ 4.3+ 5+ 6.2 7 7.5+ 7.6+ 9.3+",
    "0.3 0.3 0.5 0.7 0.8 1 1.3 1.6 1.8 1.9 1.9 3.2 3.5 3.7+ 4.5+ 4.8+ 4.8+ 5 5+ 5.1+ 6.3 6.4 "
    "6.5+ 7.8 8+ 9.3+ 10.1+",
    "0.1 0.3 0.4 0.8 0.8 1 1.5 2 2.3 2.9+ 3.6 3.8 4.3+",
)


def lives(signed: tuple[float, ...]) -> tuple[np.ndarray, np.ndarray]:
    """Durations and ends from numbers that are negative where censored."""
    values = np.array(signed, dtype=float)
    return np.abs(values), (values > 0).astype(int)


@pytest.fixture
def remission() -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Durations, ends and groups (1: mercaptopurine) of the 42 patients."""
    duration, observed = lives(MERCAPTOPURINE + PLACEBO)
    return duration, observed, np.repeat([1, 0], [len(MERCAPTOPURINE), len(PLACEBO)])


@pytest.fixture
def remission_pairs() -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Durations, ends, groups, pair and remission status of the 42 patients."""
    duration, observed = lives(tuple(value for pair in PAIRS for value in pair))
    pair = np.repeat(np.arange(1, len(PAIRS) + 1), 2)
    status = np.where(np.isin(pair, PARTIAL_PAIRS), 1, 2)
    return duration, observed, np.tile([1, 0], len(PAIRS)), pair, status


@pytest.fixture
def larynx() -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Times, ends and stages (0 to 3) of the 90 patients."""
    words = [(word, stage) for stage, line in enumerate(LARYNX) for word in line.split()]
    return (
        np.array([float(word.rstrip("+")) for word, _ in words]),
        np.array([int(not word.endswith("+")) for word, _ in words]),
        np.array([stage for _, stage in words]),
    )


@pytest.fixture
def six() -> np.ndarray:
    """Time, end and x of the six subjects, one row each."""
    return np.array(SIX, dtype=float)
