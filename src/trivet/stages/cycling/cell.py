"""One cell as the stage cycling sees it: rows on its clock, its anchor."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import UTC, datetime
from functools import cached_property

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from trivet.reasons import AnchorKind
from trivet.schema.cell_facts import CONTACT_FAULT, REFERENCE_CHECKED, CellFacts
from trivet.schema.settings.anchors import anchor_problem, chosen_anchor
from trivet.schema.settings.campaign import Settings
from trivet.schema.settings.science import Cycling, Electrodes, Reference, Trust
from trivet.science.constants import SECONDS_PER_HOUR
from trivet.science.cycling.integrals import without_offset
from trivet.science.cycling.reading_error import noise_V, reading_error_V
from trivet.science.cycling.simultaneous_rows import tie_order
from trivet.science.reference.checks.watched import Anchor, AnchorReadings, no_readings
from trivet.science.reference.record import Record
from trivet.store.arrow_arrays import is_text, text_array, truths
from trivet.store.tables import arrays


@dataclass(frozen=True)
class Cell:
    """One cell with its settings.

    `zero_s` is the Unix time of its hour 0 where known, `moved` the number of rows that were put
    in order within one time; temperatures stand in the order of the raw rows.
    """

    facts: CellFacts
    record: Record
    zero_s: float | None
    derived: str
    settings: Settings
    temperature_degC: np.ndarray
    moved: int = 0

    @property
    def cycling(self) -> Cycling:
        """Settings of its cycles."""
        return self.settings.cycling

    @property
    def electrodes(self) -> Electrodes:
        """Settings of its electrodes."""
        return self.settings.electrodes

    @property
    def reference(self) -> Reference:
        """Settings of its reference."""
        return self.settings.reference

    @property
    def trust(self) -> Trust:
        """Limits of the checks."""
        return self.settings.trust

    @property
    def name(self) -> str:
        """Its id."""
        return self.facts.cell

    @property
    def has_electrodes(self) -> bool:
        """Whether both electrode potentials were measured or derived."""
        known = self.record.positive_V + self.record.negative_V
        return bool(np.isfinite(known).any())

    @cached_property
    def current_mA(self) -> np.ndarray:
        """Current of its rows, 0 where the instrument shows but its offset [mA]."""
        return without_offset(self.record.current_mA, zero_current_mA=self.cycling.zero_current_mA)

    @property
    def potentials_V(self) -> dict[str, np.ndarray]:
        """Voltage of the cell and both potentials of its rows [V]."""
        record = self.record
        return {
            "cell": record.cell_V,
            "positive": record.positive_V,
            "negative": record.negative_V,
        }

    @cached_property
    def noises_V(self) -> dict[str, float]:
        """Noise of each potential [V]."""
        return {
            name: noise_V(values, self.current_mA) for name, values in self.potentials_V.items()
        }

    @cached_property
    def reading_errors_V(self) -> dict[str, float]:
        """Standard error of a single reading of each potential [V]."""
        return {
            name: reading_error_V(values, known_noise_V=self.noises_V[name])
            for name, values in self.potentials_V.items()
        }


def logged_offsets(cell: Cell) -> AnchorReadings:
    """Offsets that people measured, on the cell's clock; none where it can't be placed."""
    if cell.zero_s is None:
        return no_readings()
    found = [
        ((entry.time_s - cell.zero_s) / SECONDS_PER_HOUR, entry.offset_mV, entry.uncertainty_mV)
        for entry in cell.facts.log
        if entry.event == REFERENCE_CHECKED and entry.offset_mV is not None
    ]
    return AnchorReadings(*np.array(found, dtype=np.float64).reshape(-1, 3).T)


def log_time(cell: Cell) -> str:
    """Time at which the rows of a cell begin, as the bench log may state it."""
    if cell.zero_s is None:
        return "2026-01-31T12:00"
    first_s = cell.zero_s + float(cell.record.time_s[0])
    return datetime.fromtimestamp(first_s, tz=UTC).strftime("%Y-%m-%dT%H:%M+00:00")


def contact_faults_h(cell: Cell) -> list[float]:
    """When the log has a contact fault, on the cell's clock [h]."""
    if cell.zero_s is None:
        return []
    return [
        (entry.time_s - cell.zero_s) / SECONDS_PER_HOUR
        for entry in cell.facts.log
        if entry.event == CONTACT_FAULT
    ]


