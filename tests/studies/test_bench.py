"""Memory of reading: what a row costs, and that the text of a file is not held."""

from __future__ import annotations

import pytest

from trivet.studies.bench import BYTES_A_ROW, measured, write_clean_file


@pytest.fixture(scope="module")
def peaks(tmp_path_factory: pytest.TempPathFactory) -> dict[str, float]:
    """Largest memory of the stage in processes of their own [MB]."""
    folder = tmp_path_factory.mktemp("bench")
    write_clean_file(folder / "few.csv", 60_000)
    write_clean_file(folder / "many.csv", 600_000)
    header, _, rows = (folder / "few.csv").read_text().partition("\n")
    signs = "x" * 2000
    wider = "".join(f"{row},{signs}\n" for row in rows.splitlines()[:50_000])
    (folder / "wide.csv").write_text(f"{header},Remark\n{wider}")
    return {
        name: measured("stage", folder / f"{name}.csv", folder)[1]
        for name in ("few", "many", "wide")
    }


def test_a_row_costs_so_many_bytes_at_most(peaks: dict[str, float]) -> None:
    """Ten times the rows take no more than the stated bytes for each row more."""
    assert (peaks["many"] - peaks["few"]) * 2**20 < BYTES_A_ROW * 540_000


def test_the_text_of_a_file_is_not_held(peaks: dict[str, float]) -> None:
    """A file of 100 MB whose rows are long takes hardly more memory than one of 4 MB."""
    assert peaks["wide"] - peaks["few"] < 40
