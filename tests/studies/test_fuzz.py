"""Studies of damaged inputs: some of each kind end well; what they damage is sound before."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from trivet.campaign.settings_file import read_settings
from trivet.rawfiles.layout.patterns import match_files
from trivet.studies.fuzz import spectra
from trivet.studies.fuzz.ends import counted
from trivet.studies.fuzz.raw_files import outcome
from trivet.studies.fuzz.records import DAMAGES, KINDS, damaged, survived
from trivet.studies.fuzz.sources import further_sources

ROOT = Path(__file__).resolve().parents[2]


def test_records_end_in_tables() -> None:
    """Some of each kind; thousands: `python -m trivet.studies.fuzz.records`."""
    random = np.random.default_rng(11)
    ends = [survived(kind, random) for kind in (*KINDS[:2] * 8, *KINDS[2:])]
    assert set(ends) <= {"cycles", "no cycle"}
    assert ends.count("cycles") > len(ends) / 2


def test_spectra_end_in_tables() -> None:
    """Some of each kind; thousands: `python -m trivet.studies.fuzz.spectra`."""
    random = np.random.default_rng(11)
    assert {spectra.survived(number, random) for number in range(30)} <= {"spectra", "no spectrum"}


def test_whatever_comes_to_another_end_is_counted(capsys: pytest.CaptureFixture[str]) -> None:
    """An exception is told whole, counted by its kind, and makes the status 1."""

    def one(number: int, random: np.random.Generator) -> str:
        """Fail every third time."""
        if number % 3 == 0:
            raise ZeroDivisionError("float division by zero")
        return "table"

    assert counted(one, count=6, seed=1, what="things") == 1
    printed = capsys.readouterr()
    said = "6 damaged things: table 4, wrong (ZeroDivisionError) 2; 2 came to another end"
    assert printed.out.strip() == said
    assert "number 3: float division by zero" in printed.err


def test_every_damage_is_done() -> None:
    """Each kind comes up, and what it leaves is another record than before."""
    random = np.random.default_rng(2)
    seen: set[str] = set()
    for _ in range(60):
        seen |= set(damaged("graphite", random)[1])
    assert seen == {damage.__name__ for damage in DAMAGES}


@pytest.mark.parametrize("place", range(4))
def test_files_of_further_layouts_are_sound_before(tmp_path: Path, place: int) -> None:
    """All rows of each are used: what the study damages is read right as it stands."""
    settings = read_settings(ROOT / "config" / "demo" / "campaign.yaml").blocks["raw"]
    sources, raw = further_sources(settings)
    source = sources[place]
    path = tmp_path / source.relative
    path.parent.mkdir(parents=True)
    path.write_bytes(source.content)
    (file,) = match_files([path], campaign_folder=tmp_path, raw=raw, cell=source.cell)
    (ledger,) = outcome(file, cell=source.cell, raw=raw).ledger.to_pylist()
    assert ledger["rows_used"] > 30, ledger
    assert ledger["rows_set_aside"] == 0, ledger
