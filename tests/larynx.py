"""Lives of 90 patients in four stages, which tests of the sciences and of stages use."""

from __future__ import annotations

import numpy as np

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


def larynx_lives() -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Times, ends and stages (0 to 3)."""
    words = [(word, stage) for stage, line in enumerate(LARYNX) for word in line.split()]
    return (
        np.array([float(word.rstrip("+")) for word, _ in words]),
        np.array([int(not word.endswith("+")) for word, _ in words]),
        np.array([stage for _, stage in words]),
    )
