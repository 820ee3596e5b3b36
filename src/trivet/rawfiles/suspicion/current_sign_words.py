"""The sign of the current: as declared, or from a column of words for charge and discharge."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from trivet.rawfiles.layout.declared import FileLayout
from trivet.rawfiles.reading.raw_read import RawRead
from trivet.store.arrow_arrays import is_text, numbers, truths

_STATE = "state words"
_CONTRADICTED_SHARE = 0.01
"""So large a share of rows may be signed against their word, as at a switch."""


def with_states(read: RawRead, layout: FileLayout) -> RawRead:
    """Give the current the sign of charge: as declared, or by the column of states.

    Parameters
    ----------
    read : RawRead
        A file.
    layout : FileLayout
        Its layout, with the words of states.

    Returns
    -------
    RawRead
        Refused where a word is not known, or where the signs in the file contradict the words.
    """
    if "current" not in read.values:
        return read
    current_mA = read.values["current"]
    if layout.charging_negative:
        current_mA = 0.0 - current_mA
    words = read.texts.get("state")
    if words is None or not len(read.lines):
        return replace(read, values={**read.values, "current": current_mA})
    small = pc.utf8_lower(words)
    signs = dict(layout.states)
    unknown = sorted({word for word in pc.unique(small).to_pylist() if word not in signs})
    if unknown:
        row = int(np.argmax(truths(is_text(small, unknown[0]))))
        listed = ", ".join(f"'{word}'" for word in unknown[:10])
        message = f"the words {listed} are declared neither for charge, discharge nor rest"
        return read.refuse(_STATE, message, line=int(read.lines[row]))
    sign = _signs(small, signs)
    moving = (np.abs(current_mA) > 0) & (sign != 0)
    signed = bool(np.any(current_mA < 0))
    against = moving & (np.sign(current_mA) != sign)
    if signed and np.sum(against) > _CONTRADICTED_SHARE * max(int(np.sum(moving)), 1):
        message = "the sign of the current contradicts the words for charge and discharge"
        return read.refuse(_STATE, message, line=int(read.lines[int(np.argmax(against))]))
    if not signed:
        current_mA = np.where(sign == 0, current_mA, np.abs(current_mA) * sign)
    read = replace(read, values={**read.values, "current": current_mA})
    how = "agrees with" if signed else "comes from"
    return read.assume(f"sign of current {how} the words for charge and discharge")


def _signs(words: pa.Array, signs: dict[str, float]) -> np.ndarray:
    """Sign of every word."""
    encoded = words.dictionary_encode()
    by_word = np.array([signs[word] for word in encoded.dictionary.to_pylist()])
    return np.asarray(by_word[numbers(encoded.indices)])
