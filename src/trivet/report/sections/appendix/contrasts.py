"""Every contrast on the other clock, what may turn a verdict, orders, numbers of the build."""

from __future__ import annotations

from typing import Any

from trivet.report.frame.data import ReportData, Row
from trivet.report.frame.printed import PrintedTable, figure, made, print_table, words
from trivet.report.frame.section import Section
from trivet.report.frame.wording import (
    MISSING,
    clock_unit,
    count,
    interval,
    number,
    p_value,
    unit,
)
from trivet.report.sections.comparison import (
    contrasts,
    doubts,
    pooled,
    single_causes,
    without_p,
)


def other_contrasts(data: ReportData) -> dict[str, Any]:
    """Contrasts on the clock that decides nothing, and tests that may turn a verdict."""
    rows = [row for row in data.rows["comparisons"] if row["clock"] != data.clock]
    caption = (
        "The same contrasts on the clock that decides nothing: where it says otherwise than the "
        "primary one, lives in hours and in cycles do not tell the same. From comparisons."
    )
    reason = "No contrast on another clock than the primary one: lives are known on that alone."
    tests = contrasts(data, rows, caption=caption, reason=reason, judged=False)
    other = [row for row in data.rows["pooled"] if row["clock"] != data.clock]
    return {
        "tests": tests,
        "doubts": doubts(data),
        "without_p": without_p(data),
        "single_causes": single_causes(data),
        "looks": looks(data),
        "orders": orders(data),
        "covariates": covariates(data),
        "covariate_tests": covariate_tests(data),
        "pooled": pooled(data, other),
    }


_LOOKS = {"weekly": "Weekly looks", "final": "The look at the planned end"}
"""What the table of looks holds, by the setting."""


def looks(data: ReportData) -> PrintedTable:
    """Looks at which something could have been shown, with what each was allowed."""
    rows = [row for row in data.rows["looks"] if row["boundary"] is not None]
    return print_table(
        rows,
        [
            words("life of", "endpoint"),
            made("contrast", lambda row: f"{row['groups']} / {row['control']}"),
            words("look", "look"),
            figure("share of the planned time", "fraction", number),
            figure("p of this look", "p", p_value),
            figure("shows a difference up to p", "nominal_level", p_value),
            figure("level spent", "spent", p_value),
            figure("level to spend", "may_spend", p_value),
            made("", lambda row: "crossed" if row["crossed"] else ""),
        ],
        caption=f"{_LOOKS[data.settings.comparison.looks]}, with the p up to which a difference is "
        "shown, the largest that these cells can give and may; several groups together are tested "
        "for closed testing. Where relabellings are drawn here, p differs from that of all of them "
        "in its last digits. Looks at which nothing could have been shown are left out. From "
        "looks.",
        reason="No looks: no planned end is set, it is the planned end alone that counts and has "
        "not come, or nothing could have been shown yet.",
        sources=("looks",),
        small=True,
    )


def orders(data: ReportData) -> PrintedTable:
    """Trends along factors whose values have an order."""
    return print_table(
        data.rows["order_trends"],
        [
            made("life of, in", _life),
            words("factor", "factor"),
            words("order", "order"),
            made("cells ended", lambda row: f"{row['events']} of {row['cells']}", numeric=True),
            words("lives along it", "direction"),
            figure("exact p", "p", p_value),
            figure("smallest p", "smallest_attainable_p", p_value),
            made("relabellings", _relabellings, numeric=True),
            words("remark", "reason"),
        ],
        caption="Trend along the order of a factor: log-rank scores of the lives times places in "
        "the order, against every relabelling within batches. Descriptive: no verdict and no "
        "adjusted p rests on it. From order_trends.",
        sources=("order_trends",),
        reason="No trend: comparison.ordered names no factor.",
        small=True,
    )


def covariates(data: ReportData) -> PrintedTable:
    """Numbers of the build by group."""
    rows = sorted(
        data.rows["covariates"],
        key=lambda row: (row["covariate"], row["factor"] != data.factor, row["factor"],
                         row["group"] != row["control"], row["group"]),
    )  # fmt: skip
    return print_table(
        rows,
        [
            words("number", "covariate"),
            made("unit", lambda row: unit(row["unit"]) or MISSING),
            words("factor", "factor"),
            words("group", "group"),
            figure("cells", "cells", count),
            figure("without", "missing_cells", count),
            figure("median", "median", lambda value: number(value, 4)),
            made("range", _range, numeric=True),
            made("beside the control", _beside),
        ],
        caption="Numbers of the build by group, of included cells. 'Apart': no value of the group "
        "lies in the range of its control, so that an effect of one can't be told from that of "
        "the other; with the probability of this among so few cells by chance. From covariates.",
        sources=("covariates",),
        reason="No number of the build is held beside the groups: comparison.covariates names "
        "none.",
        small=True,
    )


def covariate_tests(data: ReportData) -> PrintedTable:
    """Numbers of the build against the lives."""
    return print_table(
        [row for row in data.rows["covariate_tests"] if row["p"] is not None],
        [
            words("number", "covariate"),
            made("life of, in", _life),
            words("within", "within"),
            made("cells ended", lambda row: f"{row['events']} of {row['cells']}", numeric=True),
            figure("correlation with life", "correlation", lambda value: number(value, 2)),
            figure("exact p", "p", p_value),
            made("relabellings", _relabellings, numeric=True),
            made("remark", _remark),
        ],
        caption="Whether lives follow a number of the build, within groups and batches: ranks of "
        "the number with log-rank scores of the lives, running cells included, against every "
        "relabelling. Above 0: cells with more of it last longer. Descriptive, one test for each "
        "number and not adjusted; it is no verdict and turns none. Numbers that differ within no "
        "group and batch are left out. From covariate_tests.",
        sources=("covariate_tests",),
        reason="No number of the build is held beside the lives: comparison.covariates names none, "
        "or none differs within a group and batch.",
        small=True,
    )


def _remark(row: Row) -> str:
    """Why there is no number, or what it may stand for."""
    stands = f"may show {row['stands_for']}: its groups lie apart" if row["stands_for"] else ""
    return str(row["reason"] or stands or MISSING)


def _life(row: Row) -> str:
    """Endpoint and clock of a row."""
    return f"{row['endpoint']}, {clock_unit(row['clock'])}"


def _range(row: Row) -> str:
    """Lowest and highest value."""
    return interval(row["lowest"], row["highest"], 4) if row["cells"] else MISSING


def _beside(row: Row) -> str:
    """Whether the range of a group lies apart from that of its control."""
    if row["group"] == row["control"]:
        return "control"
    return f"apart (by chance {p_value(row['chance_apart'])})" if row["aliased"] else "overlaps"


def _relabellings(row: Row) -> str:
    """Size of the reference set, and how many of it were drawn."""
    size = number(row["permutations"], 3)
    return f"{count(row['draws'])} of {size}" if row["draws"] else size


SECTION = Section("contrasts", "Further contrasts", other_contrasts, place=60)
