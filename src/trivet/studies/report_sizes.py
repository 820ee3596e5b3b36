"""What the report costs: pages, processor time and bytes of the stage for unlike campaigns.

`python -m trivet.studies.report_sizes` makes four campaigns from the invented one, and one of six
cells with a sloping positive, runs them, and prints a line each: 6 cells, 96 cells, nothing but
impedance, a table of lives alone, sloping positives. The raw files are those of the models, no
denser. `--keep FOLDER` keeps campaigns and reports, to be looked at. `--of FOLDER...` measures
campaigns that have been run (folders that hold `campaign/` and `reports/`) instead.
"""

from __future__ import annotations

import argparse
import csv
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import pikepdf
import pyarrow as pa
import pyarrow.compute as pc
import yaml
from pyarrow.csv import write_csv

from trivet.studies.scale import accounted, make_campaign
from trivet.studies.sloping_cell import Ageing, check_ups, simulated

_LIVES = "lifetimes.csv"
_CELLS_OF_IMPEDANCE = 24
_HEADERS = {
    "Unix Time / s": "time_s",
    "Current / A": "current_mA",
    "Voltage / V": "cell_V",
    "Positive Electrode Potential / V": "positive_V",
    "Negative Electrode Potential / V": "negative_V",
}
_SLOPING = """\
campaign:
  id: sloping
  title: Sloping positives
  question: Does epoxy keep more lithium in than tape?
  time_zone: UTC
  invented: true
build_sheet: {factors: [seal]}
raw: {cycling: [{files: "raw/{cell}.csv"}]}
electrodes: {positive: {material: NMC}, negative: {material: graphite}}
cycling:
  capacity_basis_mAh: 2.0
  ageing_rate: 0.5
  check_up_rate: 0.1
  upper_voltage_V: 4.15
  lower_voltage_V: 3.0
comparison: {factors: [{factor: seal, control: tape}]}
"""


@dataclass(frozen=True)
class Measured:
    """What the stage `report` took.

    Attributes
    ----------
    name : str
        Folder of the campaign.
    pages : int
        Pages of the PDF [1].
    processor_s : float
        Processor time [s].
    pdf_bytes, page_bytes : int
        Sizes of the PDF and of the web page [B].
    """

    name: str
    pages: int
    processor_s: float
    pdf_bytes: int
    page_bytes: int


def of_impedance(folder: Path, *, cells: int) -> None:
    """Make a campaign of which there is nothing but spectra.

    Parameters
    ----------
    folder : Path
        Where to.
    cells : int
        Cells [1].
    """
    make_campaign(folder, cells=cells, rows=1)
    for path in (folder / "raw").glob("cycling-*"):
        shutil.rmtree(path)
    settings = _settings(folder)
    del settings["raw"]["cycling"]
    _write(folder, settings)


def of_lives(folder: Path, *, results: Path) -> None:
    """Make a campaign of a table of lives, those that another campaign has found.

    Parameters
    ----------
    folder : Path
        A copy of the folder of that campaign, whose raw files go.
    results : Path
        Its results.
    """
    with (results / "tables" / "lifetimes.csv").open(encoding="utf-8", newline="") as file:
        found = [row for row in csv.DictReader(file) if row["endpoint"] == "cell"]
    names = ("cell", "endpoint", "clock", "duration", "observed", "cause")
    with (folder / _LIVES).open("w", encoding="utf-8", newline="") as file:
        table = csv.DictWriter(file, names, extrasaction="ignore")
        table.writeheader()
        table.writerows(found)
    shutil.rmtree(folder / "raw")
    settings = _settings(folder)
    del settings["raw"]
    settings["bench_log"] = {"file": None}
    settings.setdefault("lifetime", {})["table"] = _LIVES
    _write(folder, settings)


