"""Beside an earlier state: what is changed, what is printed, and what happens without history."""

from __future__ import annotations

from pathlib import Path

import pytest

from trivet.studies.bench_before import Beside, State, change_a_file, main, table


def test_one_cycling_file_of_the_cell_loses_its_last_row(tmp_path: Path) -> None:
    """Other cells and the spectra stay as they are."""
    files = ("cycling-a/c05.csv", "cycling-a/c06.csv", "impedance-a/c05.csv")
    for name in files:
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).write_bytes(b"time\n1\n2\n")
    changed = change_a_file(tmp_path, cell="c05")
    assert changed == tmp_path / files[0]
    assert [(tmp_path / name).read_bytes() for name in files] == [
        b"time\n1\n",
        b"time\n1\n2\n",
        b"time\n1\n2\n",
    ]


def test_a_state_runs_its_own_source_and_counts_what_it_took(tmp_path: Path) -> None:
    """A package of the same name in its folder is what is imported."""
    (tmp_path / "src" / "trivet").mkdir(parents=True)
    (tmp_path / "src" / "trivet" / "__init__.py").write_text("WHOSE = 'its own'\n")
    state = State(tmp_path / "src", tmp_path, ())
    told, used_s = state.python("-c", "import trivet; print(trivet.WHOSE)")
    assert told.strip() == "its own"
    assert used_s > 0
    with pytest.raises(RuntimeError, match="ended with 3"):
        state.python("-c", "raise SystemExit(3)")


def test_the_table_gives_how_many_times_as_long() -> None:
    """Two seconds where it took four are half as long."""
    assert list(table([Beside("reading", 4.0, 2.0)], commit="abc"))[2] == (
        "| reading | 4 | 2 | 0.50 |"
    )


def test_without_the_commit_it_says_so(capsys: pytest.CaptureFixture[str]) -> None:
    """An archive or a shallow clone has no history."""
    main(["no-such-commit"])
    assert capsys.readouterr().out.startswith("Not compared with no-such-commit: ")
