"""Settings that no program should choke on: a message with the file, no hang, no traceback."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from trivet.campaign.folder import read_campaign
from trivet.errors import InputError

BOMB = "a: &a [x, x, x, x, x, x, x, x, x]\n" + "".join(
    f"{chr(ord(name) + 1)}: &{chr(ord(name) + 1)} [{', '.join(['*' + name] * 9)}]\n"
    for name in "abcdefghi"
)
CASES = {
    "aliases that multiply": (BOMB, "alias"),
    "an alias of itself": ("campaign: &me\n  again: *me\n", "alias"),
    "nested ten thousand deep": ("a: " + "[" * 10_000 + "]" * 10_000, "nested"),
    "a NUL": ("campaign: \x00\n", "is not YAML"),
    "an integer of thousands of digits": ("campaign: " + "9" * 6000 + "\n", "digits"),
    "a list where a mapping belongs": ("- 1\n- 2\n", "campaign.yaml"),
    "nothing": ("", "is empty"),
}


@pytest.mark.parametrize(("text", "said"), CASES.values(), ids=CASES)
def test_settings_that_cannot_be_meant(campaign_folder: Path, text: str, said: str) -> None:
    """Each is told as a problem of the file."""
    (campaign_folder / "campaign.yaml").write_text(text, encoding="utf-8")
    with pytest.raises(InputError, match=said):
        read_campaign(campaign_folder)


@pytest.mark.parametrize("name", ["campaign.yaml", "build-sheet.csv", "bench-log.csv"])
@pytest.mark.parametrize("kind", ["pipe", "loop", "folder"])
def test_what_is_not_a_file_never_hangs(campaign_folder: Path, name: str, kind: str) -> None:
    """A pipe, a loop of links and a folder are named as what they are."""
    path = campaign_folder / name
    path.unlink(missing_ok=True)
    if kind == "pipe":
        os.mkfifo(path)
    elif kind == "loop":
        path.symlink_to(path.name)
    else:
        path.mkdir()
    with pytest.raises(InputError, match=f"{name}: can't be read"):
        read_campaign(campaign_folder)


@pytest.mark.parametrize("value", ["1.0e+300", "-.inf", ".nan", "9" * 40])
def test_a_number_that_overflows_is_refused(campaign_folder: Path, value: str) -> None:
    """What nothing in a laboratory has would crash in the work; it is named before."""
    path = campaign_folder / "campaign.yaml"
    text = path.read_text(encoding="utf-8")
    assert "upper_voltage_V: 3.65" in text
    path.write_text(text.replace("upper_voltage_V: 3.65", f"upper_voltage_V: {value}"), "utf-8")
    with pytest.raises(
        InputError, match=r"'cycling.upper_voltage_V' is .*; it must (lie|be a fin)"
    ):
        read_campaign(campaign_folder)


def test_an_id_too_long_for_a_folder_is_refused(campaign_folder: Path) -> None:
    """A name of 300 letters is no name of a file."""
    path = campaign_folder / "campaign.yaml"
    text = path.read_text(encoding="utf-8")
    lines = [
        f"  id: {'d' * 300}" if line.startswith("  id:") else line for line in text.split("\n")
    ]
    path.write_text("\n".join(lines), "utf-8")
    with pytest.raises(InputError, match=r"it must have at most 80 characters"):
        read_campaign(campaign_folder)
