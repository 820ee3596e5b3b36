"""The process of a run that stands by: it imports once what jobs import, and forks for each job.

A campaign has some hundred jobs, and imports take longer than most of them. What a stage imports is
imported here when its first job comes, and while nothing is asked what later stages import. A fork
shares the memory of what was imported. Everything else is as in a process of its own: surroundings,
folder and streams are those of the command, and so are the bytes of the results.

Its socket has a name in the kernel and no file, so that nothing is left behind by a kill; another
user who finds it is not heard. It ends with the run that started it, whichever way that ends.
"""

from __future__ import annotations

import atexit
import contextlib
import ctypes
import gc
import importlib
import json
import os
import resource
import secrets
import selectors
import signal
import socket
import subprocess
import sys
import tempfile
import time
import traceback
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from trivet.errors import EXIT_INPUT, CannotWriteError
from trivet.stages.command import main as carry_out
from trivet.stages.contract import STAGES, Stage
from trivet.stages.job import work_of
from trivet.stages.standby import (
    ADDRESS,
    DECLINED,
    HEAD,
    SECRET_LENGTH,
    TAKEN,
    hold_standard_streams,
    user_at_the_end_of,
)
from trivet.store.room import writing
from trivet.store.whole_file import write_whole

_ALGEBRA = ("OMP", "OPENBLAS", "GOTO", "MKL", "NUMEXPR")
_ONE_THREAD = {f"{name}_NUM_THREADS": "1" for name in _ALGEBRA} | {
    "JE_ARROW_MALLOC_CONF": "background_thread:false"
}
"""A process with threads can't be forked safely. Of the algebra's, Snakemake gives a job one too; a
store of memory that arrow links in starts one to tidy up."""
_PATIENCE_S = 2.0
"""How long a command may take to say what it wants; it is a process itself where that is not it."""
_PAUSE_S = 0.1
_DIE_WITH_PARENT = 1
"""PR_SET_PDEATHSIG of prctl(2)."""


