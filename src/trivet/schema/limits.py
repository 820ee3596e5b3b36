"""Limits of what anybody can have meant, wherever a value comes from."""

from __future__ import annotations

MOST = 1e12
"""No setting, mass, charge, length or duration of a coin cell is larger, in any of its units."""
FIRST_YEAR, LAST_YEAR = 1990, 2100
"""Years in which a campaign can lie."""
