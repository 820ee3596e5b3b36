"""What the spectra of both electrodes say of the place of their reference.

A misplaced reference adds to the spectrum of one electrode what it takes from that of the other,
so that the cell's spectrum and additivity are untouched; and what it adds is linear and causal,
so that the Kramers-Kronig test passes. The shape gives it away: the real part of an electrode
made of resistances, capacitances and diffusion never falls towards low frequency, and its
imaginary part is inductive only where the lead is.

References
----------
M. Ender, A. Weber, E. Ivers-Tiffee, J. Electrochem. Soc. 159 (2012) A128 (loops and scaling by
the place of the reference). That both electrodes mirror each other follows from Kirchhoff's rule.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from trivet.science.impedance.electrode_shape import (
    Electrode,
    longest_loop,
    mirror_correlation,
    ohmic_share,
    polarisation_factor,
    real_part_fall_percent,
)
from trivet.science.impedance.verdict import Check, Limits, graded

NAME = "suspect reference geometry"
"""How every reason of this family starts."""
GEOMETRY_CHECKS = (
    "inductive loop",
    "falling real part",
    "polarisation out of family",
    "mirror features",
    "share of ohmic resistance",
    "change of ohmic share",
    "reference geometry",
)
"""Names of the checks of this family."""
NOISE_MULTIPLE = 6.0
"""A fall of the real part counts beyond this many times the scatter; common practice."""


@dataclass(frozen=True)
class OwnOhmic:
    """Resistance of each electrode outside the electrolyte: contact and electrons [ohm].

    Attributes
    ----------
    positive_ohm, negative_ohm : float or None
        None where a person has not declared it.
    """

    positive_ohm: float | None = None
    negative_ohm: float | None = None


def geometry_checks(
    electrodes: Mapping[str, Electrode],
    *,
    limits: Limits,
    expected_share: float = 0.5,
    first_share: float | None = None,
    own_ohmic: OwnOhmic | None = None,
    expected_polarisation_ohm: Mapping[str, float | None] | None = None,
) -> dict[str, tuple[Check, ...]]:
    """Hold the electrodes of one measurement against the shapes of a well placed reference.

    Parameters
    ----------
    electrodes : mapping of str to Electrode
        By pair, `positive` and `negative`, or one of them.
    limits : Limits
        Thresholds.
    expected_share : float
        Share of the positive in the resistance of the electrolyte, from the separators on each
        side; all between a half and it is expected too [1].
    first_share : float or None
        The same share in the first good measurement of the cell [1].
    own_ohmic : OwnOhmic or None
        Contact and electronic resistance of each electrode. A positive may hold most of the ohmic
        resistance by these, with its reference in the middle of the separator: so the share is
        judged only where both are declared, and without them.
    expected_polarisation_ohm : mapping of str to float or None
        Polarisation resistance by pair, from symmetric or half cells at like state of charge.

    Returns
    -------
    dict of str to tuple of Check
        By pair. What is wrong with one electrode is said of the other too: it has the same
        reference.
    """
    wanted = expected_polarisation_ohm or {}
    own = {
        pair: (
            _loop(one, limits),
            _fall(one, limits),
            _family(one, wanted.get(pair), limits),
        )
        for pair, one in electrodes.items()
    }
    both = _of_both(electrodes, limits, expected_share, first_share, own_ohmic or OwnOhmic())
    seen = {pair for pair, checks in own.items() if any(c.is_reason for c in checks)}
    return {
        pair: (*checks, *both, *(_seen_in(other) for other in sorted(seen - {pair})))
        for pair, checks in own.items()
    }


def _seen_in(other: str) -> Check:
    """Say that the other electrode has a fault of the common reference."""
    text = f"{NAME}: seen in the {other}, which has the same reference"
    return Check("reference geometry", "suspect", text)


def _of_both(
    electrodes: Mapping[str, Electrode],
    limits: Limits,
    expected_share: float,
    first_share: float | None,
    own: OwnOhmic,
) -> list[Check]:
    """Checks that need both electrodes: mirror features, share of ohmic resistance."""
    if set(electrodes) != {"positive", "negative"}:
        void = "one electrode only"
        names = ("mirror features", "share of ohmic resistance", "change of ohmic share")
        return [Check(name, "not testable", void) for name in names]
    mirror = mirror_correlation(electrodes["positive"], electrodes["negative"])
    share = ohmic_share(electrodes)
    checks = [
        graded(
            "mirror features",
            None if mirror is None else -mirror,
            suspect=limits.mirror_correlation,
            text=f"{NAME}: features of opposite sign in both electrodes, correlation",
            void="no systematic residuals in both electrodes",
        )
    ]
    low, high = sorted((0.5, expected_share))
    liquid = _electrolyte_share(electrodes, own)
    off = None if liquid is None else max(low - liquid, liquid - high, 0.0)
    where = "" if liquid is None else f"of the electrolyte {liquid:.2f} in the positive,"
    checks.append(
        graded(
            "share of ohmic resistance",
            off,
            suspect=limits.ohmic_share_off,
            text=f"{NAME}: share of the resistance {where} off what is expected by",
            void="contact and electronic resistance of both electrodes are not declared (settings "
            "impedance.positive_ohmic_ohm and negative_ohmic_ohm), or a spectrum has no ohmic part",
        )
    )
    change = None if share is None or first_share is None else abs(share - first_share)
    checks.append(
        graded(
            "change of ohmic share",
            change,
            suspect=limits.ohmic_share_change,
            text=f"{NAME}: share of ohmic resistance changed since the first measurement by",
            void="no earlier measurement",
        )
    )
    return checks


def _electrolyte_share(electrodes: Mapping[str, Electrode], own: OwnOhmic) -> float | None:
    """Share of the positive in the ohmic resistance less what is not of the electrolyte [1]."""
    both = [electrodes[pair].ohmic_ohm for pair in ("positive", "negative")]
    if own.positive_ohm is None or own.negative_ohm is None or None in both:
        return None
    left = [
        max(value - part, 0.0)
        for value, part in zip(both, (own.positive_ohm, own.negative_ohm), strict=True)
        if value is not None
    ]
    return left[0] / sum(left) if sum(left) > 0 else None


def _loop(one: Electrode, limits: Limits) -> Check:
    """Loop of inductive sign at middle frequency."""
    return graded(
        "inductive loop",
        float(longest_loop(one.trace, limits=limits)),
        suspect=limits.loop_points - 0.5,
        text=f"{NAME}: inductive loop, points",
        shown_limit=float(limits.loop_points),
    )


def _fall(one: Electrode, limits: Limits) -> Check:
    """Real part that falls towards low frequency by more than it scatters."""
    limit = max(limits.real_fall_percent, NOISE_MULTIPLE * one.scatter_percent)
    return graded(
        "falling real part",
        real_part_fall_percent(one.trace),
        suspect=limit,
        text=f"{NAME}: real part falls towards low frequency by",
        unit="%",
    )


def _family(one: Electrode, expected_ohm: float | None, limits: Limits) -> Check:
    """Polarisation resistance far from what cells without this reference have."""
    factor = polarisation_factor(one.polarisation_ohm, expected_ohm=expected_ohm)
    return graded(
        "polarisation out of family",
        factor,
        suspect=limits.polarisation_factor,
        text=f"{NAME}: polarisation resistance off what is expected by a factor of",
        void="no polarisation resistance is expected in the settings",
    )
