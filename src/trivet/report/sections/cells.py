"""Contents of the sections on capacity, reference and per-cell measures."""

from __future__ import annotations

from typing import Any

from trivet.report.figures.reference import is_offset
from trivet.report.frame.data import ReportData, Row, by, last_states, where
from trivet.report.frame.printed import PrintedColumn, figure, made, print_table, words
from trivet.report.frame.wording import (
    MISSING,
    as_set,
    count,
    interval,
    is_missing,
    number,
    p_value,
    quantity,
    unit,
)
from trivet.report.sections.front import TRUST_ORDER
from trivet.report.sections.lives import duration


def cycling(data: ReportData) -> dict[str, Any]:
    """What is said beside the figures of capacity and electrodes."""
    cycles = data.rows["cycles"]
    rows = data.rows["electrode_cycles"]
    kinds = [(kind, count(len(own))) for kind, own in sorted(by(cycles, "kind").items())]
    cells = sorted({row["cell"] for row in data.rows["cells"]})
    without = [cell for cell in cells if cell not in {row["cell"] for row in cycles}]
    return {
        "kinds": kinds,
        "from_table": data.settings.lifetime.table,
        "basis": f"{as_set(data.settings.cycling.capacity_basis_mAh)} mAh",
        "origin": data.settings.cycling.capacity_basis_origin,
        "without": without,
        "electrode_cycles": count(len(rows)),
        "withheld": count(len(where(rows, withheld=1))),
    }


def reference(data: ReportData) -> dict[str, Any]:
    """Last state of each reference, and the last check of each kind."""
    states = last_states(data.rows["timeline"], "reference")
    checks = by(data.rows["reference_checks"], "cell")
    names = sorted({row["check"] for row in data.rows["reference_checks"]})
    lines = []
    for cell in (c for g in data.groups for c in data.cells_of(g)):
        own = checks.get(cell, [])
        lines.append(
            {
                "cell": cell,
                "group": data.group_of[cell],
                "state": states.get(cell, "no check"),
                "lives": where(
                    data.of_cell("lifetimes", cell), endpoint="reference", clock="hours"
                ),
                **{name: next(iter(reversed(where(own, check=name))), None) for name in names},
            }
        )
    order = [(state, count(sum(s == state for s in states.values()))) for state in TRUST_ORDER]
    return {
        "states": [(state, number) for state, number in order if number != "0"],
        "checked": any(is_offset(row) for row in data.rows["reference_checks"]),
        "table": print_table(
            lines,
            [
                words("cell", "cell"),
                words("group", "group"),
                words("last state", "state"),
                made("life since plating [h]", lambda r: duration(r["lives"]), numeric=True),
                *(_check_column(name, data.rows["reference_checks"]) for name in names),
            ],
            caption="References: the last state, and the last value of each check with its limit "
            "in brackets; a drift with its 95 % interval where five offsets allow one. "
            "A dash: the check could not be made. From timeline, lifetimes and "
            "reference_checks.",
            reason="No references: no cell.",
            small=True,
        ),
    }


def _check_column(name: str, rows: list[Row]) -> PrintedColumn:
    """Last value of one check with its limit."""
    unit_name = next(
        (unit(row["unit"]) for row in rows if row["check"] == name and row["unit"]), ""
    )

    def text(row: Row) -> str:
        check = row[name]
        if check is None or check["value"] is None:
            return MISSING
        limit = f" ({number(check['limit'])})" if check["limit"] is not None else ""
        if not is_missing(check["lower"]):
            limit = f" [{interval(check['lower'], check['upper'], 2)}]" + limit
        return number(check["value"], 2) + limit

    return made(f"{name} [{unit_name}]" if unit_name else name, text, numeric=True)


def measures(data: ReportData) -> dict[str, Any]:
    """Differences of per-cell measures."""
    rows = data.rows["measures"]
    return {
        "table": print_table(
            rows,
            [
                made("measure", _measure_and_unit),
                made("contrast", lambda r: f"{r['group']} / {r['control']}"),
                made("cells", lambda r: f"{r['cells']} v {r['control_cells']}", numeric=True),
                made("missing", _missing, numeric=True),
                figure("difference", "difference", number),
                made("interval", lambda r: interval(r["lower"], r["upper"]), numeric=True),
                figure("p", "p", p_value),
                figure("adjusted", "p_adjusted", p_value),
                figure("smallest p", "smallest_attainable_p", p_value),
                *([words("remark", "reason")] if any(row["reason"] for row in rows) else []),
            ],
            caption="Differences of per-cell measures, group less control, with "
            f"{data.confidence} intervals. 'Missing': cells of both "
            "groups without a value, in brackets those withheld because the reference was not "
            "trusted. The table also has the spread within groups (standard deviation, n − 1) and "
            "how far withheld cells, as extreme as any seen, could move a difference. "
            "Holm's correction covers the contrasts of one measure and "
            "factor; among so many tests one or two p below 0.05 are expected by chance. "
            "From measures.",
            reason="No differences: there is nothing to compare.",
            small=True,
        )
    }


def _measure_and_unit(row: Row) -> str:
    """Name of a measure with its unit."""
    symbol = unit(row["unit"])
    return quantity(row["measure"]) + (f" [{symbol}]" if symbol else "")


def _missing(row: Row) -> str:
    """Cells without a value, and how many of them are withheld."""
    held = row["withheld_cells"]
    return count(row["missing_cells"]) + (f" ({count(held)})" if held else "")
