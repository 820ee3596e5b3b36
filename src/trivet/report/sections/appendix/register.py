"""Reports issued before, and what people decided otherwise since: page one and the section."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from trivet.reasons import Kept, Seen, Step
from trivet.report.frame.answer import VERDICT_WORDS
from trivet.report.frame.data import ReportData, Row, by, where
from trivet.report.frame.printed import figure, made, print_table, words
from trivet.report.frame.section import Section
from trivet.report.frame.wording import MISSING, count, listed, p_value, plural, short, shown
from trivet.schema.findings.register import CHECK
from trivet.schema.settings.marked import called

_MOST = 4
"""Changes of one kind that page one spells out."""
_MOST_LATE = 3
"""Late decisions that stand beside a verdict."""
_LONGEST_VALUE = 40
"""Letters of a value that a sentence gives; columns of a layout are longer."""
_LONGEST_IN_A_TABLE = 80
"""Letters of a value that a table prints."""
_SEEN_WORDS = {
    Seen.VERDICT.value: "after a verdict was reported",
    Seen.END.value: "after its end was reported",
}
_LATE_WORDS = {
    Seen.END.value: "Decided after the end was reported",
    Seen.VERDICT.value: "Decided after the verdict was reported",
}
_DATE = 10
_MINUTE = 16


def issued(data: ReportData) -> bool:
    """Whether a report of this campaign was issued before."""
    return bool(data.rows["reports_issued"])


def register(data: ReportData) -> dict[str, Any]:
    """All reports, all changes of what people keep, all late decisions."""
    return {
        "reports": _reports(data),
        "changes": _changes(data),
        "late": _late(data),
    }


def _reports(data: ReportData) -> Any:  # noqa: ANN401
    """Reports issued before with their verdicts."""
    return print_table(
        data.rows["reports_issued"],
        [
            made("issued (UTC)", lambda row: minute(row["issued"])),
            words("data cut", "data_cut"),
            made("contrast", _contrast),
            words("endpoint", "endpoint"),
            made("ended", lambda row: _of(row, "events", "cells"), numeric=True),
            made("of control", lambda row: _of(row, "control_events", "control_cells"),
                 numeric=True),
            figure("p", "p", p_value),
            made("verdict", lambda row: VERDICT_WORDS.get(row["verdict"], MISSING)),
            made("found now", lambda row: VERDICT_WORDS.get(row["verdict_again"], MISSING)),
        ],
        caption="Reports issued before this one, with what they said of each contrast on the clock "
        "that decides. 'Found now' stands where the data cut is set to the past: the verdict at "
        "that cut as it comes out now. From reports_issued.",
        sources=("reports_issued",),
        reason="No report was issued before.",
        small=True,
    )  # fmt: skip


def _changes(data: ReportData) -> Any:  # noqa: ANN401
    """Everything that people keep and changed."""
    return print_table(
        data.rows["input_changes"],
        [
            made("after the report of", lambda row: minute(row["since"])),
            made("in the one of", lambda row: minute(row["until"]) or "this report"),
            words("where", "kept"),
            made("what", _name),
            made("before", lambda row: short(shown(row["before"]), _LONGEST_IN_A_TABLE)),
            made("after", lambda row: short(shown(row["after"]), _LONGEST_IN_A_TABLE)),
            words("entry of", "at"),
        ],
        caption="What changed in settings, build sheet and bench log from one report to the next. "
        "From input_changes.",
        sources=("input_changes",),
        reason="Settings, build sheet and bench log are as they were at the first report.",
        small=True,
    )


def _late(data: ReportData) -> Any:  # noqa: ANN401
    """Decisions made after something that they bear on was reported."""
    return print_table(
        data.rows["late_decisions"],
        [
            made("contrast", _contrast),
            words("endpoint", "endpoint"),
            made("what", _name),
            made("before", lambda row: short(shown(row["before"]), _LONGEST_IN_A_TABLE)),
            made("after", lambda row: short(shown(row["after"]), _LONGEST_IN_A_TABLE)),
            made("decided", lambda row: _SEEN_WORDS[row["seen"]]),
            made("reported", lambda row: _reported(row["reported"])),
            made("on", lambda row: day(row["reported_on"])),
        ],
        caption="Decided otherwise after something that it bears on was reported, against the "
        "first report that told it. What was turned back since, cells added, and entries of the "
        "bench log about the time after that report are left out. From late_decisions.",
        sources=("late_decisions",),
        reason="Nothing that bears on a verdict was decided otherwise after it was reported.",
        small=True,
    )


def _of(row: Row, events: str, cells: str) -> str:
    """Ends of cells; a dash where the report had no contrast."""
    return MISSING if row[cells] is None else f"{count(row[events])} of {count(row[cells])}"


def _contrast(row: Row) -> str:
    """Contrast of a row; a dash where it has none."""
    if not row["group"]:
        return MISSING
    return f"{row['factor']}: {row['group']} against {row['control']}"


def _reported(told: str) -> str:
    """A verdict in plain words; the cause of an end as it is."""
    return VERDICT_WORDS.get(told, told)


def _name(row: Row) -> str:
    """What a row is about."""
    if row["kept"] == Kept.SETTINGS:
        return called(str(row["name"]))
    if not row["name"]:
        return f"{row['cell']} {row['step']}"
    step = f" {row['step']}" if row["kept"] == Kept.LOG else ""
    return f"{row['cell']}, {row['name']}{step}"


def day(moment: str | None) -> str:
    """Date of a time in UTC."""
    return (moment or "")[:_DATE]


def minute(moment: str | None) -> str:
    """Time in UTC to the minute."""
    return (moment or "")[:_MINUTE].replace("T", " ")


def since_block(data: ReportData) -> dict[str, Any] | None:
    """Heading and sentences of page one; None for a first report."""
    rows = data.rows["reports_issued"]
    damaged = where(data.rows["findings"], check=CHECK)
    broken = [f"{plural(len(damaged), 'line')} of the register of reports can't be read; the "
              "findings name it."] if damaged else []  # fmt: skip
    if not rows:
        if broken:
            return {"heading": "Reports issued", "sentences": broken}
        return None
    last = max(row["report"] for row in rows)
    when = next(row["issued"] for row in rows if row["report"] == last)
    said = [*_sentences(data, where(data.rows["input_changes"], report=last)), *_again(rows)]
    return {
        "heading": f"Since the report of {day(when)}",
        "sentences": [*said, *broken],
    }


def _sentences(data: ReportData, rows: list[Row]) -> list[str]:
    """What changed since the last report, in words."""
    if not rows:
        return ["Settings, build sheet and bench log are as they were."]
    # of an end that had been reported is said rather than of a verdict on another contrast
    ranked = sorted(data.rows["late_decisions"], key=lambda row: row["seen"] == Seen.END)
    late = {_key(row): row["seen"] for row in ranked}
    kept = by(rows, "kept")
    said = []
    for name in _SAY:
        own = kept.get(name.value, [])
        # what bears on a verdict first, so that it is not cut off
        own = sorted(own, key=lambda row: (_key(row) not in late, row["place"]))
        said += _kind(own, late, name)
    return said


def _kind(rows: list[Row], late: dict[Any, str], kept: Kept) -> list[str]:
    """Sentence on the changes of one kind; cells added are named together."""
    if not rows:
        return []
    together = [row for row in rows if row["kept"] == Kept.SHEET and not row["name"]]
    added = [row["cell"] for row in together if row["step"] == Step.ADDED]
    apart = [row for row in rows if row["cell"] not in added or row["name"]]
    words_ = [_marked(_SAY[kept](row), late.get(_key(row))) for row in apart[:_MOST]]
    if added:
        words_.append(f"{listed(added, _MOST)} added")
    rest = len(apart) - min(len(apart), _MOST)
    more = f"; and {rest} more" if rest else ""
    return [f"{kept.value.capitalize()}: {'; '.join(words_)}{more}."]


def _marked(said: str, seen: str | None) -> str:
    """A change with what had been reported before it."""
    return said if seen is None else f"{said}, {_SEEN_WORDS[seen]}"


def _key(row: Row) -> tuple[str, ...]:
    """What tells one change from another."""
    return tuple(row[name] or "" for name in ("kept", "name", "cell", "at"))


def _setting(row: Row) -> str:
    """A setting with its two values, where both are short enough to be read in a sentence."""
    values = [shown(row[when]) for when in ("before", "after")]
    if max(map(len, values)) > _LONGEST_VALUE:
        return f"{_name(row)} changed"
    return f"{_name(row)} {values[0]}, now {values[1]}"


def _sheet(row: Row) -> str:
    """A row or value of the build sheet."""
    cell = str(row["cell"])
    if not row["name"]:
        return f"{cell} {'taken out' if row['step'] == Step.REMOVED else 'added'}"
    if row["name"] == "included":
        if row["after"] == "no":
            return f"{cell} excluded ({row['why']})" if row["why"] else f"{cell} excluded"
        return f"{cell} counts again"
    return f"{cell} {row['name']} {shown(row['before'])}, now {shown(row['after'])}"


def _log(row: Row) -> str:
    """An entry of the bench log."""
    return f"{row['cell']} {row['name']} of {row['at']} {row['step']}"


_SAY: dict[Kept, Callable[[Row], str]] = {
    Kept.SETTINGS: _setting,
    Kept.SHEET: _sheet,
    Kept.LOG: _log,
}
"""What says a change, by where it stands; in the order of page one."""


def _again(rows: Sequence[Row]) -> list[str]:
    """Verdicts at a past data cut, as issued and as found now."""
    looked = [row for row in rows if row["differs"] is not None]
    if not looked:
        return []
    when = day(looked[0]["issued"])
    unlike = [row for row in looked if row["differs"]]
    if not unlike:
        return [f"Verdicts at this data cut are as they were issued on {when}."]
    return [
        f"{_contrast(row)}, {row['endpoint']} life: issued on {when} as "
        f"'{VERDICT_WORDS.get(row['verdict'], MISSING)}', found now at this data cut: "
        f"'{VERDICT_WORDS.get(row['verdict_again'], MISSING)}'."
        for row in unlike
    ]


def late_words(data: ReportData, row: Row) -> str:
    """What was decided after something of a contrast was reported; empty where nothing was.

    Parameters
    ----------
    data : ReportData
        The report's data.
    row : dict
        Row of the contrast in the table of comparisons.
    """
    names = ("endpoint", "factor", "group", "control")
    late = where(data.rows["late_decisions"], **{name: row[name] for name in names})
    if not late:
        return ""
    first = late[:_MOST_LATE]
    said = []
    for seen in (Seen.END, Seen.VERDICT):
        own = where(first, seen=seen.value)
        if own:
            told = dict.fromkeys(
                (_reported(one["reported"]), day(one["reported_on"])) for one in own
            )
            when = "; ".join(f"{words}, {date}" for words, date in told)
            what = "; ".join(_SAY[Kept(one["kept"])](one) for one in own)
            said.append(f"{_LATE_WORDS[seen.value]} ({when}): {what}")
    rest = len(late) - len(first)
    return f"{'. '.join(said)}{f'; and {rest} more' if rest else ''}."


SECTION = Section("register", "Reports issued before", register, place=20, printed=issued)
