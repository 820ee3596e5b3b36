"""Comparisons: verdicts in words, tests and effects beside the margin."""

from __future__ import annotations

from typing import Any

from matplotlib.axes import Axes
from matplotlib.ticker import NullLocator

from trivet.reasons import TURNING, Direction, Judged, Pooled, of_cause
from trivet.report.frame.data import ReportData, Row, where
from trivet.report.frame.marks import of_groups
from trivet.report.frame.printed import PrintedTable, figure, made, print_table, words
from trivet.report.frame.section import Section
from trivet.report.frame.style import (
    FAINT,
    INK,
    SOFT,
    Absent,
    Drawing,
    Margins,
    new_figure,
    panels,
)
from trivet.report.frame.wording import (
    MISSING,
    as_set,
    clock_unit,
    is_missing,
    listed,
    number,
    p_value,
    plural,
    ratio,
    short,
    shown,
    whole_percent,
)
from trivet.report.sections.reference import unchecked
from trivet.report.sections.summary import why_no_contrast

_CONTRAST = ("endpoint", "clock", "factor", "group", "control")


_CAPTION = (
    "Contrasts: the exact log-rank test, and effects of group over control with their "
    "{} intervals. 'Smallest p': what the clearest "
    "possible result would give with these cells and ends. A dash: no such number, the reason "
    "stands in the table. 'Adjusted p': by closed testing over the contrasts of one endpoint, "
    "clock and factor (more than five: by Holm's method); factors, clocks and endpoints "
    "are not joined. The table also has the asymptotic test, lognormal time ratios and "
    "differences of restricted means. Hazard ratios are descriptive, and so are "
    "time ratios where a group has fewer than four ends. From comparisons."
)


def verdict_title(row: Row) -> str:
    """What is compared, in words."""
    return f"{row['group']} against {row['control']}, {row['endpoint']} life in {row['clock']}"


def comparison(data: ReportData) -> dict[str, Any]:
    """Contrasts on the primary clock, a line each, and their verdicts in words."""
    rows = where(data.rows["comparisons"], clock=data.clock)
    judged = where(rows, measure=Judged.EXACT)
    return {
        "pooled": pooled(data, where(data.rows["pooled"], clock=data.clock)),
        "with_earlier": with_earlier(data),
        "tests": contrasts(
            data,
            rows,
            caption=_CAPTION.format(data.confidence),
            reason=f"No comparison was made: {why_no_contrast(data)}.",
            judged=True,
        ),
        "reasons": [row for row in in_order(data, judged) if row["verdict"]],
        "notes": [*unchecked(data), *_trends(data), *_aliased(data)],
    }


_ALONG = {
    Direction.LONGER.value: "last longer",
    Direction.SHORTER.value: "do not last as long",
    Direction.LEVEL.value: "last the same",
}


def _trends(data: ReportData) -> list[str]:
    """Sentences on factors with an order, on the primary endpoint and clock."""
    rows = where(
        data.rows["order_trends"],
        endpoint=data.settings.comparison.primary_endpoint,
        clock=data.clock,
    )
    said = []
    for row in rows:
        if row["direction"]:
            shown = row["p"] <= 1 - data.settings.comparison.confidence
            along = _ALONG[row["direction"]] if shown else "show no trend"
            said.append(
                f"Along the order {row['order']} of {row['factor']}, {row['endpoint']}s {along} "
                f"(exact p of the trend {p_value(row['p'])}, smallest possible "
                f"{p_value(row['smallest_attainable_p'])}); no verdict rests on this."
            )
        else:
            said.append(f"No trend along the order of {row['factor']}: {row['reason']}.")
    return said


def _aliased(data: ReportData) -> list[str]:
    """One sentence on the numbers of the build that lie apart between groups."""
    rows = where(data.rows["covariates"], aliased=1)
    if not rows:
        return []
    pairs = [f"{row['group']} and {row['control']} in {row['covariate']}" for row in rows]
    return [
        f"Groups that were built unlike: {listed(pairs)}. No value of one lies in the range of the "
        "other, so a difference between them may come from this as well as from the variant."
    ]


def in_order(data: ReportData, rows: list[Row]) -> list[Row]:
    """Rows with the primary endpoint, clock and factor first, groups in the order of figures."""
    return sorted(
        rows,
        key=lambda r: (
            r["endpoint"] != data.settings.comparison.primary_endpoint,
            r["clock"] != data.clock,
            r["factor"] != data.factor,
            data.place_of(r["group"]),
        ),
    )


