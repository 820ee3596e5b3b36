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
import importlib
import json
import os
import resource
import secrets
import selectors
import signal
import socket
import struct
import subprocess
import sys
import time
import traceback
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from trivet.errors import EXIT_INPUT, CannotWriteError
from trivet.stages.command import main as carry_out
from trivet.stages.contract import STAGES, Stage
from trivet.stages.job import work_of
from trivet.stages.standby import ADDRESS, DECLINED, LENGTH, user_at_the_end_of
from trivet.store.room import writing

_ONE_THREAD = {
    "OMP_NUM_THREADS": "1",
    "OPENBLAS_NUM_THREADS": "1",
    "MKL_NUM_THREADS": "1",
    "JE_ARROW_MALLOC_CONF": "background_thread:false",
}
"""A process with threads can't be forked safely. Of the algebra's, Snakemake gives a job one too; a
store of memory that arrow links in starts one to tidy up."""
_PATIENCE_S = 10.0
"""How long a command may take to say what it wants."""


def stand_by() -> subprocess.Popen[bytes] | None:
    """Start the process for the jobs of this run, where the system has what it needs.

    Returns
    -------
    Popen or None
        The process, which ends with this one or when its input is closed; None where there is
        none, and each job is a process of its own.
    """
    if not sys.platform.startswith("linux"):
        return None
    listener = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
    name = f"trivet-{secrets.token_hex(16)}"
    try:
        listener.bind(f"\0{name}")
    except OSError:
        # a system without such names
        listener.close()
        return None
    listener.listen(socket.SOMAXCONN)
    surroundings = os.environ | _ONE_THREAD
    surroundings.pop(ADDRESS, None)
    with listener:
        process = subprocess.Popen(
            [sys.executable, "-m", "trivet.workflow.standby", str(listener.fileno())],
            pass_fds=[listener.fileno()],
            env=surroundings,
            stdin=subprocess.PIPE,
        )
    os.environ[ADDRESS] = name
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
        for place, stream in enumerate(self.streams):
            os.dup2(stream, place)
            os.close(stream)
        os.chdir(self.folder)
        os.environ.clear()
        os.environ.update(self.surroundings)
        began_s = time.monotonic()
        try:
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


def account(job: Path, wall_s: float) -> None:
    """Write down what a job took, with names and units of Snakemake's accounts of jobs.

    Snakemake itself would measure the command, which only waits.

    Parameters
    ----------
    job : Path
        File of the job that this process did.
    wall_s : float
        How long it took [s].
    """
    used = resource.getrusage(resource.RUSAGE_SELF)
    memory_MiB = used.ru_maxrss / 1024
    processor_s = used.ru_utime + used.ru_stime
    path = job.parent.parent / "logs" / f"{job.stem}.tsv"
    with writing(path):
        path.parent.mkdir(exist_ok=True)
        path.write_text(
            f"s\tmax_rss\tcpu_time\n{wall_s:.2f}\t{memory_MiB:.2f}\t{processor_s:.2f}\n",
            encoding="utf-8",
        )


class Standby:
    """What the process does: take jobs, fork, tell each command how its job ended.

    Parameters
    ----------
    listener : socket
        Where commands come.
    run : int
        Descriptor that ends when the run does.
    """

    def __init__(self, listener: socket.socket, run: int) -> None:
        self._listener = listener
        self._run = run
        self._jobs: dict[int, socket.socket] = {}
        self._ahead: list[Stage] = []
        self._ended, told = os.pipe()
        os.set_blocking(told, False)
        os.set_blocking(self._ended, False)
        self._told = told
        signal.set_wakeup_fd(told)
        signal.signal(signal.SIGCHLD, lambda *_: None)
        # an interruption is for the jobs and for Snakemake, whose end is the end of this process
        signal.signal(signal.SIGINT, signal.SIG_IGN)
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
        line, _ = self._listener.accept()
        line.settimeout(_PATIENCE_S)
        asked = _asked(line)
        if asked is None:
            line.close()
            return None
        with contextlib.suppress(OSError, ValueError, LookupError):
            # the job itself fails where its file is none, with its own words
            _import(asked.stage)
            self._ahead = _after(asked.stage)
        child = _forked()
        if child == 0:
            self._let_go(line)
            return asked
        for stream in asked.streams:
            os.close(stream)
        if child is None:
            line.sendall(DECLINED)
            line.close()
        else:
            self._jobs[child] = line
            self._watch.register(line, selectors.EVENT_READ)
        return None

    def _let_go(self, line: socket.socket) -> None:
        """In a fork: close what is not the job's, and hear signals as any process does."""
        signal.set_wakeup_fd(-1)
        signal.signal(signal.SIGCHLD, signal.SIG_DFL)
        signal.signal(signal.SIGINT, signal.default_int_handler)
        self._watch.close()
        for other in (line, self._listener, *self._jobs.values()):
            other.close()
        for descriptor in (self._ended, self._told):
            os.close(descriptor)

    def _tell_ends(self) -> None:
        """Tell the commands whose jobs ended with what."""
        os.read(self._ended, 4096)
        while self._jobs:
            child, status = os.waitpid(-1, os.WNOHANG)
            if child == 0:
                return
            line = self._jobs.pop(child)
            if line in self._watch.get_map():
                self._watch.unregister(line)
            code = os.waitstatus_to_exitcode(status)
            try:
                # of a job that a signal ended nothing is told, which says so
                line.sendall(str(code).encode() if code >= 0 else b"")
            except OSError as error:
                sys.stderr.write(f"a command did not wait for its job: {error}\n")
            line.close()

    def _stop(self, line: Any) -> None:  # noqa: ANN401 (as the selector gives it)
        """End the job of a command that was killed."""
        for child, its in self._jobs.items():
            if its is line:
                self._watch.unregister(line)
                os.kill(child, signal.SIGTERM)


def _asked(line: socket.socket) -> Asked | None:
    """Read what a command wants; None where it is not this user's, or broke off."""
    if user_at_the_end_of(line) != os.getuid():
        return None
    streams: list[int] = []
    try:
        first, streams, _, _ = socket.recv_fds(line, LENGTH.size, 3)
        (left,) = LENGTH.unpack(first)
        parts = []
        while left and (part := line.recv(left)):
            parts.append(part)
            left -= len(part)
        return Asked(**json.loads(b"".join(parts)), streams=list(streams))
    except (OSError, ValueError, struct.error):
        for stream in streams:
            os.close(stream)
        return None


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


def _forked() -> int | None:
    """Fork; None where that is not safe, or not to be had."""
    if len(os.listdir("/proc/self/task")) > 1:
        return None
    try:
        return os.fork()
    except OSError:
        # no room for one more process now: the command is one already
        return None


def main() -> None:
    """Stand by on the listening socket whose descriptor is the argument; in a fork, do a job."""
    listener = socket.socket(fileno=int(sys.argv[1]))
    job = Standby(listener, sys.stdin.fileno()).serve()
    if job is not None:
        code = job.carry_out()
        sys.stdout.flush()
        sys.stderr.flush()
        # what libraries registered for the end of the process that stands by is not for its forks
        os._exit(code)


if __name__ == "__main__":
    main()
