"""Tables of what fades: capacity shared out at each check-up, and how half-cycles end."""

from __future__ import annotations

from trivet.schema.tables.columns import Column, Table, count, number, text, truth
from trivet.schema.tables.shared import CELL

_CYCLES = "trivet.science.cycling.cycles:cycles"
_ATTRIBUTE = "trivet.science.electrodes.attribution:attribute"
_CHANGES = "trivet.science.electrodes.attribution:changes"
_REGISTER = "trivet.science.electrodes.registration:register"
_END = "trivet.science.electrodes.end_points:end_point"
_ATTRIBUTION_ROWS = "trivet.stages.cycling.fading:attribution_table"
_END_ROWS = "trivet.stages.cycling.fading:end_point_table"
_FADING_ROWS = "trivet.stages.fading:run"


def _with_error(name: str, unit: str, meaning: str, computed_by: str) -> tuple[Column, Column]:
    """A quantity and its standard error; the unit stays at the end of both names."""
    stem, _, ending = name.rpartition("_")
    error = f"{stem}_error_{ending}" if unit != "1" else f"{name}_error"
    return (
        number(name, unit, f"{meaning}; missing where not estimable", computed_by),
        number(error, unit, f"standard error of {name}, widened by the misfit", computed_by),
    )


ATTRIBUTION = Table(
    "attribution",
    "a check-up of a cell after the first: what took its capacity since",
    (
        CELL,
        count("cycle", "cycle as in the table cycles", _CYCLES, required=True),
        number("time_h", "h", "start of the cycle, hours since the cell's clock start", _CYCLES),
        count("base_cycle", "check-up that it is compared with", _CYCLES),
        number("capacity_mAh", "mA.h", "discharge capacity of the check-up", _CYCLES),
        number("lost_mAh", "mA.h", "capacity lost since the base: terms and remainder", _ATTRIBUTE),
        *_with_error(
            "lost_to_inventory_mAh", "mA.h", "loss if only lithium had been lost", _ATTRIBUTE
        ),
        *_with_error(
            "lost_to_positive_mAh",
            "mA.h",
            "loss if only active positive had been lost, emptied of lithium",
            _ATTRIBUTE,
        ),
        *_with_error(
            "lost_to_negative_mAh",
            "mA.h",
            "loss if only active negative had been lost, filled as at the top of charge",
            _ATTRIBUTE,
        ),
        *_with_error(
            "lost_to_resistance_mAh",
            "mA.h",
            "loss if only resistances had grown, at the rate of the check-up",
            _ATTRIBUTE,
        ),
        number(
            "remainder_mAh",
            "mA.h",
            "loss less the terms that could be estimated: what acts together, and what could not",
            _ATTRIBUTE,
        ),
        number(
            "lost_to_resistance_at_ageing_rate_mAh",
            "mA.h",
            "loss by grown resistances at the ageing rate, as if they did not depend on current",
            "trivet.science.electrodes.attribution:lost_by",
        ),
        *_with_error(
            "inventory_lost_mAh",
            "mA.h",
            "lithium lost beside that in lost material: shift of the positive less that of the "
            "negative",
            _CHANGES,
        ),
        number(
            "inventory_lost_at_most_mAh",
            "mA.h",
            "the same with lost material full of lithium",
            _ATTRIBUTE,
        ),
        *_with_error("positive_active", "1", "active share left of the positive", _CHANGES),
        *_with_error("negative_active", "1", "active share left of the negative", _CHANGES),
        number(
            "capacity_ratio_change",
            "1",
            "capacity of the negative over that of the positive, by what it was at the base",
            _ATTRIBUTION_ROWS,
        ),
        *_with_error("positive_shift_mAh", "mA.h", "shift of the positive's discharge", _REGISTER),
        *_with_error("negative_shift_mAh", "mA.h", "shift of the negative's discharge", _REGISTER),
        *_with_error("offset_change_mV", "mV", "how far the reference moved", _REGISTER),
        *_with_error("resistance_grown_mV", "mV", "polarisation grown by both", _CHANGES),
        number("positive_misfit_mV", "mV", "robust spread of residuals, worse curve", _REGISTER),
        number("negative_misfit_mV", "mV", "robust spread of residuals, worse curve", _REGISTER),
        text(
            "not_estimable",
            "terms that could not be estimated, separated by commas",
            _ATTRIBUTION_ROWS,
        ),
        text("reason", "why nothing was estimated; empty where something was", _ATTRIBUTION_ROWS),
    ),
    key=("cell", "cycle"),
)

