"""What `trivet run` and the workflow it starts tell each other; light, as both import it."""

from __future__ import annotations

import os
from collections.abc import Mapping
from pathlib import Path

SCHEDULER = ("--scheduler", "greedy")
"""How Snakemake chooses what starts next: in order. Its other way solves for the best choice, in a
process of its own for each, to be rid of temporary files early; these rules have none."""
RULES = Path(__file__).with_name("rules.smk")
"""The rules of a campaign."""
RESULTS_GO_TO = "TRIVET_RUN"
"""Variable of the surroundings: `trivet run` tells the end itself, and where to write of which
results."""


def tells_the_end(surroundings: Mapping[str, str] = os.environ) -> bool:
    """Whether who started the workflow tells its end."""
    return RESULTS_GO_TO in surroundings


def name_results(results: Path, surroundings: Mapping[str, str] = os.environ) -> None:
    """Name the folder of results to who started the workflow, where that was asked for."""
    if RESULTS_GO_TO in surroundings:
        Path(surroundings[RESULTS_GO_TO]).write_text(str(results), encoding="utf-8")
