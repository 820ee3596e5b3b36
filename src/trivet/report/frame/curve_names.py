"""Names of cells at the ends of their curves, as many as there is room for."""

from __future__ import annotations

from collections.abc import Mapping

from matplotlib.axes import Axes

from trivet.report.frame.style import INK

_WIDE, _HIGH = 0.11, 0.10
"""Room that a name needs, as shares of its panel [1]."""
_POINTS = 5.0


def name_ends(axes: Axes, ends: Mapping[str, tuple[float, float]]) -> None:
    """Write the name of each cell beside the end of its curve; where two would meet, the later.

    Parameters
    ----------
    axes : matplotlib.axes.Axes
        A panel whose limits are set.
    ends : mapping of str to (float, float)
        End of the curve of each cell, in the units of the panel.
    """
    (left, right), (bottom, top) = axes.get_xlim(), axes.get_ylim()
    taken: list[tuple[float, float]] = []
    for cell, (x, y) in sorted(ends.items(), key=lambda one: (-one[1][0], one[0])):
        across = (x - left) / (right - left)
        up = min(max((y - bottom) / (top - bottom), 0.04), 0.96)
        meets = any(abs(across - a) < _WIDE and abs(up - b) < _HIGH for a, b in taken)
        if meets or across > 1.0 - _WIDE / 2.0:
            continue
        taken.append((across, up))
        axes.annotate(
            cell, (across, up), xycoords="axes fraction", xytext=(1.5, 0.0),
            textcoords="offset points", va="center", color=INK, fontsize=_POINTS,
        )  # fmt: skip
