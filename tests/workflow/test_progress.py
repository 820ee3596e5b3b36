"""What a run says while it works."""

from __future__ import annotations

import logging
from collections.abc import Iterator

import pytest
from snakemake.settings.enums import Quietness
from snakemake_interface_logger_plugins.common import LogEvent

from trivet.workflow import progress


@pytest.fixture
def logger() -> Iterator[logging.Logger]:
    """The logger of the workflow, as it was afterwards."""
    logger = logging.getLogger("snakemake.logging")
    handlers, level = list(logger.handlers), logger.level
    logger.setLevel(logging.INFO)
    yield logger
    logger.handlers[:] = handlers
    logger.setLevel(level)


def test_it_says_what_is_at_work_and_how_long_the_rest_takes(
    logger: logging.Logger, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """One of four jobs done after 30 s, another at work: 90 s left at the mean time of a job."""
    now = iter([100.0, 130.0])
    monkeypatch.setattr(progress.time, "monotonic", lambda: next(now))
    progress.watch(None)
    progress.watch(None)
    for job, cell in ((1, "c01"), (2, "c02")):
        said = {"event": LogEvent.JOB_INFO, "jobid": job, "rule_name": "read",
                "wildcards": {"cell": cell}}  # fmt: skip
        logger.info("", extra=said)
    logger.info("", extra={"event": LogEvent.JOB_FINISHED, "job_id": 1})
    logger.info("", extra={"event": LogEvent.PROGRESS, "done": 1, "total": 4})
    assert "about 1 min 30 s left; at work: read c02\n" in capsys.readouterr().err


def test_a_finished_run_has_nothing_left(
    logger: logging.Logger, capsys: pytest.CaptureFixture[str]
) -> None:
    """After the last job, or before the first, there is nothing to say."""
    progress.watch(None)
    logger.info("", extra={"event": LogEvent.PROGRESS, "done": 4, "total": 4})
    assert "left" not in capsys.readouterr().err


def test_quiet_is_quiet(logger: logging.Logger) -> None:
    """Who asked for quiet about everything gets it."""
    progress.watch({Quietness.ALL})
    assert not [one for one in logger.handlers if isinstance(one, progress.Progress)]


def test_lines_of_progress_stand_instead_of_an_account_of_every_job(
    logger: logging.Logger, capsys: pytest.CaptureFixture[str]
) -> None:
    """As the shipped profile asks: each tenth of the way is said once, trouble is let through."""
    stream = logging.StreamHandler()
    logger.addHandler(stream)
    progress.watch({Quietness.HOST})
    job = {"event": LogEvent.JOB_INFO, "jobid": 1, "rule_name": "read", "wildcards": {}}
    logger.info("an account", extra=job)
    for done in range(1, 200):
        logger.info("", extra={"event": LogEvent.PROGRESS, "done": done, "total": 200})
    logger.error("trouble")
    printed = capsys.readouterr().err
    assert printed.count("% done") == 9
    assert "an account" not in printed
    assert "trouble" in printed