def contrasts(
    data: ReportData, rows: list[Row], *, caption: str, reason: str, judged: bool
) -> PrintedTable:
    """One line a contrast: its test, and its effects side by side; the verdict where it counts."""
    lines: dict[tuple[str, ...], Row] = {}
    for row in rows:
        key = tuple(row[name] for name in ("endpoint", "clock", "factor", "group", "control"))
        line = lines.setdefault(key, {**row, "verdict": "", "by": {}})
        line["by"][row["measure"]] = row
        line["verdict"] = line["verdict"] or row["verdict"]
    return print_table(
        in_order(data, list(lines.values())),
        [
            made("life of, in", lambda r: f"{r['endpoint']}, {clock_unit(r['clock'])}"),
            made("contrast", _contrast),
            made("cells ended", _ended, numeric=True),
            made("exact p", lambda r: _of(r, Judged.EXACT, "p"), numeric=True),
            made("adjusted p", lambda r: _of(r, Judged.EXACT, "p_adjusted"), numeric=True),
            made(
                "smallest p",
                lambda r: _of(r, Judged.EXACT, "smallest_attainable_p"),
                numeric=True,
            ),
            made("time ratio", lambda r: _effect(r, "time ratio"), numeric=True),
            made("hazard ratio", lambda r: _effect(r, "hazard ratio"), numeric=True),
            *([made("verdict", lambda r: shown(r["verdict"]))] if judged else []),
        ],
        caption=caption,
        reason=reason,
        sources=("comparisons",),
        small=True,
    )


_ASKS = {
    Judged.IMPUTED.value: "groups not followed alike: imputation-permutation test",
    Judged.GROUP_ENDED.value: "stopped cells of {group} ended when stopped, those of {control} "
    "lived on",
    Judged.CONTROL_ENDED.value: "stopped cells of {control} ended when stopped, those of {group} "
    "lived on",
    Judged.LOOKED_BAD.value: "cells that looked bad ended when they were stopped",
}
"""What each measure that may turn a verdict asks, in words."""


def doubts(data: ReportData) -> PrintedTable:
    """Tests that may turn a verdict, on the primary clock."""
    rows = where(data.rows["comparisons"], clock=data.clock)
    turning = [row for row in rows if row["measure"] in list(TURNING) and row["p"] is not None]
    return print_table(
        in_order(data, turning),
        [
            words("life of", "endpoint"),
            made("contrast", _contrast),
            made("taken so", lambda row: _ASKS[row["measure"]].format(**row)),
            figure("p", "p", p_value),
            figure("adjusted p", "p_adjusted", p_value),
            made("time ratio", _ratio_or_why),
        ],
        caption="What may turn a verdict: the test for groups that were not followed alike, and "
        "the contrast with cells that a person stopped taken as ended, or as living on. p: of the "
        "exact log-rank test where nothing else is said. Limits of a time ratio: the wider of two "
        "models, at the confidence that decides on equivalence. From comparisons.",
        reason="Nothing that may turn a verdict: groups were followed alike, and no person stopped "
        "a cell.",
        sources=("comparisons",),
        small=True,
    )


def without_p(data: ReportData) -> list[str]:
    """Sentences on measures that should judge a verdict and have no p."""
    rows = where(data.rows["comparisons"], clock=data.clock)
    none = [row for row in rows if row["measure"] in list(TURNING) and row["p"] is None]
    return [
        f"{verdict_title(row)}: no p with {_ASKS[row['measure']].format(**row)} ({row['reason']})."
        for row in in_order(data, none)
    ]


def single_causes(data: ReportData) -> PrintedTable:
    """Gray's tests of the single causes, a line a contrast, on the primary clock."""
    rows = where(data.rows["comparisons"], clock=data.clock)
    return print_table(
        in_order(data, _causes_together(data, rows)),
        [
            words("life of", "endpoint"),
            made("contrast", _contrast),
            words("p of each cause", "said"),
        ],
        caption="Single causes, the others competing: Gray's tests, asymptotic and descriptive. "
        "From comparisons.",
        reason="No test of single causes: there are not several.",
        sources=("comparisons",),
        small=True,
    )


def _causes_together(data: ReportData, rows: list[Row]) -> list[Row]:
    """Gray's tests of a contrast on one line, each cause with its p."""
    causes = {of_cause(row["cause"]): row["cause"] for row in data.rows["causes"]}
    lines: dict[tuple[str, ...], Row] = {}
    for row in rows:
        if row["measure"] in causes and row["p"] is not None:
            about = tuple(row[name] for name in _CONTRAST)
            line = lines.setdefault(about, {**row, "parts": []})
            line["parts"].append(f"{causes[row['measure']]} {p_value(row['p'])}")
    return [{**line, "said": "; ".join(line["parts"])} for line in lines.values()]


