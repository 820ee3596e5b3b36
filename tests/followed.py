"""Following the addresses of the dictionary of columns: what the functions they name give."""

from __future__ import annotations

import dataclasses
import importlib
import inspect
import math
from collections.abc import Generator, Iterator, Mapping
from contextlib import contextmanager
from types import CodeType, FunctionType
from typing import Any

import numpy as np
import pyarrow as pa

from trivet.schema.tables.columns import Column
from trivet.schema.tables.dictionary import TABLES
from trivet.stages.job import shape_of

SCALES = (1.0, 1e3, 1e-3, 3600.0, 1.0 / 3600.0, 100.0, 0.01)
"""Between the unit in which a function gives a quantity and that of a column: milli, hours in
seconds, percent."""
CLOSE = 1e-9
"""Relative difference of numbers that count as the same."""
DEEPEST = 7


class Given:
    """Numbers and texts that a function gave, whatever records, tables or lists held them."""

    def __init__(self) -> None:
        self._parts: list[np.ndarray] = []
        self._single: list[float] = []
        self._sorted: np.ndarray | None = None
        self.texts: set[str] = set()

    def add(self, value: Any, depth: int = 0) -> None:
        """Take what a function returned or yielded."""
        if value is None or depth > DEEPEST:
            return
        if isinstance(value, str):
            self.texts.add(str(value))
        elif isinstance(value, bool | int | float | np.number | np.bool_):
            self._single.append(float(np.real(value)))
        elif isinstance(value, np.ndarray):
            self._add_array(value, depth)
        else:
            for part in parts_of(value):
                self.add(part, depth + 1)

    def _add_array(self, value: np.ndarray, depth: int) -> None:
        """Take an array, of complex numbers both parts."""
        if value.dtype.kind in "fiub":
            self._parts.append(np.unique(value.astype(float)))
        elif value.dtype.kind == "c":
            self._parts += [np.unique(value.real), np.unique(value.imag)]
        else:
            for part in set(value.ravel().tolist()):
                self.add(part, depth + 1)

    @property
    def numbers(self) -> np.ndarray:
        """All numbers, each once, in order."""
        if self._sorted is None:
            every = np.concatenate([*self._parts, np.array(self._single, dtype=float)])
            self._sorted = np.unique(every[np.isfinite(every)])
        return self._sorted

    def lacks(self, column: Column, values: set[Any]) -> list[Any]:
        """Values of a column that the function never gave, in the unit that fits best."""
        if column.type == "text":
            return sorted(values - self.texts)
        wanted = np.array(sorted(values), dtype=float)
        scales = SCALES if column.type == "float" else (1.0,)
        return min((self._far(wanted, scale) for scale in scales), key=len)

    def _far(self, wanted: np.ndarray, scale: float) -> list[float]:
        """Numbers that none given is close to, once scaled."""
        given = self.numbers
        if not given.size:
            return list(wanted)
        sought = wanted * scale
        after = np.searchsorted(given, sought).clip(0, given.size - 1)
        before = (after - 1).clip(0)
        off = np.minimum(np.abs(given[after] - sought), np.abs(given[before] - sought))
        return list(wanted[off > CLOSE * np.abs(sought)])


def parts_of(value: Any) -> Iterator[Any]:
    """What a container, a table or a record holds; nothing of what is none of these."""
    if isinstance(value, Mapping):
        yield from value.values()
    elif isinstance(value, list | tuple | set | frozenset):
        yield from value
    elif isinstance(value, pa.Table):
        for column in value.columns:
            yield from column.unique().to_pylist()
    elif dataclasses.is_dataclass(value):
        yield from (getattr(value, field.name) for field in dataclasses.fields(value))


def function_at(address: str) -> FunctionType:
    """The function that an address `package.module:function` leads to."""
    module, _, name = address.partition(":")
    function = inspect.unwrap(getattr(importlib.import_module(module), name))
    assert isinstance(function, FunctionType), f"{address} is no function of Python"
    return function


class Follower:
    """Watches what the functions at some addresses give, while stages run.

    Each function is given other code for that time, so that whoever imported it calls that too, and
    nothing else is slowed down.
    """

    def __init__(self, addresses: set[str]) -> None:
        self._function_at = {address: function_at(address) for address in addresses}
        self._given: dict[FunctionType, Given] = {}

    @contextmanager
    def watching(self) -> Iterator[None]:
        """Take down what they give within a block; a generator gives what it yields."""
        codes = {function: function.__code__ for function in self._function_at.values()}
        try:
            for function in codes:
                function.__code__ = self._watched(function)
            yield
        finally:
            for function, code in codes.items():
                function.__code__ = code

    def _watched(self, function: FunctionType) -> CodeType:
        """Code that calls what a function was, and takes down what it gives."""
        as_it_was = FunctionType(
            function.__code__,
            function.__globals__,
            function.__name__,
            function.__defaults__,
            function.__closure__,
        )
        as_it_was.__kwdefaults__ = function.__kwdefaults__

        def taken(*args: Any, **named: Any) -> Any:
            value = as_it_was(*args, **named)
            given = self._given.setdefault(function, Given())
            if inspect.isgenerator(value):
                return passed_on(value, given)
            given.add(value)
            return value

        def stand_in(*args: Any, **named: Any) -> Any:
            call: Any = "taken"
            return call(*args, **named)

        # its globals are those of the function, so what it calls has to be one of its constants
        code = stand_in.__code__
        constants = (taken if one == "taken" else one for one in code.co_consts)
        return code.replace(co_consts=tuple(constants))

    def given(self, address: str) -> Given | None:
        """What the function at an address gave; None where it was never called."""
        return self._given.get(self._function_at[address])


def passed_on(values: Generator[Any, Any, Any], given: Given) -> Generator[Any, Any, Any]:
    """What a generator yields and ends with, taken down on the way."""
    while True:
        try:
            value = next(values)
        except StopIteration as end:
            return end.value
        given.add(value)
        yield value


def columns() -> list[tuple[str, Column]]:
    """Every column of the dictionary with its table."""
    return [(table.name, column) for table in TABLES.values() for column in table.columns]


def take(values: dict[tuple[str, str], set[Any]], table: str, data: pa.Table) -> None:
    """Keep the values of a table, each once, without those that are missing."""
    shape = shape_of(table)
    for column in shape.columns:
        found = {value for value in data[column.name].unique().to_pylist() if is_value(value)}
        values.setdefault((shape.name, column.name), set()).update(found)


def is_value(value: Any) -> bool:
    """Whether a cell of a table says something."""
    return value not in (None, "") and not (isinstance(value, float) and math.isnan(value))
