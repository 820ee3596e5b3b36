"""Verdicts in plain words: one sentence for a page, a word or two for a table."""

from __future__ import annotations

from collections.abc import Sequence

from trivet.report.frame.data import Row
from trivet.report.frame.wording import as_set, listed

VERDICT_WORDS = {
    "different": "a difference is shown",
    "equivalent": "the same is shown",
    "inconclusive": "not yet shown",
    "not estimable": "nothing can be said",
}
"""What each verdict says, by its name in the table of comparisons."""


def longer(row: Row) -> bool | None:
    """Whether a group ended less often than expected; None where that is not known."""
    seen, expected = row["observed_events"], row["expected_events"]
    return None if seen is None or expected is None else bool(seen < expected)


def answer(rows: Sequence[Row], *, margin: float, alpha: float, final: bool) -> str:
    """One sentence on all contrasts of a factor with its control, without a number of a test.

    Parameters
    ----------
    rows : sequence of dict
        Rows of the exact test, one a contrast, in the order of groups.
    margin : float
        Ratio of lives that counts as the same [1].
    alpha : float
        Level [1]: a contrast whose smallest p is above it can show nothing.
    final : bool
        Whether the planned end is past, so that nothing more will be shown.
    """
    if not rows:
        return ""
    control, endpoint = rows[0]["control"], rows[0]["endpoint"]
    yet = "" if final else " yet"
    of = "" if endpoint == "cell" else "the references of "
    groups: dict[str, list[str]] = {}
    shown: dict[str, set[str]] = {}
    for row in rows:
        kind = _kind(row, alpha)
        groups.setdefault(kind, []).append(str(row["group"]))
        shown.setdefault(kind, set()).add(row["shown_on"] or "")
    said = []
    for kind in ("longer", "shorter", "unlike", "equivalent", "inconclusive", "too few",
                 "not estimable"):  # fmt: skip
        names = groups.get(kind, [])
        if names:
            dates = sorted(shown[kind] - {""})
            when = f" (shown on {listed(dates)})" if dates else ""
            said.append(_clause(kind, names, control, of, margin, yet=yet) + when)
    text = "; ".join(said)
    return f"{text[:1].upper()}{text[1:]}."


def _kind(row: Row, alpha: float) -> str:
    """What a row shows: its verdict, with the direction of a difference."""
    smallest = row["smallest_attainable_p"]
    if row["verdict"] == "inconclusive" and smallest is not None and smallest > alpha:
        return "too few"
    if row["verdict"] != "different":
        return row["verdict"] if row["verdict"] in VERDICT_WORDS else "not estimable"
    way = longer(row)
    return "unlike" if way is None else "longer" if way else "shorter"


def _clause(kind: str, names: list[str], control: str, of: str, margin: float, *, yet: str) -> str:
    """Part of the sentence on the groups of one kind."""
    one = len(names) == 1 and not of
    who, last = f"{of}{listed(names)}", "lasts" if one else "last"
    differ = "differs" if one else "differ"
    other = f"{'those of ' if of else ''}{control}"
    plain = {
        "longer": f"{who} {last} longer than {other}",
        "shorter": f"{who} {'does' if one else 'do'} not last as long as {other}",
        "unlike": f"{who} and {other} do not last equally long",
        "equivalent": f"{who} {last} as long as {other}, within a factor of {as_set(margin)}",
        "too few": f"too few cells and ends to show whether {who} {differ} from {other}",
        "inconclusive": f"not{yet} shown: whether {who} {differ} from {other}",
        "not estimable": f"nothing can be said of {who} against {other}",
    }
    return plain[kind]
