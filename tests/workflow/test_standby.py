"""Jobs forked from the process that stands by are as jobs in processes of their own."""

from __future__ import annotations

import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from trivet.stages.standby import ADDRESS, handed_over, user_at_the_end_of
from trivet.workflow.run import Workflow
from trivet.workflow.source_digest import SourceFiles
from trivet.workflow.standby import stand_by

PATIENCE_S = 30.0
Standing = tuple[subprocess.Popen[bytes], str]
"""A process that stands by, and its address."""


@pytest.fixture
def work(campaign_folder: Path, monkeypatch: pytest.MonkeyPatch) -> Workflow:
    """A campaign of two cells whose jobs are written, with nobody standing by."""
    monkeypatch.setenv(ADDRESS, "")
    # no result is made again here, so that the source need not be read
    monkeypatch.setattr(SourceFiles, "digest", lambda _, module: module)
    options = {"campaign": str(campaign_folder), "reports": str(campaign_folder.parent / "out")}
    work = Workflow(options, campaign_folder)
    work.prepare()
    return work


@contextmanager
def standing_by() -> Iterator[Standing]:
    """A process that stands by, and its address, which is no longer among the surroundings."""
    process = stand_by()
    if process is None:
        pytest.skip("needs Linux")
    yield process, os.environ.pop(ADDRESS)
    process.communicate()


@pytest.fixture(scope="module")
def one_for_all() -> Iterator[Standing]:
    """What has imported once stands by for all tests that leave it standing."""
    with standing_by() as standing:
        yield standing


@pytest.fixture
def process(
    one_for_all: tuple[subprocess.Popen[bytes], str],
    work: Workflow,
    monkeypatch: pytest.MonkeyPatch,
) -> subprocess.Popen[bytes]:
    """The process, at the address that jobs of this test know."""
    monkeypatch.setenv(ADDRESS, one_for_all[1])
    return one_for_all[0]


def command(work: Workflow, job: str) -> list[str]:
    """The command of a job, as the rules have it."""
    file = work.jobs.path(job)
    return [sys.executable, "-m", "trivet.stages", f"--campaign={work.folder}", "--", str(file)]


def done(work: Workflow, job: str) -> subprocess.CompletedProcess[str]:
    """Give the command of a job and wait for it."""
    return subprocess.run(command(work, job), check=False, capture_output=True, text=True)


def tables(work: Workflow) -> dict[str, bytes]:
    """What jobs have written."""
    return {path.name: path.read_bytes() for path in sorted(work.reports.rglob("*.parquet"))}


def ended(pid: int) -> bool:
    """Whether a process is gone, or waits only to be counted, before patience is."""
    until_s = time.monotonic() + PATIENCE_S
    while time.monotonic() < until_s:
        status = Path(f"/proc/{pid}/stat")
        if not status.exists() or status.read_text().rpartition(")")[2].split()[0] == "Z":
            return True
        time.sleep(0.02)
    return False


def forks_of(process: subprocess.Popen[bytes]) -> list[int]:
    """Jobs at work."""
    told = Path(f"/proc/{process.pid}/task/{process.pid}/children").read_text()
    return [int(one) for one in told.split()]


def started_fork(process: subprocess.Popen[bytes]) -> int:
    """The first job that is at work."""
    until_s = time.monotonic() + PATIENCE_S
    while time.monotonic() < until_s:
        if forks := forks_of(process):
            return forks[0]
        time.sleep(0.002)
    raise AssertionError("no job was forked")


def test_a_forked_job_writes_what_a_process_of_its_own_does(
    work: Workflow, request: pytest.FixtureRequest
) -> None:
    """Same bytes; the account of the job, which Snakemake can't measure, is written with them."""
    assert done(work, "read-A1").returncode == 0
    alone = tables(work)
    assert alone
    for path in work.reports.rglob("*.parquet"):
        path.unlink()
    request.getfixturevalue("process")
    assert done(work, "read-A1").returncode == 0
    assert tables(work) == alone
    names, values = (work.reports / "logs" / "read-A1.tsv").read_text("utf-8").splitlines()
    account = dict(zip(names.split("\t"), map(float, values.split("\t")), strict=True))
    assert set(account) == {"s", "max_rss", "cpu_time"}
    # MiB: no process that holds numpy and arrow is smaller, and none of this job needs a gibibyte
    assert 30 < account["max_rss"] < 1000
    assert account["cpu_time"] >= 0


