"""The shipped profiles say what Snakemake and the rules know.

A run through a real queue, with a job that is cancelled, stands in tests/STUDIES.md: it needs
a scheduler, which the ordinary tests have not.
"""

from __future__ import annotations

from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
import yaml
from snakemake.cli import get_argument_parser

from trivet.stages.contract import STAGES
from trivet.workflow.resources import resources_of

PROFILES = Path(__file__).resolve().parents[2] / "config" / "profiles"
LOCAL = {"record", "export_csv"}
"""Stages that run where the command was given (`localrules` in rules.smk)."""
ON_REQUEST = {"bdf"}
"""Stages that a campaign does not run by itself."""


def profile(name: str) -> dict[str, Any]:
    """Content of a shipped profile."""
    text = (PROFILES / name / "config.yaml").read_text(encoding="utf-8")
    return dict(yaml.safe_load(text))


@pytest.mark.parametrize("name", ["local", "slurm"])
def test_every_key_of_a_profile_is_an_option_of_snakemake(name: str) -> None:
    """A key that the installed Snakemake does not know would stop the first run."""
    known = get_argument_parser()._option_string_actions
    assert [key for key in profile(name) if f"--{key}" not in known] == []


def test_the_cluster_groups_every_stage_of_the_campaign_once() -> None:
    """A stage that no group names would be a job of its own, and a wrong name would be ignored."""
    grouped = [pair.partition("=")[0] for pair in profile("slurm")["groups"]]
    expected = {name for name, stage in STAGES.items() if not stage.of_cell} - LOCAL - ON_REQUEST
    assert sorted(grouped) == sorted(expected)


def test_a_job_that_a_cluster_ends_is_sent_again() -> None:
    """Preemption, lost nodes and too little memory are common on clusters; no source."""
    assert profile("slurm")["retries"] >= 1


def test_a_further_attempt_asks_for_more() -> None:
    """With the same memory a job would fail again; doubling is common practice, no source."""
    asked = resources_of(STAGES["report"])
    inputs = SimpleNamespace(size_mb=3.0)
    memory = [asked["mem_mb"](None, inputs, attempt) for attempt in (1, 2, 3)]
    assert memory[1:] == [2 * memory[0], 4 * memory[0]]
    minutes = [asked["runtime"](None, attempt) for attempt in (1, 2, 3)]
    assert minutes[1:] == [2 * minutes[0], 3 * minutes[0]]
