"""Lives that a campaign takes from a table: what is said of rows that leave something open."""

from __future__ import annotations

from pathlib import Path

import pytest
from lives_door import signed, write

from trivet.campaign.folder import read_campaign
from trivet.campaign.lives_file import lives_of
from trivet.stages.lifetime.lives_from_table import lives_from_table


@pytest.mark.parametrize(
    ("cause", "asked"), [("stopped", True), ("looked bad", False), ("running", False), ("", False)]
)
def test_a_stop_without_a_reason_is_asked_about(tmp_path: Path, cause: str, asked: bool) -> None:
    """A cell that the table calls stopped, and no more, is named with its line."""
    lives = [*signed("plain", (100, 120)), *signed("sealed", (-90,), cause=cause)]
    folder = write(tmp_path / "campaign", lives, control="plain")
    cells = read_campaign(folder).cells
    table = lives_of(folder, file="lifetimes.csv", cells=[facts.cell for facts in cells])
    found = lives_from_table(cells, lives=table, factor="arm", file="lifetimes.csv")[2]
    said = [one.message for one in found]
    line = (
        "Line 4 of lifetimes.csv gives no reason for 'stopped' of cell c00002: one of planned, "
        "channel needed, equipment, looked bad."
    )
    assert said == ([line] if asked else [])
