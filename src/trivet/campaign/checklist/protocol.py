"""Items of the reporting checklist on how the cells were measured."""

from __future__ import annotations

from collections.abc import Sequence

from trivet.campaign.checklist.points import Row, known, sheet, spread, values_in_words
from trivet.campaign.checklist.record import Item, Recorded


def protocol_items(r: Recorded) -> list[Item]:
    """Items of the protocol.

    Parameters
    ----------
    r : Recorded
        What the campaign has recorded.
    """
    return [*_cycling(r), *_instruments(r)]


def _cycling(r: Recorded) -> list[Item]:
    """Items of rest, temperature, voltage and current."""
    cells, given, cycles = r.cells, r.cycling, r.tables["cycles"]
    formation = r.cycles_of("formation")
    measured_temperature = any("temperature from" in row["assumed"] for row in r.files("cycling"))
    shares = [row["constant_voltage_share"] for row in cycles if row["constant_voltage_share"]]
    rate_mA = given.ageing_rate * given.capacity_basis_mAh
    cut_off = sheet(cells, "cut-off current", "constant_voltage_cut_off_mA", unit="mA")
    none = known("cut-off current", "no constant-voltage part was seen")
    return [
        ("Rest and formation", "build sheet, raw data", [
            sheet(cells, "wetted", "wetted_at"),
            known("first rest in the data", _first_rest(r), "start the record before the current"),
            known("formation cycles", _formation(formation, len(cells)),
                  "set cycling.check_up_rate as the formation is done"),
        ]),
        ("Temperature", "build sheet, raw data", [
            sheet(cells, "set point", "temperature_set_degC", unit="°C"),
            known("measured", "a column of the raw files" if measured_temperature else None,
                  "record a channel of temperature beside the cells (was not measured)"),
        ]),
        ("Voltage window", "raw data", [
            known("limits", f"{given.lower_voltage_V:g} to {given.upper_voltage_V:g} V (settings)"),
            known("seen", _window(cycles), "raw cycling files"),
            sheet(cells, "which voltage is controlled", "controlled_voltage"),
        ]),
        ("Current", "raw data, computed", [
            known("ageing", f"{rate_mA:g} mA, {given.ageing_rate:g} per hour of "
                  f"{given.capacity_basis_mAh:g} mAh ({given.capacity_basis_origin})"),
            known("rate seen", spread([row["c_rate"] for row in r.cycles_of("ageing")], "1/h"),
                  "raw cycling files"),
        ]),
        ("Constant voltage", "raw data", [
            known("share of the charge", spread(shares) if shares else "none seen"),
            cut_off if shares else none,
        ]),
    ]  # fmt: skip


def _instruments(r: Recorded) -> list[Item]:
    """Items of cycler and impedance."""
    cells, spectra = r.cells, r.tables["spectra"]
    return [
        ("Instrument", "person, raw data", [
            sheet(cells, "class and current range", "instrument"),
            sheet(cells, "accuracy", "instrument_accuracy"),
            known("mean interval of the rows", _interval(r.files("cycling")),
                  "raw cycling files with times"),
        ]),
        ("Impedance", "impedance, build sheet", [
            known("frequencies", _frequencies(r.frequencies_Hz), "impedance files"),
            known("points a spectrum", spread([row["points"] for row in spectra]),
                  "impedance files"),
            sheet(cells, "amplitude", "impedance_amplitude_mV", unit="mV"),
            sheet(cells, "state of charge", "impedance_state_of_charge"),
            known("pairs", values_in_words([row["pair"] for row in spectra]),
                  "impedance files"),
            known("validity", f"Kramers-Kronig, rejected above {r.trust.kk_rejected_percent:g} %"
                  if spectra else None, "impedance files"),
        ]),
    ]  # fmt: skip


def _first_rest(r: Recorded) -> str:
    """Length of the first phase of each cell where it is a rest."""
    first: dict[str, Row] = {}
    for row in r.tables["timeline"]:
        if row["track"] == "phase":
            first.setdefault(row["cell"], row)
    rests = [row["end_h"] - row["start_h"] for row in first.values() if row["state"] == "rest"]
    return spread(rests, "h")


def _formation(cycles: Sequence[Row], cells: int) -> str:
    """Formation cycles and their rates."""
    if not cycles:
        return ""
    rates = spread([row["c_rate"] for row in cycles], "1/h")
    return f"{len(cycles)} in {cells} cells at {rates}"


def _window(cycles: Sequence[Row]) -> str:
    """Lowest and highest voltage of complete cycles."""
    ends = [(row["lowest_voltage_V"], row["highest_voltage_V"]) for row in cycles
            if row["complete"] and row["lowest_voltage_V"] is not None]  # fmt: skip
    if not ends:
        return ""
    lows, highs = zip(*ends, strict=True)
    return f"complete cycles from {min(lows):.3f} to {max(highs):.3f} V"


def _interval(files: Sequence[Row]) -> str:
    """Mean time between rows of each file."""
    times = [
        (row["last_time_s"] - row["first_time_s"]) / (row["rows_used"] - 1)
        for row in files
        if row["rows_used"] > 1 and row["last_time_s"] is not None
    ]
    return spread(times, "s")


def _frequencies(bounds: Sequence[float]) -> str:
    """Range of frequencies."""
    return f"{bounds[0]:g} to {bounds[1]:g} Hz" if bounds else ""
