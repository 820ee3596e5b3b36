"""Shared by all tests: a small campaign that is right, to be spoilt by each test."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING

# With a worker on every core, threads of the linear algebra only wait for each other. Said before
# numpy is imported, as Snakemake says it to each job.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import pytest
from hypothesis import HealthCheck
from hypothesis import settings as search

if TYPE_CHECKING:
    from demonstrated import Demonstrated

# A search for counterexamples must not fail because the machine is slow; where a landing hangs on
# it (CI is set), it looks at the same examples every time, elsewhere it goes on looking.
search.register_profile("any machine", deadline=None, suppress_health_check=[HealthCheck.too_slow])
search.register_profile("landing", parent=search.get_profile("any machine"), derandomize=True)
# The register of reports issued is the one place that reads the clock: here its time is stated, so
# that runs can be compared byte by byte.
os.environ.setdefault("SOURCE_DATE_EPOCH", "1767225600")
search.load_profile("landing" if os.environ.get("CI") else "any machine")

LONGEST = (
    "test_reruns.py",
    "cli/test_run.py",
    "test_door_campaign.py",
    "test_archive.py",
    "test_campaign.py",
    "test_addresses.py",
    "results/test_tutorial.py",
    "report/test_render.py",
    "demo/test_no_effect.py",
    "report/web/test_page.py",
    "test_wide_table.py",
)
"""Files that run whole campaigns, or make whole reports, the longest first."""
_OF_THE_REPORT = ("changes_and_paper", "contents", "figures", "left_out", "marks", "words_whole")
SHARED = {
    "tests/cli/test_run.py": "tests/test_reruns.py",
    "tests/test_results.py": "tests/test_reruns.py",
    "tests/test_addresses.py": "tests/test_campaign.py",
    **{f"tests/report/test_{name}.py": "tests/report/test_render.py" for name in _OF_THE_REPORT},
    **{f"tests/report/web/test_{name}.py": "tests/report/test_render.py"
       for name in ("page", "in_a_browser")},
}  # fmt: skip
"""Files that use what another makes once in a session: the worker that has one takes both."""
SETTINGS = """\
campaign:
  id: trial
  title: A trial
  question: Does it last?
  time_zone: Europe/Berlin
build_sheet:
  factors: [seal]
raw:
  cycling:
    - files: raw/{cell}.csv
electrodes:
  positive: {material: LFP}
  negative: {material: graphite}
cycling:
  capacity_basis_mAh: 2.0
  ageing_rate: 0.5
  upper_voltage_V: 3.65
  lower_voltage_V: 2.5
comparison:
  factors:
    - {factor: seal, control: plain}
"""
SHEET = """\
cell,batch,seal,crimped_at
A1,A,plain,2026-03-02T10:00
A2,A,bead,2026-03-02T10:10
"""
LOG = """\
time,cell,event,cause,charge_mAh,mass_mg,note
2026-03-03T09:00,A1,plated,,0.03,,
"""


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Begin with the longest files, so that no worker is left with one while others are done."""
    places = {name: place for place, name in enumerate(LONGEST)}
    here = Path(__file__).parent
    items.sort(key=lambda item: places.get(item.path.relative_to(here).as_posix(), len(places)))


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config: pytest.Config, log: object) -> object:
    """Hand out tests by file, and files that share a run together."""
    from xdist.scheduler import LoadFileScheduling  # noqa: PLC0415 (the controller's alone)

    class ByRun(LoadFileScheduling):
        """One worker for all files that share a run."""

        def _split_scope(self, nodeid: str) -> str:
            file = super()._split_scope(nodeid)
            return SHARED.get(file, file)

    return ByRun(config, log)


@pytest.fixture(scope="session")
def four_cells(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Four cells of the demonstration, run by Snakemake with one core: to copy, not to change."""
    from campaign_runs import FOUR, MEETING, demonstration, run  # noqa: PLC0415 (few tests need it)

    work = tmp_path_factory.mktemp("four")
    demonstration(work, cells=FOUR, settings=MEETING)
    run(work, cores=1)
    return work


@pytest.fixture(scope="session")
def demonstration_run(tmp_path_factory: pytest.TempPathFactory) -> Demonstrated:
    """The whole demonstration, run once for all who look at its results."""
    from demonstrated import demonstrated  # noqa: PLC0415 (few tests need it)

    return demonstrated(tmp_path_factory.mktemp("demo"))


@pytest.fixture
def campaign_folder(tmp_path: Path) -> Path:
    """A campaign of two cells with a raw file each."""
    folder = tmp_path / "campaign"
    (folder / "raw").mkdir(parents=True)
    (folder / "campaign.yaml").write_text(SETTINGS, encoding="utf-8")
    (folder / "build-sheet.csv").write_text(SHEET, encoding="utf-8")
    (folder / "bench-log.csv").write_text(LOG, encoding="utf-8")
    rows = "Test Time / s,Voltage / V,Current / A\n0,3.0,0.001\n60,{},0.001\n"
    for cell, last in (("A1", "3.1"), ("A2", "3.2")):
        (folder / "raw" / f"{cell}.csv").write_text(rows.format(last), encoding="utf-8")
    return folder
