"""A file read in blocks: whatever the size of a block, the same text, rows and findings."""

from __future__ import annotations

import codecs
import hashlib
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from raw_files import PLAIN, charge

from trivet.rawfiles.layout.patterns import RawFile
from trivet.rawfiles.reading.growing import GrowingColumn
from trivet.rawfiles.text import text_file
from trivet.rawfiles.text.text_file import RawFileError, read_text
from trivet.schema.settings.raw import Layout, Raw
from trivet.stages.read import ReadTables
from trivet.studies.fuzz import raw_files as fuzz

RAW = Raw(layouts={"bench": Layout(columns=PLAIN, delimiter=";", decimal=",", encoding="cp1252")})
ENCODINGS = ("utf-8", "utf-8-sig", "utf-16", "cp1252", "gbk")
PIECES = ("a;1\n", "\r\n", "\r", "\n", "°µ", "\f", "\ufeff", "x" * 30, "\0", "\u6e29")


@given(
    st.lists(st.sampled_from(PIECES), max_size=15).map("".join),
    st.sampled_from(ENCODINGS),
    st.integers(4, 60),
)
@settings(
    max_examples=200, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
def test_blocks_are_the_text_as_python_decodes_it(
    tmp_path: Path, content: str, encoding: str, size: int
) -> None:
    """Joined blocks are the whole file as Python's codecs and universal newlines give it."""
    path = tmp_path / "A.csv"
    raw = content.encode(encoding, errors="replace")
    path.write_bytes(raw)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(text_file, "BLOCK_BYTES", size)
        text = read_text(path, encoding=encoding)
        blocks = list(text.blocks())
    joined = b"".join(block for _, block in blocks)
    mark = next((m for m in (codecs.BOM_UTF8, codecs.BOM_UTF16_LE) if raw.startswith(m)), b"")
    plain = raw[len(mark) :].decode(text.encoding, errors="replace")
    assert joined.decode() == plain.replace("\r\n", "\n").replace("\r", "\n")
    assert text.sha256 == hashlib.sha256(raw).hexdigest()
    assert [line for line, _ in blocks] == [
        1 + sum(block.count(b"\n") for _, block in blocks[:at]) for at in range(len(blocks))
    ]
    assert all(block.endswith(b"\n") for _, block in blocks[:-1])


def read_with(path: Path, size: int, layout: str) -> ReadTables:
    """What the stage makes of a file when blocks have this size."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(text_file, "BLOCK_BYTES", size)
        return fuzz.outcome(RawFile(path, "A.csv", "cycling", layout), cell="A", raw=RAW)


@pytest.mark.parametrize("damage", fuzz.DAMAGES, ids=lambda damage: damage.__name__)
def test_blocks_of_any_size_give_the_same_tables(tmp_path: Path, damage: fuzz.Damage) -> None:
    """Broken files read in small blocks and in one block give equal tables and findings."""
    random = np.random.default_rng(5)
    path = tmp_path / "A.csv"
    clean = charge(count=200).encode()
    for _ in range(12):
        path.write_bytes(damage(damage(clean, random), random))
        small, large = read_with(path, 700, "bdf"), read_with(path, 10**6, "bdf")
        for name in ReadTables.__dataclass_fields__:
            assert getattr(small, name).equals(getattr(large, name)), name


def test_a_header_at_a_border_of_blocks_keeps_its_row_of_units(tmp_path: Path) -> None:
    """Header and row of units are found wherever a block ends between or behind them."""
    path = tmp_path / "A.csv"
    text = "t;I;U\ns;mA;V\n" + "".join(f"{n};1,0;3,{n:02d}\n" for n in range(30))
    path.write_text(text)
    for size in range(6, 60):
        tables = read_with(path, size, "bench")
        assert tables.series["cell_V"].to_pylist() == [float(f"3.{n:02d}") for n in range(30)]


def test_what_is_written_later_is_not_of_the_text(tmp_path: Path) -> None:
    """Rows written while a file is read wait for the next run; a file that shrinks is told."""
    path = tmp_path / "A.csv"
    path.write_text("a\nb\n")
    text = read_text(path, encoding="utf-8")
    path.write_text("a\nb\nc\n")
    assert b"".join(block for _, block in text.blocks()) == b"a\nb\n"
    path.write_text("a\n")
    with pytest.raises(RawFileError, match="became shorter"):
        list(text.blocks())


def test_a_growing_column_keeps_its_values() -> None:
    """Blocks added one by one are the values in order, whatever room was expected."""
    for expected in (0, 3, 100):
        column = GrowingColumn(expected)
        for at in range(10):
            column.add(np.arange(7 * at, 7 * at + 7))
        assert np.array_equal(column.whole(), np.arange(70))
    assert len(GrowingColumn(5).whole()) == 0
