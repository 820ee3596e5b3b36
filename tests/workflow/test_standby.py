"""Jobs forked from the process that stands by are as jobs in processes of their own."""

from __future__ import annotations

import fcntl
import os
import signal
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from trivet.stages.standby import ADDRESS, handed_over, hold_standard_streams
from trivet.workflow.run import Workflow
from trivet.workflow.source_digest import SourceFiles
from trivet.workflow.standby import _forked, stand_by

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


def done(work: Workflow, job: str, *, closed: str = "") -> subprocess.CompletedProcess[str]:
    """Give the command of a job, with some of its streams closed, and wait for it."""
    call = ["sh", "-c", f'exec "$@" {closed}', "sh", *command(work, job)]
    return subprocess.run(
        call, check=False, capture_output=True, text=True, stdin=subprocess.DEVNULL
    )


def started(work: Workflow, job: str) -> subprocess.Popen[str]:
    """Give the command of a job."""
    return subprocess.Popen(
        command(work, job), stdin=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True
    )


@contextmanager
def kept_waiting(work: Workflow) -> Iterator[None]:
    """No job of the campaign gets to work meanwhile, as with jobs of a killed run still at work."""
    with (work.jobs.folder / "jobs.lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        yield


def tables(work: Workflow) -> dict[str, bytes]:
    """What jobs have written."""
    return {path.name: path.read_bytes() for path in sorted(work.reports.rglob("*.parquet"))}


def is_gone(pid: int) -> bool:
    """Whether a process is gone, or waits only to be counted, before patience is."""
    until_s = time.monotonic() + PATIENCE_S
    while time.monotonic() < until_s:
        status = Path(f"/proc/{pid}/stat")
        if not status.exists() or status.read_text().rpartition(")")[2].split()[0] == "Z":
            return True
        time.sleep(0.02)
    return False


def fork_of(process: subprocess.Popen[bytes]) -> int:
    """The job that is at work, as soon as one is."""
    children = Path(f"/proc/{process.pid}/task/{process.pid}/children")
    until_s = time.monotonic() + PATIENCE_S
    while time.monotonic() < until_s:
        if told := children.read_text().split():
            return int(told[0])
        time.sleep(0.01)
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


@pytest.mark.usefixtures("process")
@pytest.mark.parametrize("content", ['{"stage": "none"}', "[]", "no mapping", '{"stage": "read"}'])
def test_a_job_that_fails_says_so_where_its_command_prints(work: Workflow, content: str) -> None:
    """Status and traceback are the command's; the next job is forked all the same."""
    work.jobs.path("read-A2").write_text(content, encoding="utf-8")
    failed = done(work, "read-A2")
    assert failed.returncode == 1
    assert "Traceback" in failed.stderr
    assert done(work, "read-A1").returncode == 0
    assert (work.reports / "logs" / "read-A1.tsv").exists()


@pytest.mark.usefixtures("process")
def test_a_command_that_is_refused_ends_as_it_would_by_itself(work: Workflow) -> None:
    """What is said of an unknown option, with its status."""
    call = [*command(work, "read-A1")[:3], "--none", str(work.jobs.path("read-A1"))]
    refused = subprocess.run(call, check=False, capture_output=True, text=True)
    assert refused.returncode == 2
    assert "--none" in refused.stderr


def test_a_killed_job_fails_its_command(work: Workflow, process: subprocess.Popen[bytes]) -> None:
    """As where a machine runs out of memory; nothing is taken for done."""
    with kept_waiting(work):
        asked = started(work, "read-A1")
        os.kill(fork_of(process), signal.SIGKILL)
        told = asked.communicate(timeout=PATIENCE_S)[1]
    assert asked.returncode == 1
    assert "was killed" in told
    assert not tables(work)
    assert done(work, "read-A1").returncode == 0


def test_a_command_that_is_killed_takes_its_job_with_it(
    work: Workflow, process: subprocess.Popen[bytes]
) -> None:
    """No job works on for nobody."""
    with kept_waiting(work):
        asked = started(work, "read-A1")
        fork = fork_of(process)
        asked.kill()
        assert is_gone(fork)
        asked.communicate(timeout=PATIENCE_S)
    assert not tables(work)
    assert done(work, "read-A2").returncode == 0


@pytest.mark.parametrize("how", [signal.SIGKILL, signal.SIGTERM])
def test_no_job_outlives_the_process_it_is_forked_from(
    work: Workflow, monkeypatch: pytest.MonkeyPatch, how: signal.Signals
) -> None:
    """Its command has failed then, and what it wrote later would be taken for whole."""
    with standing_by() as (process, address), kept_waiting(work):
        monkeypatch.setenv(ADDRESS, address)
        asked = started(work, "read-A1")
        fork = fork_of(process)
        os.kill(process.pid, how)
        assert asked.wait(PATIENCE_S) == 1
        asked.communicate(timeout=PATIENCE_S)
        assert is_gone(fork)
    assert not tables(work)


def test_a_job_that_was_not_begun_is_done_where_it_was_given(
    work: Workflow, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where the process was killed with a job before its door, or long before."""
    with standing_by() as (process, address):
        monkeypatch.setenv(ADDRESS, address)
        os.kill(process.pid, signal.SIGSTOP)
        asked = started(work, "read-A1")
        time.sleep(0.3)
        process.kill()
        assert asked.wait(PATIENCE_S) == 0
        asked.communicate(timeout=PATIENCE_S)
    assert tables(work)
    assert done(work, "read-A2").returncode == 0
    assert not (work.reports / "logs").exists()


def test_the_process_ends_with_the_run_once_its_jobs_have(
    work: Workflow, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whatever ended the run: its end of the pipe is closed by the kernel."""
    with standing_by() as (process, address):
        monkeypatch.setenv(ADDRESS, address)
        with kept_waiting(work):
            asked = started(work, "read-A1")
            fork_of(process)
            assert process.stdin is not None
            process.stdin.close()
            time.sleep(0.2)
            assert process.poll() is None
        assert asked.wait(PATIENCE_S) == 0
        asked.communicate(timeout=PATIENCE_S)
        assert process.wait(PATIENCE_S) == 0
    assert tables(work)


@pytest.mark.usefixtures("process")
def test_who_does_not_know_the_secret_is_not_heard(
    work: Workflow, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The name of a socket can be seen by all; the job is done by the process that asked."""
    name = os.environ[ADDRESS].partition(":")[0]
    monkeypatch.setenv(ADDRESS, f"{name}:{'0' * 32}")
    assert done(work, "read-A1").returncode == 0
    assert not (work.reports / "logs").exists()


def as_another_user(work: Workflow, instead: str) -> subprocess.CompletedProcess[str]:
    """Hand a job over as another user, with one function of the command replaced."""
    script = (
        "import os, sys\n"
        "from trivet.stages import standby\n"
        f"{instead}\n"
        "os.setuid(65534)\n"
        "print(standby.handed_over(sys.argv[1:]))"
    )
    call = [sys.executable, "-c", script, *command(work, "read-A1")[3:]]
    return subprocess.run(call, check=False, capture_output=True, text=True)


@pytest.mark.skipif(os.getuid() != 0, reason="only root can be another user")
@pytest.mark.usefixtures("process")
def test_another_user_is_not_heard(work: Workflow) -> None:
    """Whatever that user trusts and knows: nothing is done as this one."""
    asked = as_another_user(work, "standby.user_at_the_end_of = lambda line: os.getuid()")
    assert asked.stdout.strip() == "None", asked.stderr
    assert not tables(work)


@pytest.mark.skipif(os.getuid() != 0, reason="only root can be another user")
@pytest.mark.usefixtures("process")
def test_no_job_is_given_to_another_user(work: Workflow) -> None:
    """Who took the name of the socket is not told what stands in the surroundings."""
    asked = as_another_user(work, "standby._ask = lambda *_: print('told')")
    assert asked.stdout.strip() == "None", asked.stderr


@pytest.mark.usefixtures("process")
@pytest.mark.parametrize("closed", ["<&-", ">&-", "2>&-", "<&- >&- 2>&-"])
def test_closed_streams_are_nothing_special(work: Workflow, closed: str) -> None:
    """No file of the job, and no line to it, passes for a stream."""
    assert done(work, "read-A1", closed=closed).returncode == 0
    assert (work.reports / "logs" / "read-A1.tsv").exists()


def test_a_signal_that_was_kept_back_is_heard(
    work: Workflow, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whoever started the run may keep back the one that tells the ends of jobs."""
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGCHLD})
    try:
        with standing_by() as (_, address):
            monkeypatch.setenv(ADDRESS, address)
            asked = started(work, "read-A1")
            assert asked.wait(PATIENCE_S) == 0
            asked.communicate(timeout=PATIENCE_S)
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def test_a_process_with_threads_does_not_fork() -> None:
    """What another thread holds at that moment would be held for ever in the fork."""
    one, other = socket.socketpair()
    wait = threading.Event()
    beside = threading.Thread(target=wait.wait)
    beside.start()
    try:
        with one, other:
            assert _forked(one) is None
            one.close()
            assert other.recv(1) == b""
    finally:
        wait.set()
        beside.join()


def test_without_an_address_nothing_is_handed_over(monkeypatch: pytest.MonkeyPatch) -> None:
    """As in a terminal, and on a cluster."""
    monkeypatch.delenv(ADDRESS, raising=False)
    assert handed_over(["reports/demo/jobs/read-c01.json"]) is None


def test_open_streams_stay_as_they_are() -> None:
    """Only what is closed is opened, and nothing more is left open."""
    before = sorted(os.listdir("/proc/self/fd"))
    hold_standard_streams()
    assert sorted(os.listdir("/proc/self/fd")) == before
