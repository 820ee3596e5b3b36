"""Columns that a file may lack."""

from __future__ import annotations

from pathlib import Path

from raw_files import columns, lines, read

from trivet.schema.settings.raw import Layout, LayoutColumn


def test_a_column_that_a_file_may_lack(tmp_path: Path) -> None:
    """One layout reads files with and without it; a file that lacks a required one is set aside."""
    layout = Layout(
        columns=[
            *columns(
                t="elapsed time:s", I="current:mA", U="cell voltage:V", P="positive potential:V"
            ),
            LayoutColumn(header="T", quantity="temperature", unit="degC", required=False),
        ]
    )
    for name, header, whole in (("with", "t,I,U,P,T", True), ("without", "t,I,U,P", True),
                                ("lacks one", "t,I,U,T", False)):  # fmt: skip
        (tmp_path / name).mkdir()
        width = len(header.split(","))
        rows = [",".join([str(60 * n), "1.0", f"{3 + n / 100:.2f}", "3.30", "25.0"][:width])
                for n in range(30)]  # fmt: skip
        got = read(tmp_path / name, {"A.csv": lines(header, *rows)}, layout)
        assert (len(got.series["time_s"]) == 30) is whole
