"""Any bytes and any damage end in a table with its account, or in a finding; never otherwise."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from raw_files import OPEN, PLAIN, charge

from trivet.campaign.settings_file import read_settings
from trivet.rawfiles.layout.patterns import RawFile
from trivet.schema.settings.raw import Layout, Raw
from trivet.studies.fuzz import raw_files as fuzz

RAW = Raw(layouts={"bench": Layout(columns=PLAIN, delimiter=";", decimal=",")})
CLEAN = charge(count=12).encode()


def damaged_files() -> st.SearchStrategy[bytes]:
    """Bytes from nothing, from pieces of a clean file, and from a clean file with a hole."""
    pieces = st.sampled_from(
        [CLEAN, OPEN.encode() + b"\n", b"0,0,3\n", b"\0", b'"', b"\r", b"\xff"]
    )
    made = st.lists(st.one_of(st.binary(max_size=20), pieces), max_size=12).map(b"".join)
    holed = st.tuples(st.integers(0, len(CLEAN)), st.integers(0, 60), st.binary(max_size=30)).map(
        lambda cut: CLEAN[: cut[0]] + cut[2] + CLEAN[cut[0] + cut[1] :]
    )
    return st.one_of(made, holed)


@settings(
    max_examples=300, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(content=damaged_files(), layout=st.sampled_from(["bdf", "bench"]))
def test_any_bytes_end_in_a_table_or_a_finding(tmp_path: Path, content: bytes, layout: str) -> None:
    """No traceback and no row without account, whatever the bytes."""
    path = tmp_path / "A.csv"
    path.write_bytes(content)
    fuzz.outcome(RawFile(path, "A.csv", "cycling", layout), cell="A", raw=RAW)


@pytest.mark.parametrize("damage", fuzz.DAMAGES, ids=lambda damage: damage.__name__)
def test_each_kind_of_damage(tmp_path: Path, damage: fuzz.Damage) -> None:
    """Each kind of damage of the mutation run changes the file and is survived."""
    random = np.random.default_rng(3)
    changed = 0
    for _ in range(10):
        content = damage(CLEAN, random)
        changed += content != CLEAN
        path = tmp_path / "A.csv"
        path.write_bytes(content)
        fuzz.outcome(RawFile(path, "A.csv", "cycling", "bdf"), cell="A", raw=RAW)
    assert changed > 3


def test_settings_of_the_demonstration_are_found() -> None:
    """The mutation run reads files by the layouts of the demonstration."""
    root = Path(__file__).resolve().parents[2]
    raw = read_settings(root / "config" / "demo" / "campaign.yaml").blocks["raw"]
    assert len(raw.cycling) + len(raw.impedance) == 8
