"""Lives of cells, their groups, and what is known of how they were observed."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from typing import Any, Self

import numpy as np


@dataclass(frozen=True, kw_only=True)
class Lives:
    """Lives of one endpoint on one clock; each array has shape (n_cells,).

    Attributes
    ----------
    duration : numpy.ndarray
        Times to the end or to the last sight [any unit].
    observed : numpy.ndarray
        1 where the end was seen, 0 where censored [1].
    group : numpy.ndarray
        Number of the group, 0 for the control [1].
    batch : numpy.ndarray or None
        Label of the batch, the stratum of stratified tests; None where there is one batch.
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

    duration: np.ndarray
    observed: np.ndarray
    group: np.ndarray
    batch: np.ndarray | None = None
    entry: np.ndarray | None = None
    lower: np.ndarray | None = None
    upper: np.ndarray | None = None
    stopped: np.ndarray | None = None
    looked_bad: np.ndarray | None = None
    cause: np.ndarray | None = None
    causes: tuple[str, ...] = ()

    def of(self, own: np.ndarray, *, group: np.ndarray | None = None) -> Self:
        """Some of the cells.

        Parameters
        ----------
        own : numpy.ndarray
            Which, shape (n_cells,).
        group : numpy.ndarray or None
            Other numbers of their groups, shape (n_own,) [1].
        """
        given = {each.name: getattr(self, each.name) for each in fields(self)}
        part: dict[str, Any] = {
            name: value[own] for name, value in given.items() if isinstance(value, np.ndarray)
        }
        return replace(self, **part | ({} if group is None else {"group": group}))

    def unstratified(self) -> Self:
        """The same without batches."""
        return replace(self, batch=None)

    @property
    def arms(self) -> dict[str, Any]:
        """Ends, groups and strata, as the tests of lives take them."""
        return {"observed": self.observed, "group": self.group, "stratum": self.batch}

    @property
    def entered(self) -> np.ndarray | None:
        """Times of entry; None where every cell was observed from its start."""
        return self.entry if self.delayed else None

    @property
    def delayed(self) -> bool:
        """Whether any cell entered later."""
        return self.entry is not None and bool(np.any(self.entry > 0))

    @property
    def between_checks(self) -> bool:
        """Whether lives are known between checks only."""
        return self.lower is not None

    @property
    def any_stopped(self) -> bool:
        """Whether of any cell nobody says why it was followed no longer."""
        return self.stopped is not None and bool(np.any(self.stopped))

    @property
    def any_looked_bad(self) -> bool:
        """Whether a person stopped any cell because it looked bad."""
        return self.looked_bad is not None and bool(np.any(self.looked_bad))