def of_sloping(folder: Path) -> None:
    """Make a campaign of six cells with a sloping positive, of which one group fades faster.

    Parameters
    ----------
    folder : Path
        Where to.
    """
    (folder / "raw").mkdir(parents=True)
    (folder / "campaign.yaml").write_text(_SLOPING, encoding="utf-8")
    sheet, log = ["cell,batch,seal,crimped_at"], ["time,cell,event,charge_mAh"]
    for place in range(6):
        cell, seal = f"s{place + 1}", ("tape", "epoxy")[place % 2]
        lost_mAh = (0.016, 0.004)[place % 2] * (1.0 + 0.1 * (place // 2))
        found = simulated(check_ups(5), ageing=Ageing(lithium_mAh=lost_mAh), seed=place)
        table = pa.table({header: found[name] for header, name in _HEADERS.items()})
        table = table.set_column(1, "Current / A", pc.divide(table["Current / A"], 1000.0))
        write_csv(table, folder / "raw" / f"{cell}.csv")
        sheet.append(f"{cell},B1,{seal},2023-11-14T20:00:00")
        log.append(f"2023-11-14T22:30:00,{cell},plated,0.05")
    for name, lines in (("build-sheet.csv", sheet), ("bench-log.csv", log)):
        (folder / name).write_text("\n".join(lines) + "\n", encoding="utf-8")


def _settings(folder: Path) -> dict[str, dict[str, object]]:
    """Settings as written."""
    found: dict[str, dict[str, object]] = yaml.safe_load(
        (folder / "campaign.yaml").read_text(encoding="utf-8")
    )
    return found


def _write(folder: Path, settings: dict[str, dict[str, object]]) -> None:
    """Write settings."""
    text = yaml.safe_dump(settings, sort_keys=False, allow_unicode=True)
    (folder / "campaign.yaml").write_text(text, encoding="utf-8")


def run(work: Path) -> Path:
    """Run the campaign in a folder; its results.

    Raises
    ------
    subprocess.CalledProcessError
        The run failed; its output stands in `run.log`.
    """
    with (work / "run.log").open("ab") as log:
        command = [sys.executable, "-m", "trivet.cli.main", "run", "campaign"]
        subprocess.run(command, cwd=work, stdin=subprocess.DEVNULL, stdout=log, stderr=log,
                       check=True)  # fmt: skip
    return results_of(work)


def results_of(work: Path) -> Path:
    """Results of the one campaign in a folder."""
    (job,) = (work / "reports").glob("*/jobs/report.json")
    return job.parents[1]


def measured(work: Path) -> Measured:
    """Make the report of a campaign again, in a copy of its results, and measure.

    Parameters
    ----------
    work : Path
        Folder with `campaign/` and `reports/`.
    """
    results = results_of(work)
    with tempfile.TemporaryDirectory(prefix="trivet-report-") as made:
        copy = Path(made) / results.name
        shutil.copytree(results, copy, ignore=shutil.ignore_patterns("archive", "cells"))
        job = copy / "jobs" / "report.json"
        campaign = work / "campaign"
        call = ("-m", "trivet.stages", f"--campaign={campaign.resolve()}", "--", str(job))
        with tempfile.TemporaryFile() as log:
            usage = accounted(*call, work=copy, log=log)
        with pikepdf.open(copy / "report.pdf") as document:
            pages = len(document.pages)
        return Measured(
            name=work.name,
            pages=pages,
            processor_s=usage.ru_utime + usage.ru_stime,
            pdf_bytes=(copy / "report.pdf").stat().st_size,
            page_bytes=(copy / "report.html").stat().st_size,
        )


def table(rows: Sequence[Measured]) -> Iterator[str]:
    """Lines of the table."""
    yield "| campaign | pages | processor s | PDF, kB | web page, kB |"
    yield "|---|---|---|---|---|"
    for one in rows:
        yield (
            f"| {one.name} | {one.pages} | {one.processor_s:.1f} | {one.pdf_bytes / 1e3:,.0f} "
            f"| {one.page_bytes / 1e3:,.0f} |"
        )


def made(folder: Path) -> Iterator[Path]:
    """Make and run the campaigns, each in a folder of its own."""
    for cells in (6, 96):
        work = folder / f"{cells} cells"
        make_campaign(work / "campaign", cells=cells, rows=1)
        run(work)
        yield work
    lives = folder / "lives alone"
    shutil.copytree(work / "campaign", lives / "campaign")
    of_lives(lives / "campaign", results=results_of(work))
    run(lives)
    yield lives
    spectra = folder / "impedance alone"
    of_impedance(spectra / "campaign", cells=_CELLS_OF_IMPEDANCE)
    run(spectra)
    yield spectra
    sloping = folder / "sloping positive, 6 cells"
    of_sloping(sloping / "campaign")
    run(sloping)
    yield sloping


def main(argv: Sequence[str] | None = None) -> None:
    """Measure campaigns and print the table.

    Parameters
    ----------
    argv : sequence of str or None
        Arguments without the program.
    """
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--of", type=Path, nargs="+", help="folders of campaigns that were run")
    parser.add_argument("--keep", type=Path, help="a folder that keeps campaigns and reports")
    given = parser.parse_args(argv)
    if given.of:
        rows = [measured(work) for work in given.of]
    else:
        with tempfile.TemporaryDirectory(prefix="trivet-reports-") as folder:
            rows = [measured(work) for work in made(given.keep or Path(folder))]
    for line in table(rows):
        print(line)


if __name__ == "__main__":
    main()