def placed_cell(facts: CellFacts, series: pa.Table, ledger: pa.Table, settings: Settings) -> Cell:
    """The cell with its rows in order on its own clock."""
    record, zero_s, derived, moved = read_record(
        facts, series, ledger, zero_current_mA=settings.cycling.zero_current_mA
    )
    degrees = arrays(series.select(["temperature_degC"]))["temperature_degC"]
    return Cell(facts, record, zero_s, derived, settings, degrees, moved)


def read_record(
    facts: CellFacts, series: pa.Table, ledger: pa.Table, *, zero_current_mA: float
) -> tuple[Record, float | None, str, int]:
    """Rows on the cell's clock in order, its zero in Unix time where known, what was derived.

    The last value is the number of rows that stood in another order within one time.
    """
    columns = arrays(series.select(["time_s", "current_mA", "cell_V", "positive_V", "negative_V"]))
    order = tie_order(columns["time_s"], columns["current_mA"], zero_current_mA=zero_current_mA)
    moved = int(np.count_nonzero(order != np.arange(order.size)))
    if moved:
        columns = {name: values[order] for name, values in columns.items()}
    exchanged = facts.leads_exchanged
    files = ledger.filter(is_text(ledger["content"], "cycling")).to_pylist()
    absolute = all(row["absolute_time"] == "yes" for row in files)
    known = absolute and facts.clock_start_s is not None
    zero_s = float(facts.clock_start_s if known else columns["time_s"][0])  # type: ignore[arg-type]
    derived = [row for row in files if row["derived"]]
    closable = np.full(series.num_rows, not derived)
    if derived and len(derived) < len(files):
        names = text_array([row["file"] for row in derived])
        closable = ~truths(pc.is_in(series["file"], value_set=names))
    record = Record(
        time_s=columns["time_s"] - zero_s,
        current_mA=columns["current_mA"],
        cell_V=columns["cell_V"],
        positive_V=columns["negative_V" if exchanged else "positive_V"],
        negative_V=columns["positive_V" if exchanged else "negative_V"],
        closable=closable[order],
    )
    words = ", ".join(sorted({row["derived"].removesuffix("_V") for row in derived}))
    return record, zero_s if absolute else None, words, moved


def measured(cell: Cell, record: Record) -> tuple[np.ndarray, ...]:
    """Potentials that a channel measured against the reference, so drains it [V]."""
    both = {"positive": record.positive_V, "negative": record.negative_V}
    return tuple(part for key, part in both.items() if key != cell.derived)


def anchor_of(cell: Cell) -> tuple[Anchor, str]:
    """The anchor of the settings, and why there is none where that is so."""
    given = cell.reference
    chosen = chosen_anchor(given, cell.electrodes)
    why = anchor_problem(given, cell.electrodes)
    kind = AnchorKind.NONE if why else chosen.kind
    if kind is AnchorKind.NONE and not why:
        why = "the settings name no anchor"
    return Anchor(
        kind=kind,
        potential_V=chosen.potential_V,
        from_share=given.anchor_state_of_charge_from,
        to_share=given.anchor_state_of_charge_to,
        rest_s=given.anchor_rest_s,
        uncertainty_mV=chosen.uncertainty_mV,
    ), why


def judged(cell: Cell, *, margin_V: float) -> Record:
    """Rows that the reference is judged by: none while the cell voltage is beyond its limits.

    An open or shorted cell drags the potentials along, which is no fault of the reference.
    """
    record, given = cell.record, cell.cycling
    above = record.cell_V > given.upper_voltage_V + margin_V
    beyond = above | (record.cell_V < given.lower_voltage_V - margin_V)
    return replace(
        record,
        positive_V=np.where(beyond, np.nan, record.positive_V),
        negative_V=np.where(beyond, np.nan, record.negative_V),
    )
