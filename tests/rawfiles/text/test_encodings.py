"""Encodings as declared: wide ones without their mark are read, what is none of text is refused."""

from __future__ import annotations

from pathlib import Path

import pytest

from trivet.rawfiles.layout.patterns import RawFile
from trivet.rawfiles.text.encodings import text_encoding
from trivet.schema.settings.raw import Layout, Raw
from trivet.studies.fuzz.raw_files import outcome

COLUMNS = [
    {"header": "t", "quantity": "elapsed time", "unit": "s"},
    {"header": "I", "quantity": "current", "unit": "mA"},
    {"header": "U", "quantity": "cell voltage", "unit": "V"},
]
TEXT = "t,I,U\n" + "".join(f"{60 * n},1.5,{3 + n / 100:.2f}\n" for n in range(12))


@pytest.mark.parametrize(
    ("declared", "written"),
    [
        ("utf-16", "utf-16-le"),
        ("UTF16", "utf-16-be"),
        ("utf-16", "utf-16"),
        ("utf-32", "utf-32-le"),
    ],
)
def test_a_wide_encoding_needs_no_mark(tmp_path: Path, declared: str, written: str) -> None:
    """Without a mark it is little-endian, or what its zeros say (common practice, no source)."""
    raw = Raw(layouts={"bench": Layout.model_validate({"columns": COLUMNS, "encoding": declared})})
    path = tmp_path / "A.csv"
    path.write_bytes(TEXT.encode(written))
    tables = outcome(RawFile(path, "A.csv", "cycling", "bench"), cell="A", raw=raw)
    assert tables.series.num_rows == 12


@pytest.mark.parametrize("declared", ["utf-16", "utf-32"])
def test_bytes_of_another_encoding_are_a_finding(tmp_path: Path, declared: str) -> None:
    """Declared wide, written narrow: no traceback."""
    raw = Raw(layouts={"bench": Layout.model_validate({"columns": COLUMNS, "encoding": declared})})
    path = tmp_path / "A.csv"
    path.write_bytes(TEXT.replace("U", "\u00fc").encode("cp1252"))
    tables = outcome(RawFile(path, "A.csv", "cycling", "bench"), cell="A", raw=raw)
    assert tables.findings.num_rows


@pytest.mark.parametrize("name", ["hex", "rot13", "idna", "undefined", "no-such"])
def test_what_is_none_of_text_is_not_known(name: str) -> None:
    """Codecs that give no text, or fail on most bytes."""
    with pytest.raises(LookupError):
        text_encoding(name)
