"""The library of the page layout is imported whatever the surroundings make of warnings."""

from __future__ import annotations

import subprocess
import sys


def test_a_warning_of_the_library_takes_no_report_where_warnings_are_errors() -> None:
    """It warns of a library of the system that it does without, on machines that lack it."""
    call = [sys.executable, "-W", "error", "-c", "import trivet.stages.report"]
    done = subprocess.run(call, check=False, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
