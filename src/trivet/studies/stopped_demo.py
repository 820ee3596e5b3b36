"""What the reasons of two stops do to the verdicts of the invented campaign.

Run as `python -m trivet.studies.stopped_demo` from the folder that holds `config/demo`. The
campaign is run with its bench log as it is, where two cells were stopped for their channels,
without these lines, and with other reasons in them; each verdict is printed with the report's own
sentence.
"""

from __future__ import annotations

import csv
import io
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Final

from trivet.demo.make import main as make_demo
from trivet.reasons import Judged, StopReason
from trivet.schema.tables.dictionary import TABLES
from trivet.store.tables import read_table

_LOG: Final = "bench-log.csv"
_SHEETS: Final = ("campaign.yaml", "build-sheet.csv", _LOG)

Line = dict[str, str]


def _as(reason: str) -> Callable[[Line], Line | None]:
    """Give stopped cells a reason."""
    return lambda line: {**line, "reason": reason} if line["event"] == "stopped" else line


VARIANTS: Final[Mapping[str, Callable[[Line], Line | None]]] = {
    "as it is: channel needed": lambda line: line,
    "without these lines": lambda line: None if line["event"] == "stopped" else line,
    "looked bad": _as(StopReason.LOOKED_BAD),
    "no reason": _as(""),
}
"""What becomes of each line of the bench log; None where it goes."""


def main() -> None:
    """Run the campaign in each variant and print its verdicts."""
    print("| the two stops | group | verdict | exact p | reason |\n|---|---|---|---|---|")
    with tempfile.TemporaryDirectory(prefix="trivet-stops-") as folder:
        campaign = Path(folder) / "demo"
        campaign.mkdir()
        for name in _SHEETS:
            shutil.copyfile(Path("config/demo") / name, campaign / name)
        make_demo([str(campaign)])
        log = (campaign / _LOG).read_text(encoding="utf-8")
        for words, change in VARIANTS.items():
            (campaign / _LOG).write_text(changed(log, change), encoding="utf-8")
            for line in _verdicts(campaign, Path(folder)):
                print(f"| {words} | {line} |", flush=True)


def changed(log: str, change: Callable[[Line], Line | None]) -> str:
    """Give a bench log with each line changed, or left out.

    Parameters
    ----------
    log : str
        Text of the log.
    change : callable
        Gives a line as it shall be; None where it goes.
    """
    lines = csv.DictReader(io.StringIO(log))
    text = io.StringIO()
    written = csv.DictWriter(text, lines.fieldnames or (), lineterminator="\n")
    written.writeheader()
    written.writerows(line for line in map(change, lines) if line is not None)
    return text.getvalue()


def _verdicts(campaign: Path, work: Path) -> list[str]:
    """Verdicts on the life of cells on the primary clock, a line each."""
    subprocess.run(
        [sys.executable, "-m", "trivet.cli.main", "run", str(campaign)],
        cwd=work,
        stdin=subprocess.DEVNULL,
        stdout=subprocess.DEVNULL,
        check=True,
    )
    path = work / "reports" / "demo" / "tables" / "comparisons.parquet"
    return [
        f"{row['group']} | {row['verdict']} | {row['p']:.3g} | {row['reason']}"
        for row in read_table(TABLES["comparisons"], path).to_pylist()
        if (row["endpoint"], row["clock"], row["measure"]) == ("cell", "hours", Judged.EXACT)
        and row["group"]
    ]


if __name__ == "__main__":
    main()
