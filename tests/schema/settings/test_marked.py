"""What the marks of settings say: the stages that are given one, verdicts, words."""

from __future__ import annotations

import pytest

from trivet.schema.settings.marked import called, endpoints_of, given_to, registered, stages_given
from trivet.stages.contract import STAGES


def test_marks_name_stages_that_are_not_given_the_block() -> None:
    """A stage that no contract has, or one that has the whole block, is a slip."""
    assert stages_given() <= set(STAGES)
    for stage in STAGES.values():
        for path in given_to(stage.name):
            assert not path.startswith(tuple(f"{block}." for block in stage.blocks)), path


def test_a_stage_that_runs_others_again_is_given_what_they_are() -> None:
    """What was decided as of an earlier cut hangs on the settings of all that decide it."""
    again = STAGES["as_of"]
    assert again.repeats
    assert "report.compare_days" in again.settings
    for name in again.repeats:
        for path in STAGES[name].settings:
            parts = path.split(".")
            above = {".".join(parts[:length]) for length in range(1, len(parts) + 1)}
            assert above & set(again.settings), path


@pytest.mark.parametrize(
    ("name", "turned"),
    [
        ("lifetime.capacity.retention_below", ("cell", "reference")),
        ("lifetime.reference_checks_to_lose", ("reference",)),
        ("trust.kk_suspect_percent", ("reference",)),
        ("comparison.planned_power", ()),
        ("comparison.ordered.separators", ()),
        ("raw.layouts.bench.delimiter", ("cell", "reference")),
        ("report.paper", ()),
        ("a block that is no more.its setting", ()),
    ],
)
def test_a_setting_turns_what_its_mark_or_its_block_says(
    name: str, turned: tuple[str, ...]
) -> None:
    """Its own mark comes first, then that of the block; an unknown one turns nothing."""
    assert endpoints_of(name) == turned


def test_a_setting_is_called_by_its_words_or_its_name() -> None:
    """Words where people have some, else the dotted name; some the register does not compare."""
    assert called("comparison.equivalence_margin") == "margin of equivalence"
    assert called("trust.offset_lost_mV") == "trust.offset_lost_mV"
    assert called("survival.seed of an older version") == "survival.seed of an older version"
    assert [registered(f"campaign.{name}") for name in ("id", "question")] == [False, True]
