"""The register of reports issued: appended to whole, read in spite of damage, never shortened."""

from __future__ import annotations

import json
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path
from typing import Any

import pytest

from trivet.store.register_file import ISSUED, append_entry, read_register, without_time


def entry(**more: Any) -> dict[str, Any]:
    """An entry of a report without contrasts."""
    return {
        "data_cut": "2026-03-01",
        "data_cut_s": 1_772_323_200.0,
        "version": "0",
        "settings": {"comparison.equivalence_margin": "1.25"},
        "digests": {},
        "columns": ["crimped_at", "seal"],
        "cells": {"K-01": {"seal": "tape", "included": "yes"}},
        "log": [],
        "ends": [],
        "verdicts": [],
    } | more


def test_an_entry_that_says_the_same_is_not_added(tmp_path: Path) -> None:
    """A run with nothing changed adds nothing; another data cut does, and so does a return."""
    file = tmp_path / "register.jsonl"
    assert append_entry(file, entry())
    before = file.read_bytes()
    assert not append_entry(file, entry())
    assert file.read_bytes() == before
    assert append_entry(file, entry(data_cut="2026-03-08"))
    assert append_entry(file, entry())
    assert file.read_bytes().startswith(before)
    known = read_register(file)
    assert [one["data_cut"] for one in known.entries] == ["2026-03-01", "2026-03-08", "2026-03-01"]
    assert without_time(known.entries[0]) == entry()


def test_the_time_of_issue_can_be_stated(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """SOURCE_DATE_EPOCH stands for the clock: 1 January 2026 is 1767225600 s."""
    # https://reproducible-builds.org/specs/source-date-epoch/; `date -u -d @1767225600`
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1767225600")
    append_entry(tmp_path / "register.jsonl", entry())
    (one,) = read_register(tmp_path / "register.jsonl").entries
    assert one[ISSUED] == "2026-01-01T00:00:00+00:00"


@pytest.mark.parametrize(
    "damage",
    [
        b"{",
        b'"text"',
        b"{}",
        b"\xff\xfe",
        b"[" * 100_000,
        b"NaN",
        json.dumps({ISSUED: "2026-01-01T00:00:00", **entry()}).encode(),
        json.dumps({ISSUED: "yesterday", **entry()}).encode(),
        json.dumps({ISSUED: "2026-01-01T00:00:00+00:00", **entry(ends=[7])}).encode(),
        json.dumps({ISSUED: "2026-01-01T00:00:00+00:00", **entry(cells={"a": 1})}).encode(),
        json.dumps({ISSUED: "2026-01-01T00:00:00+00:00", **entry(data_cut_s="x")}).encode(),
        json.dumps({ISSUED: "2026-01-01T00:00:00+00:00", **entry(log=[{"cell": "a"}])}).encode(),
    ],
)
def test_a_damaged_line_is_named_and_the_others_stay(tmp_path: Path, damage: bytes) -> None:
    """Whatever stands in line 2, lines 1 and 3 are read, line 2 is named and is kept as it is."""
    file = tmp_path / "register.jsonl"
    append_entry(file, entry())
    file.write_bytes(file.read_bytes() + damage)
    assert append_entry(file, entry(data_cut="2026-03-08"))
    known = read_register(file)
    assert [one["data_cut"] for one in known.entries] == ["2026-03-01", "2026-03-08"]
    ((line, why),) = known.damaged
    assert line == 2
    assert why
    assert file.read_bytes().split(b"\n")[1] == damage


def test_a_register_that_is_none_is_named(tmp_path: Path) -> None:
    """A folder in its place is a damaged register, not a traceback; none at all is an empty one."""
    assert read_register(tmp_path / "none").entries == ()
    (tmp_path / "folder").mkdir()
    ((line, why),) = read_register(tmp_path / "folder").damaged
    assert (line, "folder" in why) == (1, True)


def _write(file: Path, number: int) -> None:
    for turn in range(10):
        append_entry(file, entry(data_cut=f"{number}-{turn}"))


def test_two_writers_lose_nothing(tmp_path: Path) -> None:
    """Four processes that add ten entries each leave forty whole lines."""
    file = tmp_path / "register.jsonl"
    with ProcessPoolExecutor(4) as pool:
        for done in [pool.submit(_write, file, number) for number in range(4)]:
            done.result()
    known = read_register(file)
    assert not known.damaged
    cuts = {one["data_cut"] for one in known.entries}
    assert cuts == {f"{number}-{turn}" for number in range(4) for turn in range(10)}


def test_what_a_kill_leaves_beside_is_written_over(tmp_path: Path) -> None:
    """Half an entry beside the register, left by a kill, changes nothing."""
    file = tmp_path / "register.jsonl"
    append_entry(file, entry())
    (tmp_path / ".register.jsonl.new").write_bytes(b'{"half')
    append_entry(file, entry(data_cut="2026-03-08"))
    assert len(read_register(file).entries) == 2
    assert not (tmp_path / ".register.jsonl.new").exists()
