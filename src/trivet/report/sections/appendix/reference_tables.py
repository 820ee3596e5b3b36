"""Last checks of every reference, and every plating."""

from __future__ import annotations

from typing import Any

from trivet.report.frame.data import ReportData, Row, last_states, where
from trivet.report.frame.offset_limits import offset_limits
from trivet.report.frame.printed import (
    PrintedColumn,
    PrintedTable,
    figure,
    made,
    print_table,
    words,
)
from trivet.report.frame.section import PLATINGS, Section
from trivet.report.frame.wording import (
    MISSING,
    as_set,
    interval,
    is_missing,
    number,
    unit,
)
from trivet.report.sections.appendix.lifetime import duration, never_seen


def reference_tables(data: ReportData) -> dict[str, Any]:
    """Last state of each reference, and the last check of each kind."""
    states = last_states(data.rows["timeline"], "reference")
    kinds = data.counted("reference_checks", ("check", "limit", "unit"))
    names = sorted({row["check"] for row in kinds})
    lines = []
    for cell in data.cells:
        own = data.of_cell("reference_checks", cell)
        lines.append(
            {
                "cell": cell,
                "group": data.group_of[cell],
                "state": states.get(cell, "no check"),
                "lives": where(
                    data.of_cell("lifetimes", cell), endpoint="reference", clock="hours"
                ),
                **{name: _telling(where(own, check=name)) for name in names},
            }
        )
    return {
        "table": print_table(
            lines,
            [
                words("cell", "cell"),
                words("group", "group"),
                words("last state", "state"),
                made("life since plating [h]", lambda r: duration(r["lives"]), numeric=True),
                *(_check_column(name, kinds) for name in names),
            ],
            caption="References: the last state, and of each check the value that first lost the "
            "reference, else the last one, with the limit that was used in brackets or in the "
            f"heading. Of the offset: {offset_limits(data).words}. A drift stands with its 95 % "
            "interval where five offsets allow one. A dash: the check could not be made. From "
            "timeline, lifetimes and reference_checks.",
            reason="No references: no cell.",
            sources=("timeline", "lifetimes", "reference_checks"),
            small=True,
        ),
        "platings": platings(data),
    }


def _telling(checks: list[Row]) -> Row | None:
    """The check that first lost a reference, else the last one."""
    lost = where(checks, trust="lost")
    return lost[0] if lost else next(iter(reversed(checks)), None)


def _check_column(name: str, rows: list[Row]) -> PrintedColumn:
    """Last value of one check, its limit in the heading where it is the same for all."""
    unit_name = next(
        (unit(row["unit"]) for row in rows if row["check"] == name and row["unit"]), ""
    )

    limits = {row["limit"] for row in rows if row["check"] == name and row["limit"] is not None}
    shared = f" (limit {number(limits.pop())})" if len(limits) == 1 else ""

    def text(row: Row) -> str:
        check = row[name]
        if check is None or check["value"] is None:
            return MISSING
        limit = f" ({number(check['limit'])})" if check["limit"] is not None and not shared else ""
        if not is_missing(check["lower"]):
            limit = f" [{interval(check['lower'], check['upper'], 2)}]" + limit
        return number(check["value"], 2) + limit

    return made((f"{name} [{unit_name}]" if unit_name else name) + shared, text, numeric=True)


def platings(data: ReportData) -> PrintedTable:
    """Every plating: charge, thickness, and the expected life beside the observed one."""
    efficiency = as_set(data.settings.reference.plating_efficiency)
    lives = {row["cell"]: row for row in where(data.rows["lifetimes"], endpoint="reference",
                                               clock="hours")}  # fmt: skip
    rows = [
        # The life of a first plating is decided once, for all sections: in lifetimes.
        row | {"life": lives[row["cell"]]} if row["plating"] == 1 and row["cell"] in lives else row
        for row in data.rows["plating"]
    ]
    return print_table(
        rows,
        [
            words("cell", "cell"),
            figure("no.", "plating", number),
            figure("at [h]", "time_h", number),
            made("charge [µAh]", _charge, numeric=True),
            figure("on surface [mAh/cm²]", "charge_per_area_mAh_cm2", number),
            figure("thickness [µm]", "thickness_um", number),
            made("left at most [%]", _left, numeric=True),
            made("ceiling by input current [h]", _ceiling, numeric=True),
            figure("implied drain [nA]", "implied_drain_nA", number),
            made("life [h]", _observed, numeric=True),
        ],
        caption="Platings. Thickness as if all charge were dense lithium. Charge left and the "
        f"ceiling of life are no forecasts: with {efficiency} of the charge usable (an assumption) "
        "they hold if measuring channels were the only drain, and corrosion and water take more. "
        "Of a lost reference they are left out, and the implied drain stands instead: the current "
        "that would have used its lithium up in its life. From plating; the life of a first "
        "plating from lifetimes.",
        reason="No platings: the bench log has none.",
        sources=("plating", "lifetimes"),
        small=True,
    )


def _charge(row: Row) -> str:
    """Charge of a plating in the unit that suits it."""
    return MISSING if is_missing(row["charge_mAh"]) else number(1000.0 * row["charge_mAh"])


def _left(row: Row) -> str:
    """Share left in percent."""
    if row["lost"] or is_missing(row["left_share"]):
        return MISSING
    return number(100.0 * row["left_share"])


def _ceiling(row: Row) -> str:
    """Life that the channels alone would allow; not of one that was lost, which tells better."""
    if row["lost"] or is_missing(row["expected_life_h"]):
        return MISSING
    return number(row["expected_life_h"])


def _observed(row: Row) -> str:
    """Observed life; one without a loss goes on."""
    life = row.get("life")
    if life and never_seen(life):
        return MISSING
    lost = bool(life["observed"] if life else row["lost"])
    text = number(life["duration"] if life else row["observed_life_h"])
    return f"{text} (lost)" if lost else f"{text} or more"


SECTION = Section(
    "reference_tables", "References and platings", reference_tables, place=90, needs=PLATINGS
)