@pytest.mark.usefixtures("process")
def test_a_job_that_fails_says_so_where_its_command_prints(work: Workflow) -> None:
    """Status and traceback are the command's; the next job is done all the same."""
    work.jobs.path("read-A2").write_text('{"stage": "no such stage"}', encoding="utf-8")
    failed = done(work, "read-A2")
    assert failed.returncode == 1
    assert "no such stage" in failed.stderr
    refused = done(work, "read-A1\n--no-such-option")
    assert refused.returncode != 0
    assert done(work, "read-A1").returncode == 0


def test_a_killed_job_fails_its_command(work: Workflow, process: subprocess.Popen[bytes]) -> None:
    """As where a machine runs out of memory; nothing is taken for done."""
    raw = work.folder / "raw" / "A1.csv"
    raw.unlink()
    os.mkfifo(raw)
    os.kill(process.pid, signal.SIGSTOP)
    asked = subprocess.Popen(command(work, "read-A1"), stderr=subprocess.PIPE, text=True)
    os.kill(process.pid, signal.SIGCONT)
    os.kill(started_fork(process), signal.SIGKILL)
    told = asked.communicate(timeout=PATIENCE_S)[1]
    assert asked.returncode == 1
    assert "was killed" in told
    assert not tables(work)


def test_a_command_that_is_killed_takes_its_job_with_it(
    work: Workflow, process: subprocess.Popen[bytes]
) -> None:
    """No job works on for nobody."""
    asked = subprocess.Popen(command(work, "read-A1"))
    fork = started_fork(process)
    asked.kill()
    asked.wait()
    assert ended(fork)
    assert done(work, "read-A2").returncode == 0


def test_where_nobody_stands_by_a_job_is_done_where_it_was_given(
    work: Workflow, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where the process was killed, the run goes on without it."""
    with standing_by() as (process, address):
        process.kill()
    monkeypatch.setenv(ADDRESS, address)
    assert done(work, "read-A1").returncode == 0
    assert not (work.reports / "logs" / "read-A1.tsv").exists()
    assert tables(work)


def test_the_process_ends_with_the_run() -> None:
    """Whatever ended it: its end of the pipe is closed by the kernel."""
    with standing_by() as (process, _):
        assert process.poll() is None
        assert process.stdin is not None
        process.stdin.close()
        assert process.wait(PATIENCE_S) == 0


def test_only_processes_of_the_same_user_are_heard() -> None:
    """The kernel says whose process is at the other end; nothing is asked of the one that calls."""
    one, other = socket.socketpair(socket.AF_UNIX)
    with one, other:
        assert user_at_the_end_of(one) == os.getuid()


@pytest.mark.skipif(os.getuid() != 0, reason="only root can be another user")
@pytest.mark.usefixtures("process")
def test_another_user_is_not_heard(work: Workflow) -> None:
    """A job that another user asks for is not done as this one, whatever that one trusts."""
    script = (
        "import os, sys\n"
        "from trivet.stages import standby\n"
        "os.setuid(65534)\n"
        "standby.user_at_the_end_of = lambda line: os.getuid()\n"
        "print(standby.handed_over(sys.argv[1:]))"
    )
    _, _, _, *arguments = command(work, "read-A1")
    asked = subprocess.run(
        [sys.executable, "-c", script, *arguments], check=False, capture_output=True, text=True
    )
    assert asked.stdout.strip() == "1", asked.stderr
    assert not tables(work)


def test_without_an_address_nothing_is_handed_over(monkeypatch: pytest.MonkeyPatch) -> None:
    """As in a terminal, and on a cluster."""
    monkeypatch.delenv(ADDRESS, raising=False)
    assert handed_over(["reports/demo/jobs/read-c01.json"]) is None
