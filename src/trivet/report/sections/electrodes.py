"""What is said of platings and of lithium deposition."""

from __future__ import annotations

from typing import Any

from trivet.report.frame.data import ReportData, Row, where
from trivet.report.frame.printed import PrintedTable, figure, made, print_table, words
from trivet.report.frame.wording import MISSING, as_set, is_missing, number, plural
from trivet.report.sections import cells


def cycling(data: ReportData) -> dict[str, Any]:
    """Contents of the section on capacity and electrodes."""
    return cells.cycling(data) | {"deposition": deposition(data)}


def reference(data: ReportData) -> dict[str, Any]:
    """Contents of the section on references."""
    return cells.reference(data) | {"platings": platings(data)}


def deposition(data: ReportData) -> str:
    """Say how often lithium deposition was possible, and by which numbers."""
    if data.settings.electrodes.negative.material == "lithium":
        return "The negative is lithium: its minimum says nothing of deposition."
    trust, ohmic = data.settings.trust, data.settings.electrodes.negative_ohmic_ohm
    rows = where(data.rows["electrode_cycles"], electrode="negative")
    counts = {
        state: sum(row["lithium_deposition"] == state for row in rows)
        for state in ("possible", "near", "no")
    }
    corrected = sorted({row["cell"] for row in rows if not is_missing(row["ohmic_ohm"])})
    everyone = {row["cell"] for row in rows}
    how = (
        f"less the ohmic part of {as_set(ohmic)} Ω"
        if ohmic is not None
        else (
            f"less the ohmic part, by the cell's own spectra in {len(corrected)} of "
            f"{plural(len(everyone), 'cell')}, unknown in the others"
        )
    )
    return (
        f"Lowest potential of the negative in a cycle, {how}: below 0 V by more than "
        f"{as_set(trust.offset_suspect_mV)} mV (lithium deposition possible, not proven) in "
        f"{plural(counts['possible'], 'cycle')}, below {as_set(trust.deposition_near_mV)} mV "
        f"(near) in {plural(counts['near'], 'cycle')}, else in {plural(counts['no'], 'cycle')}."
    )


def platings(data: ReportData) -> PrintedTable:
    """Every plating: charge, thickness, and the expected life beside the observed one."""
    efficiency = as_set(data.settings.reference.plating_efficiency)
    return print_table(
        data.rows["plating"],
        [
            words("cell", "cell"),
            figure("no.", "plating", number),
            figure("at [h]", "time_h", number),
            made("charge [µAh]", _charge, numeric=True),
            figure("on surface [mAh/cm²]", "charge_per_area_mAh_cm2", number),
            figure("thickness [µm]", "thickness_um", number),
            made("left at most [%]", _left, numeric=True),
            figure("expected life at most [h]", "expected_life_h", number),
            made("observed life [h]", _observed, numeric=True),
        ],
        caption="Platings. Thickness as if all charge were dense lithium. Charge left and expected "
        f"life are upper bounds, with {efficiency} of the charge usable (an assumption) and the "
        "measuring channels as the only drain: corrosion and water take more. From plating.",
        reason="No platings: the bench log has none.",
        small=True,
    )


def _charge(row: Row) -> str:
    """Charge of a plating in the unit that suits it."""
    return MISSING if is_missing(row["charge_mAh"]) else number(1000.0 * row["charge_mAh"])


def _left(row: Row) -> str:
    """Share left in percent."""
    return MISSING if is_missing(row["left_share"]) else number(100.0 * row["left_share"])


def _observed(row: Row) -> str:
    """Observed life; one without a loss goes on."""
    text = number(row["observed_life_h"])
    return f"{text} (lost)" if row["lost"] else f"{text} or more"