END_POINTS = Table(
    "end_points",
    "a half-cycle of a cell and how it ended",
    (
        CELL,
        count("cycle", "cycle as in the table cycles", _CYCLES, required=True),
        text(
            "half",
            "charge or discharge",
            _END_ROWS,
            required=True,
        ),
        number("time_h", "h", "its last row, hours since the cell's clock start", _END_ROWS),
        number("positive_V", "V", "potential of the positive at the end", _END),
        number("negative_V", "V", "potential of the negative at the end", _END),
        number(
            "positive_slope_V_mAh",
            "V/(mA.h)",
            "size of the slope there, at constant current",
            _END,
        ),
        number(
            "negative_slope_V_mAh",
            "V/(mA.h)",
            "size of the slope there, at constant current",
            _END,
        ),
        text("ended_by", "electrode that ends it: positive, negative or both", _END),
        number(
            "slippage_mAh",
            "mA.h",
            "how far this end has moved on the axis of net charge since the first complete cycle, "
            "without a break",
            _END_ROWS,
        ),
        truth(
            "withheld",
            "1 where potentials are withheld, since the reference is not fit for them",
            _END_ROWS,
            required=True,
        ),
    ),
    key=("cell", "cycle", "half"),
)


_SUMMARY = "trivet.science.electrodes.fading_summary"
_GROUP = f"{_SUMMARY}:group_fading"
_ENDED = f"{_SUMMARY}:ended_share"

FADING = Table(
    "fading",
    "a group and what took the capacity of its cells, at the last check-up of each",
    (
        text("group", "variants of the first factor", _FADING_ROWS, required=True),
        count("cells", "cells with a check-up that could be registered", _GROUP, required=True),
        count("cells_without", "cells of the group without one", _FADING_ROWS, required=True),
        number("lost_mAh", "mA.h", "middle loss of capacity since the first check-up", _GROUP),
        number("share_inventory", "1", "middle share of lost lithium in the loss", _GROUP),
        number("share_positive", "1", "middle share of lost positive", _GROUP),
        number("share_negative", "1", "middle share of lost negative", _GROUP),
        number("share_resistance", "1", "middle share of grown resistance", _GROUP),
        count("cells_inventory", "cells that tell the share of lithium", _GROUP, required=True),
        count("cells_positive", "cells that tell the share of the positive", _GROUP, required=True),
        count("cells_negative", "cells that tell the share of the negative", _GROUP, required=True),
        count("cells_resistance", "cells that tell that of resistance", _GROUP, required=True),
        number("last_h", "h", "middle time of the last check-up of each cell", _FADING_ROWS),
        number("last_earliest_h", "h", "earliest of these times", _FADING_ROWS),
        number("last_latest_h", "h", "latest of these times", _FADING_ROWS),
        number(
            "like_h",
            "h",
            "latest time that half of the cells of every group were followed to, the same for all",
            f"{_SUMMARY}:like_time_h",
        ),
        number(
            "lost_at_like_mAh",
            "mA.h",
            "middle loss of capacity by like_h, linear between check-ups",
            f"{_SUMMARY}:middle",
        ),
        count(
            "cells_at_like",
            "cells with check-ups on both sides of like_h",
            _FADING_ROWS,
            required=True,
        ),
        number("charges_ended_by_positive", "1", "share of charges it ends", _ENDED),
        number("charges_ended_by_negative", "1", "share of charges it ends", _ENDED),
        number("discharges_ended_by_positive", "1", "share of discharges it ends", _ENDED),
        number("discharges_ended_by_negative", "1", "share of discharges it ends", _ENDED),
    ),
    key=("group",),
)
