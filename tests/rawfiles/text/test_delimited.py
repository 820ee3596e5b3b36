"""The body of a raw file: fast and slow ways agree, and no row vanishes."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from trivet.rawfiles.text.delimited import RAGGED, REPEATED, TRUNCATED, UNREADABLE, read_rows
from trivet.rawfiles.text.numbers import NumberReader
from trivet.rawfiles.text.rows import Form, Rows

WORDS = ["", "NaN", "OL", "-9999"]


def form(delimiter: str = ",", decimal: str = ".") -> Form:
    """Three columns: two of numbers, one of text."""
    return Form(
        delimiter, ("t", "x", "note"), (0, 1), (2,), NumberReader(decimal=decimal, missing=WORDS)
    )


def rows(body: str, *, fast: bool = True, delimiter: str = ",", decimal: str = ".") -> Rows:
    """Rows of a text that begins on line 5."""
    return read_rows(body.encode(), first_line=5, form=form(delimiter, decimal), fast=fast)


def same(first: Rows, second: Rows) -> bool:
    """Whether two results are equal in every column, line and reason."""
    return (
        np.array_equal(first.lines, second.lines)
        and all(np.array_equal(first.numbers[k], second.numbers[k], equal_nan=True) for k in (0, 1))
        and first.texts[2].equals(second.texts[2])
        and {k: list(v) for k, v in first.aside.items()}
        == {k: list(v) for k, v in second.aside.items()}
    )


def test_clean_rows_with_blank_lines_and_a_trailing_delimiter() -> None:
    """Blank lines count as lines but not as rows; an empty last column is no column."""
    got = rows("1,2,a,\n\n3,4,b,\n  \n5,6,c,\n")
    assert list(got.lines) == [5, 7, 9]
    assert list(got.numbers[1]) == [2, 4, 6]
    assert got.aside == {}


def test_bad_rows_are_set_aside_with_their_lines() -> None:
    """Ragged, unreadable, repeated-header and cut rows each have their reason and line."""
    got = rows("1,2,a\n3,4\nt,x,note\n5,six,b\n7,8,c,d\n9,1\0,e\n10,11,f")
    assert list(got.lines) == [5]
    reasons = {reason: list(lines) for reason, lines in got.aside.items()}
    assert reasons == {RAGGED: [6, 9], REPEATED: [7], UNREADABLE: [8, 10], TRUNCATED: [11]}


def test_last_line_without_end_is_dropped_even_if_it_looks_whole() -> None:
    """`3.4` may be the beginning of `3.4127`, so a line without end never counts."""
    got = rows("1,2,a\n2,3.4,b")
    assert list(got.lines) == [5]
    assert list(got.aside[TRUNCATED]) == [6]


def test_quoted_fields() -> None:
    """Quotes follow RFC 4180: a delimiter and a doubled quote inside them are text."""
    got = rows('1,"2","a, ""b"""\n2,"3,c\n')
    assert got.texts[2].to_pylist() == ['a, "b"']
    assert list(got.aside[RAGGED]) == [6]


def test_words_for_no_value_are_missing_in_both_ways() -> None:
    """A word for no value is missing, not a number, and not a reason to drop the row."""
    body = "1,OL,a\n2,-9999.0,b\n3,nan,NaN\n4,,\n"
    for fast in (True, False):
        got = rows(body, fast=fast)
        assert list(got.lines) == [5, 6, 7, 8]
        assert np.all(np.isnan(got.numbers[1]))
        assert got.texts[2].to_pylist() == ["a", "b", "", ""]


def test_runs_of_blanks_as_delimiter() -> None:
    """Aligned columns with several blanks, and blanks at the ends, are three columns."""
    for fast in (True, False):
        got = rows("  1   2  a\n 10  20  b \n", delimiter=" ", fast=fast)
        assert list(got.numbers[1]) == [2, 20]
        assert got.texts[2].to_pylist() == ["a", "b"]


def test_one_bad_row_among_many_does_not_change_the_others() -> None:
    """A block with one bad row gives the same as reading it row by row."""
    lines = [f"{n},{n / 7},w{n}" for n in range(5000)]
    lines[3333] = "3333,broken,w"
    body = "\n".join(lines) + "\n"
    fast, slow = rows(body), rows(body, fast=False)
    assert same(fast, slow)
    assert list(fast.aside[UNREADABLE]) == [3338]


FIELD = st.one_of(
    st.sampled_from(
        [
            "",
            " ",
            "1",
            "2.5",
            "-3e-2",
            "+4",
            "OL",
            "ol",
            " OL",
            "nan",
            "NaN",
            "inf",
            "-9999",
            "-9999.0",
            "1e999",
            "1,5",
            "1.234,5",
            "1.234",
            "1 234,5",
            "=1+1",
            '"7"',
            '"',
            "x",
            "\0",
            "µ",
            "\ufffd",
            "\t8",
        ]
    ),
    st.floats(allow_nan=False, allow_infinity=False, width=32).map(str),
)
LINE = st.one_of(
    st.tuples(FIELD, FIELD, FIELD), st.lists(FIELD, max_size=5), st.just(("t", "x", "note"))
)


@given(
    st.lists(LINE, max_size=12),
    st.sampled_from([",", ";", "\t", " ", "|"]),
    st.sampled_from([".", ","]),
    st.booleans(),
)
@settings(max_examples=200, deadline=None)
def test_fast_and_slow_ways_agree_and_nothing_vanishes(
    lines: list[list[str]], delimiter: str, decimal: str, ended: bool
) -> None:
    """Whatever the rows hold, both ways give the same table, and rows in = used + set aside."""
    body = "\n".join(delimiter.join(line) for line in lines) + ("\n" if ended else "")
    fast = rows(body, delimiter=delimiter, decimal=decimal)
    slow = rows(body, delimiter=delimiter, decimal=decimal, fast=False)
    assert same(fast, slow)
    filled = sum(1 for line in body.split("\n") if line.strip())
    assert len(fast.lines) + sum(map(len, fast.aside.values())) == filled
    together = np.concatenate([fast.lines, *fast.aside.values()])
    assert len(set(together.tolist())) == filled
