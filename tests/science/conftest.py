"""Published sets of lives that several tests of the sciences use, as fixtures."""

from __future__ import annotations

import numpy as np
import pytest
from larynx import larynx_lives

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
    return larynx_lives()


@pytest.fixture
def six() -> np.ndarray:
    """Time, end and x of the six subjects, one row each."""
    return np.array(SIX, dtype=float)
