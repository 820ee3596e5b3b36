"""Effective capacitance of a depressed arc, by the formula that is named.

References
----------
C. H. Hsu, F. Mansfeld, Corrosion 57 (2001) 747 (from memory): C = Q (w_max)^(n-1) = tau/R, for
time constants distributed through a layer. G. J. Brug et al., J. Electroanal. Chem. 176 (1984)
275 (from memory): C = Q^(1/n) (1/R0 + 1/R1)^((n-1)/n), for those distributed along a surface.
B. Hirschorn et al., Electrochim. Acta 55 (2010) 6218 says which belongs to which.
"""

from __future__ import annotations

import math
from typing import Literal

from trivet.science.circuit.fit import SpectrumFit

Formula = Literal["Hsu-Mansfeld", "Brug"]


def arc_capacitance_F(
    *, resistance_ohm: float, time_constant_s: float, exponent: float, ohmic_ohm: float | None
) -> float:
    """Effective capacitance of one arc [F].

    Parameters
    ----------
    resistance_ohm, time_constant_s, exponent : float
        R [ohm], tau [s] and n [1] of the arc; Q = tau^n/R.
    ohmic_ohm : float or None
        Resistance in series, for the formula of Brug; None: that of Hsu and Mansfeld [ohm].
    """
    if ohmic_ohm is None:
        return time_constant_s / resistance_ohm
    admittance = time_constant_s**exponent / resistance_ohm
    conductance = 1 / resistance_ohm + (1 / ohmic_ohm if ohmic_ohm > 0 else math.inf)
    return float(admittance ** (1 / exponent) * conductance ** ((exponent - 1) / exponent))


def effective_capacitances_F(fitted: SpectrumFit, *, formula: Formula) -> dict[str, float]:
    """Effective capacitance of every arc by name, `C1` beside `R1_ohm` [F].

    Parameters
    ----------
    fitted : SpectrumFit
        The fit.
    formula : Formula
        Which formula.
    """
    names, values = fitted.circuit.names, fitted.parameters
    ohmic = float(values[names.index("R0_ohm")]) if "R0_ohm" in names else None
    if formula == "Brug" and ohmic is None:
        return {}
    return {
        "C" + names[at].removeprefix("R").removesuffix("_ohm"): arc_capacitance_F(
            resistance_ohm=float(values[at]),
            time_constant_s=float(values[at + 1]),
            exponent=float(values[at + 2]),
            ohmic_ohm=ohmic if formula == "Brug" else None,
        )
        for at in fitted.circuit.arc_places
    }


def widest_arc(fitted: SpectrumFit) -> str | None:
    """Name of the capacitance of the widest arc; None without arcs.

    Parameters
    ----------
    fitted : SpectrumFit
        The fit.
    """
    places = fitted.circuit.arc_places
    if not places:
        return None
    widest = max(places, key=lambda at: float(fitted.parameters[at]))
    return "C" + fitted.circuit.names[widest].removeprefix("R").removesuffix("_ohm")
