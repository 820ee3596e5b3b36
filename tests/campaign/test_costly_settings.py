"""Settings that would cost too much to build are a problem with their line, never a hang."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from trivet.campaign.folder import read_campaign
from trivet.errors import InputError


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("a: &a [1]\nb: [*a, *a]\n", "line 2: uses an alias, '*a'"),
        ("a: &a\n  b: *a\n", "line 2: uses an alias"),
        ("a: " + "[" * 10_000 + "]" * 10_000, "nested deeper than 30 levels"),
        ("a: " + "9" * 5_000, "number of more than 100 digits"),
        ("a: \0\n", "is not YAML"),
        ("a: !!python/object/apply:os.system [ls]\n", "is not YAML"),
    ],
    ids=["aliases that multiply", "self reference", "depth", "huge integer", "NUL", "tags"],
)
def test_costly_or_odd_yaml_is_a_problem(campaign_folder: Path, text: str, said: str) -> None:
    """Each is refused before the run with what is wrong, and nothing is built of it."""
    (campaign_folder / "campaign.yaml").write_text(text, encoding="utf-8")
    with pytest.raises(InputError) as caught:
        read_campaign(campaign_folder)
    assert said in str(caught.value)


@pytest.mark.parametrize("name", ["campaign.yaml", "build-sheet.csv", "bench-log.csv"])
def test_a_pipe_in_place_of_what_people_keep_is_named(campaign_folder: Path, name: str) -> None:
    """A named pipe as settings, sheet or log is a problem at once, never a hang."""
    (campaign_folder / name).unlink()
    os.mkfifo(campaign_folder / name)
    with pytest.raises(InputError, match="named pipe") as caught:
        read_campaign(campaign_folder)
    assert name in str(caught.value)
