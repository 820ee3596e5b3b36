"""Arrow arrays from numbers and texts, and back, for the stages of a cell.

Arrow's own conversion imports pandas, where it is installed, as soon as it is handed anything that
is not arrow's already: a third of the time of a job that handles one cell. These go by the layout
of the columnar format instead: a bitmap of what is there, offsets, values.

References
----------
Apache Arrow columnar format, 'Fixed-size primitive layout' and 'Variable-size binary layout'.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

_TYPES = {np.dtype(np.float64): pa.float64(), np.dtype(np.int64): pa.int64()}
_LARGEST_OFFSET = 2**31 - 1


def number_array(values: np.ndarray, *, missing: np.ndarray | None = None) -> pa.Array:
    """Numbers as an arrow array.

    Parameters
    ----------
    values : numpy.ndarray
        float64 or int64, shape (n,).
    missing : numpy.ndarray or None
        True where there is no value, shape (n,).

    Raises
    ------
    KeyError
        Another type of number.
    """
    kind = _TYPES[values.dtype]
    absent = 0 if missing is None else int(np.count_nonzero(missing))
    valid = _bits(~missing) if missing is not None and absent else None
    data = pa.py_buffer(np.ascontiguousarray(values))
    return pa.Array.from_buffers(kind, len(values), [valid, data], absent)


def truth_array(values: np.ndarray) -> pa.Array:
    """True and false as an arrow array.

    Parameters
    ----------
    values : numpy.ndarray
        Of bool, shape (n,).
    """
    return pa.Array.from_buffers(pa.bool_(), len(values), [None, _bits(values)], 0)


def text_array(texts: Sequence[str]) -> pa.Array:
    """Texts as an arrow array.

    Raises
    ------
    ValueError
        More text than an array can hold.
    """
    parts = [text.encode() for text in texts]
    offsets = np.zeros(len(parts) + 1, dtype=np.int64)
    np.cumsum([len(part) for part in parts], out=offsets[1:])
    if offsets[-1] > _LARGEST_OFFSET:
        raise ValueError(f"{offsets[-1]} bytes of text in one column, {_LARGEST_OFFSET} is most")
    buffers = [None, pa.py_buffer(offsets.astype(np.int32)), pa.py_buffer(b"".join(parts))]
    return pa.Array.from_buffers(pa.string(), len(parts), buffers, 0)


def text_scalar(text: str) -> pa.Scalar:
    """One text as arrow takes it beside columns."""
    return text_array([text])[0]


def number_scalar(value: float) -> pa.Scalar:
    """One number as arrow takes it beside columns."""
    return number_array(np.array([value], dtype=np.float64))[0]


def numbers(column: pa.Array | pa.ChunkedArray) -> np.ndarray:
    """Numbers of a column as numpy, shape (n,): floats with NaN for missing, or whole numbers.

    Raises
    ------
    ValueError
        Whole numbers are missing: they have no NaN.
    """
    kind = "f" if pa.types.is_floating(column.type) else "i"
    dtype = np.dtype(f"{kind}{column.type.bit_width // 8}")
    if kind == "i" and column.null_count:
        raise ValueError(f"{column.null_count} whole numbers are missing")
    parts = [_numbers(chunk, dtype) for chunk in _chunks(column)]
    return parts[0] if len(parts) == 1 else np.concatenate([np.zeros(0, dtype), *parts])


def truths(column: pa.Array | pa.ChunkedArray) -> np.ndarray:
    """Truth values of a column as numpy, missing ones false, shape (n,)."""
    parts = [_unpacked(chunk, 1) & _valid(chunk) for chunk in _chunks(column)]
    return np.concatenate([np.zeros(0, bool), *parts])


def is_text(column: pa.Array | pa.ChunkedArray, text: str) -> pa.Array | pa.ChunkedArray:
    """Whether each value of a column is a text, as arrow; missing where the value is."""
    return pc.equal(column, text_scalar(text))


def _chunks(column: pa.Array | pa.ChunkedArray) -> list[pa.Array]:
    """The arrays that a column is made of."""
    return column.chunks if isinstance(column, pa.ChunkedArray) else [column]


def _numbers(chunk: pa.Array, dtype: np.dtype[Any]) -> np.ndarray:
    """Numbers of one array, read where they lie; a copy only where some are missing."""
    if not len(chunk):
        return np.zeros(0, dtype)
    first = chunk.offset
    values: np.ndarray = np.frombuffer(chunk.buffers()[1], dtype)[first : first + len(chunk)]
    return np.where(_valid(chunk), values, np.nan) if chunk.null_count else values


def _valid(chunk: pa.Array) -> np.ndarray:
    """Where one array has values."""
    return _unpacked(chunk, 0) if chunk.null_count else np.ones(len(chunk), dtype=bool)


def _unpacked(chunk: pa.Array, buffer: int) -> np.ndarray:
    """One of the bitmaps of an array."""
    bits = np.frombuffer(chunk.buffers()[buffer] or b"", np.uint8)
    first = chunk.offset
    return np.unpackbits(bits, bitorder="little")[first : first + len(chunk)].astype(bool)


def _bits(values: np.ndarray) -> pa.Buffer:
    """Truth values as a bitmap, the first in the lowest bit."""
    return pa.py_buffer(np.packbits(values, bitorder="little"))
