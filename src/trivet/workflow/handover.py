"""What `trivet run` and the workflow it starts tell each other; light, as both import it."""

from __future__ import annotations

import os
from collections.abc import Mapping
from pathlib import Path

SCHEDULER = ("--scheduler", "greedy", "--scheduler-subsample", "32")
"""How Snakemake chooses what starts next: in order, among so many of the jobs that are ready.

Its other way solves for the best choice, in a process of its own for each, to be rid of temporary
files early; these rules have none. Among all that are ready it looks at every input of every one
each time a job has ended: with a thousand cells, more work than the jobs' imports are.
"""
RULES = Path(__file__).with_name("rules.smk")
"""The rules of a campaign."""
RUN_TELLS_THE_END = "TRIVET_RUN"
"""Variable of the surroundings that is set where `trivet run` tells the end itself."""


def tells_the_end(surroundings: Mapping[str, str] = os.environ) -> bool:
    """Whether who started the workflow tells its end."""
    return RUN_TELLS_THE_END in surroundings