def stand_by() -> subprocess.Popen[bytes] | None:
    """Start the process for the jobs of this run, where the system has what it needs.

    Returns
    -------
    Popen or None
        The process, which ends with this one or when its input is closed; None where there is
        none, and each job is a process of its own.
    """
    os.environ.pop(ADDRESS, None)
    if not sys.platform.startswith("linux"):
        return None
    name, secret = f"trivet-{secrets.token_hex(8)}", secrets.token_hex(SECRET_LENGTH // 2)
    try:
        hold_standard_streams()
        with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as listener:
            listener.bind(f"\0{name}")
            listener.listen(socket.SOMAXCONN)
            process = subprocess.Popen(
                [sys.executable, "-m", __name__, str(listener.fileno())],
                pass_fds=[listener.fileno()],
                env=os.environ | _ONE_THREAD | {ADDRESS: secret},
                stdin=subprocess.PIPE,
            )
    except OSError:
        # a system without such names, or without room for one more process: each job is its own
        return None
    os.environ[ADDRESS] = f"{name}:{secret}"
    # waited for, so that what it took counts as the run's
    atexit.register(process.communicate)
    return process


@dataclass(frozen=True)
class Asked:
    """A job that a command asked for.

    Attributes
    ----------
    arguments : list of str
        Behind the name of the module.
    folder : str
        Working folder of the command.
    surroundings : dict
        Its environment.
    streams : list of int
        Its standard input, output and error.
    """

    arguments: list[str]
    folder: str
    surroundings: dict[str, str]
    streams: list[int]

    @property
    def job(self) -> Path:
        """The file of the job."""
        return Path(self.folder, self.arguments[-1])

    @property
    def stage(self) -> Stage:
        """Its stage."""
        return STAGES[json.loads(self.job.read_bytes())["stage"]]

    def carry_out(self) -> int:
        """Do the job in this process, which is a fork for it; its exit status."""
        began_s = time.monotonic()
        try:
            self._become()
            carry_out(self.arguments)
            account(self.job, time.monotonic() - began_s)
        except CannotWriteError as error:
            sys.stderr.write(f"{error}\n")
            return EXIT_INPUT
        except SystemExit as end:
            return end.code if isinstance(end.code, int) else int(end.code is not None)
        except BaseException:  # noqa: BLE001 (as the interpreter would end with any)
            traceback.print_exc()
            return 1
        return 0

    def _become(self) -> None:
        """Take on streams, folder and surroundings of the command."""
        for place, stream in enumerate(self.streams):
            os.dup2(stream, place)
            os.close(stream)
        os.chdir(self.folder)
        os.environ.clear()
        os.environ.update(self.surroundings)
        # found once by whoever was first to ask
        tempfile.tempdir = None


def account(job: Path, wall_s: float) -> None:
    """Write down what a job took, with names and units of Snakemake's accounts of jobs.

    Snakemake itself would measure the command, which only waits.

    Parameters
    ----------
    job : Path
        File of the job that this process did.
    wall_s : float
        How long it took [s].

    Raises
    ------
    CannotWriteError
        There is no room or no right to write.
    """
    used = resource.getrusage(resource.RUSAGE_SELF)
    memory_MiB = used.ru_maxrss / 1024
    processor_s = used.ru_utime + used.ru_stime
    text = f"s\tmax_rss\tcpu_time\n{wall_s:.2f}\t{memory_MiB:.2f}\t{processor_s:.2f}\n"
    path = _account_of(job)
    with writing(path):
        write_whole(path, text.encode())


def _account_of(job: Path) -> Path:
    """Where it stands what a job took."""
    return job.parent.parent / "logs" / f"{job.stem}.tsv"


class Standby:
    """What the process does: take jobs, fork, tell each command how its job ended.

    Parameters
    ----------
    listener : socket
        Where commands come.
    run : int
        Descriptor that ends when the run does.
    secret : str
        What a command has to know.
    """

    def __init__(self, listener: socket.socket, run: int, secret: str) -> None:
        self._listener = listener
        self._run = run
        self._secret = secret.encode()
        self._process = os.getpid()
        self._jobs: dict[int, socket.socket] = {}
        self._ahead: list[Stage] = []
        self._ended, self._told = os.pipe()
        os.set_blocking(self._told, False)
        os.set_blocking(self._ended, False)
        signal.set_wakeup_fd(self._told)
        signal.signal(signal.SIGCHLD, lambda *_: None)
        # whoever started the run may have kept it back
        signal.pthread_sigmask(signal.SIG_UNBLOCK, {signal.SIGCHLD})
        # an interruption is for the jobs and for Snakemake, whose end is the end of this process
        self._interrupted = signal.signal(signal.SIGINT, signal.SIG_IGN)
        self._watch = selectors.DefaultSelector()
        for source in (listener, run, self._ended):
            self._watch.register(source, selectors.EVENT_READ)

    def serve(self) -> Asked | None:
        """Take jobs until the run ends and no job is left.

        Returns
        -------
        Asked or None
            In a fork, its job; None at the end.
        """
        at_work = True
        while at_work or self._jobs:
            ahead = at_work and bool(self._ahead)
            events = self._watch.select(0 if ahead else None)
            if ahead and not events:
                _import(self._ahead.pop(0))
            for source in (key.fileobj for key, _ in events):
                if source == self._run:
                    at_work = False
                    self._watch.unregister(self._run)
                    self._watch.unregister(self._listener)
                    self._listener.close()
                elif source == self._ended:
                    self._tell_ends()
                elif source != self._listener:
                    self._stop(source)
                elif at_work and (job := self._taken()) is not None:
                    return job
        return None

    def _taken(self) -> Asked | None:
        """Fork for a command that came; the job in the fork, None here."""
        try:
            line, _ = self._listener.accept()
        except OSError:
            # no descriptor left for it now: it waits, as does this process
            time.sleep(_PAUSE_S)
            return None
        asked = self._asked(line)
        if asked is None:
            line.close()
            return None
        self._prepare(asked)
        child = _forked(line)
        if child == 0:
            self._let_go(line)
            return asked
        for stream in asked.streams:
            os.close(stream)
        if child is None:
            line.close()
        else:
            self._jobs[child] = line
            self._watch.register(line, selectors.EVENT_READ)
        return None

    def _asked(self, line: socket.socket) -> Asked | None:
        """Read what a command wants; None where it may not, or broke off, or makes no sense."""
        streams: list[int] = []
        # whatever is wrong, the command then does its job itself, and tells it
        with contextlib.suppress(Exception):
            if user_at_the_end_of(line) != os.getuid():
                return None
            line.settimeout(_PATIENCE_S)
            head, streams, _, _ = socket.recv_fds(line, HEAD.size, 3)
            secret, left = HEAD.unpack(head)
            if secrets.compare_digest(secret, self._secret) and len(streams) == 3:
                return Asked(**json.loads(_received(line, left)), streams=list(streams))
        for stream in streams:
            os.close(stream)
        return None

    def _prepare(self, asked: Asked) -> None:
        """Import what a job does; of a job that makes no sense its own process tells that."""
        with contextlib.suppress(Exception):
            _account_of(asked.job).unlink(missing_ok=True)
            _import(asked.stage)
            self._ahead = _after(asked.stage)

    def _let_go(self, line: socket.socket) -> None:
        """In a fork: end with this process's own, close what is not the job's, hear signals.

        Its own line stays open: the command sees the end of it when both processes are gone, and
        not while the job could still write.
        """
        ctypes.CDLL(None).prctl(_DIE_WITH_PARENT, signal.SIGKILL)
        if os.getppid() != self._process:
            os._exit(1)
        signal.set_wakeup_fd(-1)
        signal.signal(signal.SIGCHLD, signal.SIG_DFL)
        signal.signal(signal.SIGINT, self._interrupted)
        self._watch.close()
        for other in (self._listener, *self._jobs.values()):
            other.close()
        self._jobs = {os.getpid(): line}
        for descriptor in (self._ended, self._told):
            os.close(descriptor)
        # what was imported is no rubbish, and need not be looked through for it
        gc.freeze()

    def _tell_ends(self) -> None:
        """Tell the commands whose jobs ended with what; of one that a signal ended, nothing."""
        os.read(self._ended, 4096)
        while self._jobs:
            child, status = os.waitpid(-1, os.WNOHANG)
            if child == 0:
                return
            line = self._jobs.pop(child, None)
            if line is None:  # of a library, which asked the system for something
                continue
            if line in self._watch.get_map():
                self._watch.unregister(line)
            code = os.waitstatus_to_exitcode(status)
            if code >= 0:
                with contextlib.suppress(OSError):  # a command that was killed hears nothing
                    line.sendall(str(code).encode())
            line.close()

    def _stop(self, line: Any) -> None:  # noqa: ANN401 (as the selector gives it)
        """End the job of a command that was killed."""
        for child, its in self._jobs.items():
            if its is line:
                self._watch.unregister(line)
                os.kill(child, signal.SIGTERM)


def _received(line: socket.socket, left: int) -> bytes:
    """So many bytes of a line, within the patience for all of them.

    Raises
    ------
    OSError
        They did not come.
    """
    until_s = time.monotonic() + _PATIENCE_S
    parts = []
    while left:
        line.settimeout(max(until_s - time.monotonic(), 1e-3))
        part = line.recv(min(left, 1 << 16))
        if not part:
            raise ConnectionError("broken off")
        parts.append(part)
        left -= len(part)
    return b"".join(parts)


def _after(stage: Stage) -> list[Stage]:
    """Stages whose jobs follow one of this stage in a run to the report."""
    names = list(STAGES)
    return [STAGES[name] for name in names[names.index(stage.name) + 1 :]
            if not STAGES[name].on_request]  # fmt: skip


def _import(stage: Stage) -> None:
    """Import what the jobs of a stage do; what can't be is told by the job itself, as it fails."""
    with contextlib.suppress(Exception):
        work_of(stage.name)
        if not stage.of_cell:
            # arrow asks for it within most of the passes over the campaign
            importlib.import_module("pandas")


def _forked(line: socket.socket) -> int | None:
    """Fork for a job, after its command was told that it is taken.

    Returns
    -------
    int or None
        As `fork` does; None where that is not safe, not to be had, or nobody waits for it.
    """
    try:
        if len(os.listdir("/proc/self/task")) > 1:
            return None
        line.sendall(TAKEN)
    except OSError:
        return None
    try:
        return os.fork()
    except OSError:
        # no room for one more process now: the command is one already
        with contextlib.suppress(OSError):
            line.sendall(DECLINED)
        return None


def main() -> None:
    """Stand by on the listening socket whose descriptor is the argument; in a fork, do a job."""
    listener = socket.socket(fileno=int(sys.argv[1]))
    # kept in a fork too: with it goes the line that the command waits at
    standby = Standby(listener, sys.stdin.fileno(), os.environ.pop(ADDRESS))
    job = standby.serve()
    if job is None:
        return
    code = 1
    try:
        code = job.carry_out()
        sys.stdout.flush()
        sys.stderr.flush()
        # what libraries put away as their objects go, such as folders of their own
        gc.collect()
    finally:
        # what they registered for the end of the process that stands by is not for its forks
        os._exit(code)


if __name__ == "__main__":
    main()
