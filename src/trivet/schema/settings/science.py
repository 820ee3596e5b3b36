"""Settings of electrodes, cycling, reference, trust and impedance."""

from __future__ import annotations

from typing import Literal

from trivet.schema.settings.block import Block, setting
from trivet.schema.settings.spectra import CircuitSettings, SpectrumTrust
from trivet.schema.settings.trends import TrendTrust


class Electrode(Block):
    """One electrode."""

    material: Literal["LFP", "NMC", "NCA", "LCO", "LMO", "LTO", "graphite", "lithium", "other"] = (
        setting(..., "active material", example="LFP", given_to=("impedance",))
    )
    theoretical_capacity_mAh_g: float | None = setting(
        None, "theoretical capacity of the active material", unit="mAh/g", example=169.9, gt=0
    )


class Electrodes(Block):
    """The two electrodes."""

    positive: Electrode = setting(..., "the positive")
    negative: Electrode = setting(
        ...,
        "the negative",
        example={"material": "graphite", "theoretical_capacity_mAh_g": 371.9},
    )
    negative_ohmic_ohm: float | None = setting(
        None,
        "ohmic resistance between negative and reference by which the lowest potential of the "
        "negative is corrected; null: the median of the cell's own spectra of the negative, and "
        "no correction without any",
        unit="ohm",
        example=4.2,
        ge=0,
    )


class Cycling(Block):
    """Half-cycles, cycles and their kinds."""

    capacity_basis_mAh: float = setting(
        ...,
        "capacity that rates refer to; state its origin below",
        unit="mAh",
        example=2.0,
        gt=0,
        given_to=("read",),
    )
    capacity_basis_origin: Literal["design", "theoretical", "measured"] = setting(
        "design", "where the capacity basis comes from"
    )
    zero_current_mA: float = setting(
        0.002, "currents up to this size count as rest", unit="mA", gt=0, given_to=("impedance",)
    )
    ageing_rate: float = setting(
        ..., "rate of the ageing cycles", unit="1/h", example=0.5, gt=0, given_to=("measures",)
    )
    check_up_rate: float = setting(0.1, "rate of formation and check-up cycles", unit="1/h", gt=0)
    rate_tolerance: float = setting(
        0.2, "relative deviation up to which a rate is that rate", gt=0, lt=1
    )
    upper_voltage_V: float = setting(
        ..., "upper limit of the cell voltage", unit="V", example=3.65, given_to=("read",)
    )
    lower_voltage_V: float = setting(
        ..., "lower limit of the cell voltage", unit="V", example=2.5, given_to=("read",)
    )
    longest_gap_s: float = setting(
        600.0, "no integration across a longer gap in the rows", unit="s", gt=0
    )
    dc_delay_s: float = setting(
        10.0, "delay after a current step at which dc resistance is read", unit="s", gt=0
    )
    dc_delay_tolerance_s: float = setting(
        2.0, "refuse dc resistance when no row lies within this of the delay", unit="s", gt=0
    )
    differential_bin_V: float | None = setting(
        None,
        "width of the narrowest bins of potential in which dQ/dV is given; null: what noise and "
        "step of the potentials bear, half-cycle by half-cycle",
        unit="V",
        gt=0,
    )
    efficiency_cycles: int = setting(
        20,
        "first ageing cycles that the mean coulombic efficiency of a cell is taken over",
        ge=1,
        given_to=("measures",),
    )
    switch_bound_share: float = setting(
        0.005,
        "a finding where rows missing at a switch of the current leave more than this share of a "
        "charge open",
        gt=0,
        lt=1,
    )
    constant_voltage_band_V: float = setting(
        0.005,
        "rows this near the voltage limit while the current falls are constant voltage",
        unit="V",
        gt=0,
    )


class Reference(Block):
    """The reference: lithium plated on a copper mesh."""

    substrate: str = setting("copper mesh", "what carries the lithium")
    disc_diameter_mm: float | None = setting(
        None, "diameter of the mesh disc", unit="mm", example=4.0, gt=0
    )
    wire_width_um: float | None = setting(
        None, "width of the mesh wire", unit="um", example=30.0, gt=0
    )
    wire_pitch_um: float | None = setting(None, "pitch of the mesh", unit="um", example=127.0, gt=0)
    wire_area_cm2: float | None = setting(
        None,
        "surface that is plated, where it is no woven mesh of the three sizes above; null: that of "
        "both sets of wires of the mesh",
        unit="cm2",
        gt=0,
    )
    plating_efficiency: float = setting(
        0.8, "share of the plated charge that is usable lithium; an assumption", gt=0, le=1
    )
    channel_resistance_ohm: float | None = setting(
        None,
        "input resistance of the measuring channel; null: not known",
        unit="ohm",
        example=1e10,
        gt=0,
    )
    plating_required: bool = setting(
        True, "true: the reference is 'not plated' until the bench log says plated"
    )
    anchor: Literal["positive rest plateau", "graphite plateau", "negative rest", "none"] | None = (
        setting(
            None,
            "known potential that the reference is held against: rest of a flat positive on its "
            "plateau, lowest plateau of a graphite negative in slow cycles, rest of a lithium "
            "negative, or nothing; null: the plateau of a positive that has one (LFP, LTO), the "
            "rest of a lithium negative, else nothing. Measurements in the bench log count beside "
            "it, and so do the features of curves",
            example="positive rest plateau",
        )
    )
    anchor_potential_V: float | None = setting(
        None,
        "potential of the anchor against lithium; null: 3.425 V for LFP and 1.55 V for LTO at rest "
        "on the plateau, 0.085 V for the plateau of graphite, 0 V for lithium; common practice, "
        "no source",
        unit="V",
        example=3.425,
    )
    anchor_uncertainty_mV: float | None = setting(
        None,
        "standard uncertainty of that potential, by material and temperature; limits hold for what "
        "of an offset is beyond twice this; null: 2 mV for the plateau of a positive, 5 mV for "
        "that of graphite, 1 mV for lithium; common practice, no source",
        unit="mV",
        example=2.0,
        ge=0,
    )
    anchor_state_of_charge_from: float = setting(
        0.2, "anchor holds from this share of the discharge capacity", ge=0, le=1
    )
    anchor_state_of_charge_to: float = setting(
        0.8, "anchor holds up to this share of the discharge capacity", ge=0, le=1
    )
    anchor_rest_s: float = setting(1800.0, "rest before the anchor is read", unit="s", gt=0)


