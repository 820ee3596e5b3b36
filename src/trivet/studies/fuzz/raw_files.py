"""Broken raw files: what any damage may do is a table with its account, or a finding.

Run as `python -m trivet.studies.fuzz [FILES] [SEED]`. Each file is one of the demonstration's, or
of a layout that it lacks, cut short, with some damage done to it, and read in blocks of some size.
"""

from __future__ import annotations

import sys
import tempfile
from collections.abc import Callable
from pathlib import Path

import numpy as np

from trivet.campaign.paths import SETTINGS_FILE
from trivet.campaign.settings_file import read_settings
from trivet.demo.make import main as make_demo
from trivet.rawfiles.layout.patterns import RawFile, match_files
from trivet.rawfiles.suspicion.fit_to_cell import Expected
from trivet.rawfiles.text import text_file
from trivet.schema.cell_facts import CellFacts
from trivet.schema.settings.raw import Raw
from trivet.stages.read import ReadTables, run
from trivet.studies.fuzz.ends import asked, counted, one_of
from trivet.studies.fuzz.sources import Source, demonstration_sources, further_sources

FILES = 10_000
_ZONE = "Europe/Berlin"
_BLOCK_SIZES = (500, 1_700, 2_000_000)


Damage = Callable[[bytes, np.random.Generator], bytes]


def flip_bytes(content: bytes, random: np.random.Generator) -> bytes:
    """Change some bytes to anything."""
    data = bytearray(content)
    for place in random.integers(0, len(data), size=int(random.integers(1, 12))):
        data[place] = int(random.integers(0, 256))
    return bytes(data)


def cut_lines(content: bytes, random: np.random.Generator) -> bytes:
    """Cut some lines anywhere, or leave them out."""
    lines = content.split(b"\n")
    for _ in range(int(random.integers(1, 6))):
        place = int(random.integers(0, len(lines)))
        keep = int(random.integers(0, len(lines[place]) + 1))
        lines[place] = lines[place][:keep]
    if random.random() < 0.3:
        del lines[int(random.integers(0, len(lines)))]
    return b"\n".join(lines)


def zero_block(content: bytes, random: np.random.Generator) -> bytes:
    """Fill a block with zeros, as after a power failure."""
    start = int(random.integers(0, len(content)))
    size = int(random.integers(1, 800))
    return content[:start] + b"\0" * size + content[start + size :]


def swap_columns(content: bytes, random: np.random.Generator) -> bytes:
    """Exchange two columns from some line on."""
    delimiter = max((b";", b"\t", b","), key=content.count)
    lines = content.split(b"\n")
    start = int(random.integers(0, len(lines)))
    for at in range(start, len(lines)):
        cells = lines[at].split(delimiter)
        if len(cells) > 1:
            first, second = random.integers(0, len(cells), size=2) if at == start else (0, 1)
            cells[first], cells[second] = cells[second], cells[first]
            lines[at] = delimiter.join(cells)
    return b"\n".join(lines)


def repeat_lines(content: bytes, random: np.random.Generator) -> bytes:
    """Repeat a block of lines, the header perhaps among them."""
    lines = content.split(b"\n")
    start, stop = sorted(random.integers(0, len(lines), size=2).tolist())
    place = int(random.integers(0, len(lines)))
    return b"\n".join([*lines[:place], *lines[start:stop], *lines[place:]])


def change_signs(content: bytes, random: np.random.Generator) -> bytes:
    """Exchange one sign for another throughout: delimiters, decimal signs, quotes, line ends."""
    signs = [b",", b".", b";", b"\t", b'"', b"\r", b"\n", b"-", b"\xb5", b" "]
    old, new = random.choice(len(signs), size=2, replace=False)
    return content.replace(signs[old], signs[new], int(random.integers(1, 400)))


DAMAGES: tuple[Damage, ...] = (
    flip_bytes,
    cut_lines,
    zero_block,
    swap_columns,
    repeat_lines,
    change_signs,
)


def damaged(source: Source, random: np.random.Generator) -> bytes:
    """Content with one to three kinds of damage."""
    content = source.content
    for _ in range(int(random.integers(1, 4))):
        if content:
            content = one_of(DAMAGES, random)(content, random)
    return content


def outcome(file: RawFile, *, cell: str, raw: Raw) -> ReadTables:
    """What the stage makes of a file.

    Raises
    ------
    AssertionError
        A row is neither used nor set aside, or a file that gave nothing has no finding.
    """
    expected = Expected(lower_V=2.5, upper_V=3.65, capacity_mAh=2.0)
    tables = run(
        facts=CellFacts(cell, "1"), files=[file], raw=raw, time_zone=_ZONE, expected=expected
    )
    ledger = tables.ledger.to_pylist()[0]
    if ledger["rows_seen"] != ledger["rows_used"] + ledger["rows_set_aside"]:
        raise AssertionError(f"rows are lost: {ledger}")
    if ledger["rows_used"] != tables.series.num_rows + tables.spectrum_points.num_rows:
        raise AssertionError(f"rows used are not those of the tables: {ledger}")
    if ledger["rows_set_aside"] and not tables.findings.num_rows:
        raise AssertionError(f"rows were set aside without a finding: {ledger}")
    if not ledger["rows_used"] and "fault" not in tables.findings["severity"].to_pylist():
        raise AssertionError("a file that gave nothing has no fault")
    return tables


def main(argv: list[str] | None = None) -> int:
    """Damage and read files, print one line; 1 where any came to another end."""
    count, seed = asked(argv, FILES)
    with tempfile.TemporaryDirectory() as folder:
        campaign = Path(folder)
        make_demo([str(campaign)])
        raw = read_settings(Path("config/demo") / SETTINGS_FILE).blocks["raw"]
        originals = demonstration_sources(campaign, raw)
        further, raw = further_sources(raw)
        for one in further:
            (campaign / one.relative).parent.mkdir()
        originals += further

        def survived(number: int, random: np.random.Generator) -> str:
            """Damage a file and read it."""
            source = originals[number % len(originals)]
            content = damaged(source, random)
            (campaign / source.relative).write_bytes(content)
            file = match_files(
                [campaign / source.relative], campaign_folder=campaign, raw=raw, cell=source.cell
            )[0]
            text_file.BLOCK_BYTES = one_of(_BLOCK_SIZES, random)
            try:
                return _end(outcome(file, cell=source.cell, raw=raw))
            except Exception:
                sys.stderr.write(f"{source.relative}: {content!r}\n")
                raise

        return counted(survived, count=count, seed=seed, what="files")


def _end(tables: ReadTables) -> str:
    """How the reading of a file ended, in words."""
    rows = tables.series.num_rows + tables.spectrum_points.num_rows
    aside = tables.ledger["rows_set_aside"][0].as_py()
    if not rows:
        return "finding only"
    return "table with rows set aside" if aside else "table"
