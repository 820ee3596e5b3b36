"""Rows of a raw file as columns, and how such rows are written."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pyarrow as pa

from trivet.rawfiles.text.numbers import NumberReader
from trivet.store.arrow_arrays import text_array


@dataclass(frozen=True)
class Form:
    """How the rows of a body are written.

    Attributes
    ----------
    delimiter : str
        Sign between the columns; a blank stands for a run of blanks.
    header : tuple of str
        Names of the columns in the file.
    numbers, texts : tuple of int
        Positions of the columns that are read as numbers and as text.
    reader : NumberReader
        Decimal sign and words for no value.
    """

    delimiter: str
    header: tuple[str, ...]
    numbers: tuple[int, ...]
    texts: tuple[int, ...]
    reader: NumberReader


@dataclass(frozen=True)
class Rows:
    """Rows of a body.

    Attributes
    ----------
    lines : numpy.ndarray of int64, shape (n_rows,)
        Line of each row in the file.
    numbers : dict of int to numpy.ndarray, shape (n_rows,)
        Columns by position, missing values NaN.
    texts : dict of int to pyarrow.Array, shape (n_rows,)
        Columns by position, without blanks around; missing values are empty.
    aside : dict of str to numpy.ndarray of int64
        Lines of the rows that could not be read, by reason.
    """

    lines: np.ndarray
    numbers: dict[int, np.ndarray]
    texts: dict[int, pa.Array]
    aside: dict[str, np.ndarray]


def no_rows(form: Form, aside: dict[str, list[int]]) -> Rows:
    """No rows, with what was set aside."""
    return Rows(
        np.zeros(0, dtype=np.int64),
        {place: np.zeros(0) for place in form.numbers},
        {place: text_array([]) for place in form.texts},
        {reason: np.array(where, dtype=np.int64) for reason, where in aside.items()},
    )


def join_rows(blocks: Sequence[Rows], form: Form) -> Rows:
    """Blocks in order."""
    blocks = blocks or [no_rows(form, {})]
    reasons = sorted({reason for block in blocks for reason in block.aside})
    return Rows(
        np.concatenate([block.lines for block in blocks]),
        {
            place: np.concatenate([block.numbers[place] for block in blocks])
            for place in form.numbers
        },
        {place: pa.concat_arrays([block.texts[place] for block in blocks]) for place in form.texts},
        {
            reason: np.concatenate(
                [block.aside.get(reason, np.zeros(0, np.int64)) for block in blocks]
            )
            for reason in reasons
        },
    )