class Trust(SpectrumTrust, TrendTrust):
    """Thresholds of the checks of reference and spectra."""

    offset_suspect_mV: float = setting(
        5.0, "offset from the anchor above which the reference is suspect", unit="mV", gt=0
    )
    offset_lost_mV: float = setting(
        20.0, "offset above which it is lost", unit="mV", gt=0, given_to=("lifetime",)
    )
    no_lithium_mV: float = setting(
        100.0,
        "offset or jump above which the wire is no electrode of lithium any more, so that nothing "
        "measured against it is shown; below it differences and impedances stay",
        unit="mV",
        gt=0,
    )
    drift_suspect_mV_per_day: float = setting(
        1.0, "drift above which it is suspect", unit="mV/d", gt=0
    )
    drift_lost_mV_per_day: float = setting(5.0, "drift above which it is lost", unit="mV/d", gt=0)
    jump_cell_quiet_mV: float = setting(
        5.0,
        "both potentials must jump while the cell voltage moves less than this; a common jump "
        "beyond the limit of loss plus the cell's own step counts at any time",
        unit="mV",
        gt=0,
    )
    jump_suspect_mV: float = setting(5.0, "common jump above which it is suspect", unit="mV", gt=0)
    jump_lost_mV: float = setting(
        20.0, "common jump above which it is lost", unit="mV", gt=0, given_to=("lifetime",)
    )
    closure_suspect_mV: float = setting(
        2.0, "median closure above which it is suspect", unit="mV", gt=0
    )
    closure_lost_mV: float = setting(
        10.0, "median closure above which potentials are not believed", unit="mV", gt=0
    )
    noise_suspect_mV: float = setting(
        0.5, "standard deviation at rest above which it is suspect", unit="mV", gt=0
    )
    noise_lost_mV: float = setting(
        3.0, "standard deviation at rest above which the lead counts as open", unit="mV", gt=0
    )
    charge_left_suspect: float = setting(
        0.5, "share of the plated charge left below which it is suspect", gt=0, lt=1
    )
    charge_left_lost: float = setting(0.2, "share left below which it is not believed", gt=0, lt=1)
    soft_short_near_mV: float = setting(
        5.0, "an electrode within this of the reference may be shorted to it", unit="mV", gt=0
    )
    soft_short_response: float = setting(
        0.05,
        "and is where its share in the response of the cell to current is below this",
        gt=0,
        lt=1,
    )
    soft_short_lasting_h: float = setting(
        1.0, "for longer than this while current flows: lost", unit="h", gt=0
    )
    deposition_near_mV: float = setting(
        10.0,
        "a negative below this is near lithium deposition",
        unit="mV",
        gt=0,
    )
    deposition_uncertainty_mV: float = setting(
        5.0,
        "a negative below 0 V by more than this makes lithium deposition possible; it does not "
        "move with the limits of the offset",
        unit="mV",
        ge=0,
    )
    kk_suspect_percent: float = setting(
        0.5, "Kramers-Kronig rms above which a spectrum is suspect", unit="%", gt=0
    )
    kk_rejected_percent: float = setting(
        1.0, "Kramers-Kronig rms above which it is rejected", unit="%", gt=0
    )
    additivity_suspect_percent: float = setting(
        1.0, "additivity above which it is suspect", unit="%", gt=0
    )
    additivity_rejected_percent: float = setting(
        3.0, "additivity above which it is rejected", unit="%", gt=0
    )


class Impedance(CircuitSettings):
    """Impedance."""

    lowest_frequency_Hz: float = setting(0.0, "points below are not used", unit="Hz", ge=0)
    highest_frequency_Hz: float = setting(1e6, "points above are not used", unit="Hz", gt=0)
    positive_arcs: Literal[1, 2, 3] = setting(
        2, "most arcs in the default model of the positive; the data may choose fewer"
    )
    negative_arcs: Literal[1, 2, 3] = setting(
        2,
        "most arcs in the default model of the negative; where it is lithium a second arc must be "
        "ten apart in time constant, known to 10 % and lower BIC by more than 10",
    )
    cell_arcs: Literal[1, 2, 3] = setting(
        3, "most arcs in the model of the cell, where the arcs of two electrodes overlap"
    )
    diffusion: bool = setting(
        True,
        "whether a diffusion tail is tried: a Warburg element for an electrode, one of free "
        "exponent for the cell",
    )
    inductance: bool = setting(True, "whether a lead inductance is tried")
    starts: int = setting(5, "starting points of each fit", ge=1, le=50)