def _ratio_or_why(row: Row) -> str:
    """Time ratio with its limits, or why there is none."""
    if not is_missing(row["estimate"]):
        return ratio(row["estimate"], row["lower"], row["upper"])
    if row["measure"] == Judged.IMPUTED.value:
        return "a test alone, it has none"
    return f"none; {row['reason']}"


def _ratio(row: Row) -> str:
    """Time ratio with its limits, where the row has one."""
    if is_missing(row["estimate"]):
        return MISSING
    return ratio(row["estimate"], row["lower"], row["upper"])


def _contrast(row: Row) -> str:
    """Groups compared, with their factor."""
    if row["control"] == "all":
        return f"{row['factor']}: all groups"
    return f"{row['factor']}: {row['group']} / {row['control']}"


def _ended(row: Row) -> str:
    """Ends and cells of both groups; of all of them together for an overall test."""
    own = f"{row['events']} of {row['cells']}"
    if row["control"] == "all":
        return own
    return f"{own} / {row['control_events']} of {row['control_cells']}"


def _of(row: Row, measure: str, name: str) -> str:
    """Print a p of a measure of a contrast."""
    found = row["by"].get(measure)
    return MISSING if found is None else p_value(found[name])


def _effect(row: Row, measure: str) -> str:
    """Effect with its limits in brackets."""
    found = row["by"].get(measure)
    if found is None or is_missing(found["estimate"]):
        return MISSING
    return ratio(found["estimate"], found["lower"], found["upper"])


def pooled(data: ReportData, rows: list[Row]) -> PrintedTable:
    """Contrasts campaign by campaign and over all; no rows where no earlier one is named."""
    return print_table(
        _by_campaign(data, rows),
        [
            made("life of, in", lambda r: f"{r['endpoint']}, {clock_unit(r['clock'])}"),
            made("contrast", _contrast),
            words("campaign", "campaign"),
            made("cells ended", _ended, numeric=True),
            made("weight", _weight, numeric=True),
            figure("exact p", "p", p_value),
            made("time ratio", _ratio, numeric=True),
            made("shrunken", _shrunken, numeric=True),
            words("verdict", "verdict"),
        ],
        caption="The contrasts with earlier campaigns beside this one, which alone decides: cells "
        "of batches with both groups, the exact test within batches, and the share of its variance "
        f"as weight. The time ratio of all, with {data.confidence} limits, is common to all "
        "batches; 'shrunken' is each ratio drawn towards the mean of the campaigns, which stands "
        "on the line of all. Its verdict must hold with stopped cells taken otherwise, as that of "
        "this campaign; it is that of this data cut by itself, since looks are not counted. From "
        "pooled.",
        reason="No earlier campaign is named.",
        sources=("pooled",),
        small=True,
    )


def _by_campaign(data: ReportData, rows: list[Row]) -> list[Row]:
    """Rows with this campaign first, then earlier ones as the settings name them, then all."""
    names = [Pooled.THIS, *(one.name for one in data.settings.comparison.earlier), Pooled.ALL]
    return in_order(data, sorted(rows, key=lambda row: names.index(row["campaign"])))


def _weight(row: Row) -> str:
    """Weight of a campaign in percent."""
    return MISSING if is_missing(row["weight"]) else whole_percent(row["weight"])


def _shrunken(row: Row) -> str:
    """Shrunken time ratio with its limits."""
    if is_missing(row["shrunken"]):
        return MISSING
    return ratio(row["shrunken"], row["shrunken_lower"], row["shrunken_upper"])


def with_earlier(data: ReportData) -> list[dict[str, str]]:
    """Of each primary contrast its verdict alone and with earlier campaigns, in a sentence."""
    said: list[dict[str, str]] = []
    rows = where(
        data.rows["pooled"], clock=data.clock, endpoint=data.settings.comparison.primary_endpoint
    )
    contrasts: dict[tuple[str, ...], list[Row]] = {}
    for row in _by_campaign(data, rows):
        contrasts.setdefault(tuple(row[name] for name in _CONTRAST), []).append(row)
    for this, *earlier, together in contrasts.values():
        joined = [row for row in earlier if row["weight"]]
        names = [f"{row['campaign']} ({_weight(row)} of the weight)" for row in joined]
        alone = f"This campaign alone: {_word(this)}, and that decides."
        with_all = f"With {listed(names)}: {_word(together)}."
        if not joined:
            with_all = "No earlier campaign adds anything."
        noted = [f"{row['campaign']}: {row['reason']}." for row in earlier if row["reason"]]
        if joined and together["reason"]:
            noted.append(f"{together['campaign'].capitalize()}: {together['reason']}.")
        said.append({"title": verdict_title(this), "text": " ".join([alone, with_all, *noted])})
    return said


