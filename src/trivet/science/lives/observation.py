"""What is known of lives besides their durations and whether their ends were seen."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class Observation:
    """How lives were observed; each array has shape (n_cells,), None where it does not apply.

    Attributes
    ----------
    entry : numpy.ndarray or None
        Time from which a cell was under observation, 0 where from the start [unit of durations].
    lower, upper : numpy.ndarray or None
        Last time known good and first known bad, for lives known only between checks; `upper` is
        infinite where the end was not reached [unit of durations].
    stopped : numpy.ndarray or None
        Whether a cell that had not ended was followed no longer, and nobody says why.
    looked_bad : numpy.ndarray or None
        Whether a person stopped it because it looked bad.
    cause : numpy.ndarray or None
        Place of the cause in `causes`, from 1 on; 0 where censored [1].
    causes : tuple of str
        Names of the causes.
    """

    entry: np.ndarray | None = None
    lower: np.ndarray | None = None
    upper: np.ndarray | None = None
    stopped: np.ndarray | None = None
    looked_bad: np.ndarray | None = None
    cause: np.ndarray | None = None
    causes: tuple[str, ...] = ()

    def of(self, own: np.ndarray) -> Observation:
        """The same of some of the cells."""

        def part(values: np.ndarray | None) -> np.ndarray | None:
            return None if values is None else values[own]

        return Observation(
            entry=part(self.entry),
            lower=part(self.lower),
            upper=part(self.upper),
            stopped=part(self.stopped),
            looked_bad=part(self.looked_bad),
            cause=part(self.cause),
            causes=self.causes,
        )

    @property
    def delayed(self) -> bool:
        """Whether any cell entered later."""
        return self.entry is not None and bool(np.any(self.entry > 0))

    @property
    def any_stopped(self) -> bool:
        """Whether of any cell nobody says why it was followed no longer."""
        return self.stopped is not None and bool(np.any(self.stopped))

    @property
    def any_looked_bad(self) -> bool:
        """Whether a person stopped any cell because it looked bad."""
        return self.looked_bad is not None and bool(np.any(self.looked_bad))


PLAIN = Observation()
"""Lives observed from their start, ends seen when they come, nobody stopping a cell."""
