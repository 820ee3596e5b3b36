"""What the cycling rows say of the moment of a spectrum: rest, potentials, temperature."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

FARTHEST_S = 3600.0
"""Rows further than this from the sweep say nothing of it."""
_COLUMNS = {"cell": "cell_V", "positive": "positive_V", "negative": "negative_V"}


@dataclass(frozen=True)
class Surroundings:
    """Before and after one sweep.

    Attributes
    ----------
    potential_V : dict of str to float
        Of each pair known, at rest right before the sweep [V].
    change_mV : dict of str to float
        Potential right after the sweep less that before, of each pair known at both [mV].
    rest_h : float or None
        Time without current before the sweep [h].
    temperature_degC : float or None
        Temperature before the sweep [degC].
    """

    potential_V: dict[str, float] = field(default_factory=dict)
    change_mV: dict[str, float] = field(default_factory=dict)
    rest_h: float | None = None
    temperature_degC: float | None = None


def surroundings_of(
    series: dict[str, np.ndarray], *, time_s: float, duration_s: float, zero_mA: float
) -> Surroundings:
    """Look at the rows around a sweep.

    Parameters
    ----------
    series : dict of str to numpy.ndarray
        Columns of the table series, by rising time.
    time_s : float
        Start of the sweep [s].
    duration_s : float
        Its shortest possible duration [s].
    zero_mA : float
        Currents up to this size are rest [mA].

    Returns
    -------
    Surroundings
        Empty where the last row before the sweep is far away or carries current.
    """
    times = series["time_s"]
    if not np.isfinite(time_s) or not len(times):
        return Surroundings()
    before = int(np.searchsorted(times, time_s, side="right")) - 1
    flowing = ~(np.abs(series["current_mA"]) <= zero_mA)
    if before < 0 or flowing[before] or time_s - times[before] > FARTHEST_S:
        return Surroundings()
    last_current = np.flatnonzero(flowing[:before])
    since = times[last_current[-1]] if len(last_current) else None
    rest = {
        pair: float(series[column][before])
        for pair, column in _COLUMNS.items()
        if np.isfinite(series[column][before])
    }
    end_s = time_s + duration_s
    after = int(np.searchsorted(times, end_s, side="left"))
    change: dict[str, float] = {}
    still = after < len(times) and times[after] - end_s <= FARTHEST_S
    if still and not np.any(flowing[before : after + 1]):
        change = {
            pair: 1000 * float(series[_COLUMNS[pair]][after] - value)
            for pair, value in rest.items()
            if np.isfinite(series[_COLUMNS[pair]][after])
        }
    temperature = float(series["temperature_degC"][before])
    return Surroundings(
        rest,
        change,
        None if since is None else (time_s - float(since)) / 3600.0,
        temperature if np.isfinite(temperature) else None,
    )