def _word(row: Row) -> str:
    """Verdict with its adjusted p."""
    return f"{row['verdict']} (adjusted p {p_value(row['p_adjusted'])})"


_RATIO_TICKS = (0.125, 0.25, 0.5, 0.75, 1.0, 1.5, 2.0, 3.0, 4.0, 8.0, 16.0)


def _no_ratio(rows: list[Row]) -> str:
    """One sentence on contrasts of which none has a ratio; a reason that most share, once."""
    labels: dict[str, list[str]] = {}
    for row in rows:
        if row["reason"]:
            labels.setdefault(row["reason"], []).append(_contrast_label(row))
    said = [f"{listed(own)}: {reason}." for reason, own in labels.items()]
    return " ".join(["No ratio is drawn.", *said])


def effects(data: ReportData) -> list[Drawing | Absent]:
    """Draw the time ratio of every contrast with its interval and the margin."""
    rows = in_order(data, where(data.rows["comparisons"], measure=Judged.TIME_RATIO.value))
    drawable = [row for row in rows if row["estimate"] is not None]
    if not drawable:
        return [Absent("effects", _no_ratio(rows))]
    figure = new_figure(0.75 + 0.25 * len(drawable))
    axes = panels(figure, 1, 1, margins=Margins(left=2.3, top=0.08, bottom=0.4))[0][0]
    margin = data.settings.comparison.equivalence_margin
    axes.axvspan(1 / margin, margin, color=FAINT, alpha=0.45, lw=0)
    axes.axvline(1, color=SOFT, lw=0.6)
    known = len(axes.lines)
    for place, row in enumerate(drawable):
        _draw_effect(axes, place, row, row["clock"] == data.clock)
        if row["factor"] == data.factor:
            of_groups(axes.lines[known:], row["group"], row["control"])
        known = len(axes.lines)
    axes.set_xscale("log")
    axes.set_yticks(range(len(drawable)), [_contrast_label(row) for row in drawable])
    axes.set_ylim(len(drawable) - 0.4, -0.6)
    _ratio_axis(axes, drawable, margin)
    axes.spines["left"].set_visible(False)
    axes.tick_params(axis="y", length=0)
    axes.set_xlabel("time ratio, group over control (above 1: the group lasts longer)")
    return [
        Drawing(
            "effects",
            figure,
            f"Time ratio of every contrast with its {data.confidence} "
            "interval, from a Weibull model and not adjusted for the number of contrasts; the "
            "exact test decides. "
            f"Shaded: differences that count as the same (ratio up to {as_set(margin)} either way, "
            f"a setting). Filled: primary clock; rings: the other clock.{_left_out(rows)} From "
            "comparisons (estimate, lower, upper) of "
            "the measure time ratio.",
            "Time ratios with intervals, one row a contrast; the table of comparisons has the "
            "numbers.",
            drawable,
        )
    ]


def _left_out(rows: list[Row]) -> str:
    """Sentence on contrasts without a ratio."""
    left = sum(row["estimate"] is None for row in rows)
    have = "has" if left == 1 else "have"
    return f" {plural(left, 'contrast')} {have} too few ends for a ratio." if left else ""


def _contrast_label(row: Row) -> str:
    """Name of a contrast on the axis."""
    pair = f"{short(row['group'], 16)} / {short(row['control'], 16)}"
    return f"{pair}  ·  {row['endpoint']}, {clock_unit(row['clock'])}"


def _draw_effect(axes: Axes, place: int, row: Row, primary: bool) -> None:
    """Draw one estimate with its limits."""
    if row["lower"] is not None and row["upper"] is not None:
        axes.plot([row["lower"], row["upper"]], [place] * 2, color=INK, lw=1.0)
    axes.plot([row["estimate"]], [place], "o", color=INK, mfc=INK if primary else "white", ms=4)


def _ratio_axis(axes: Axes, rows: list[Row], margin: float) -> None:
    """Limits and plain ticks of the axis of ratios."""
    names = ("estimate", "lower", "upper")
    values = [row[name] for row in rows for name in names if row[name]] + [1 / margin, margin]
    low, high = max(min(values) / 1.1, 0.05), min(max(values) * 1.1, 20.0)
    axes.set_xlim(low, high)
    inside = [tick for tick in _RATIO_TICKS if low <= tick <= high]
    axes.set_xticks(inside, [number(tick) for tick in inside])
    axes.xaxis.set_minor_locator(NullLocator())


SECTION = Section("comparison", "Effects and verdicts", comparison, {"effects": effects}, place=50)
