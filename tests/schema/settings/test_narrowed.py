"""A stage is given the settings that its contract names, and can't read another."""

from __future__ import annotations

import pytest

from trivet.schema.settings.campaign import Report, Settings
from trivet.schema.settings.inference import Lifetime
from trivet.schema.settings.narrowed import narrowed

GIVEN = {
    "report": {"cycles_drawn": 2},
    "lifetime": Lifetime(table="lives.csv").model_dump(mode="json"),
}


def test_what_is_named_is_there_with_its_type() -> None:
    """Single settings and whole blocks have the values that were given."""
    settings = narrowed(Settings, GIVEN, ("report.cycles_drawn", "lifetime"))
    assert settings.report.cycles_drawn == 2
    assert settings.lifetime == Lifetime(table="lives.csv")


def test_a_block_whose_part_is_named_too_is_whole() -> None:
    """A stage that runs another names the other's settings beside its own."""
    paths = ("lifetime.sudden.open_circuit_margin_V", "lifetime")
    assert narrowed(Settings, GIVEN, paths).lifetime == Lifetime(table="lives.csv")


def test_what_is_not_named_is_no_attribute() -> None:
    """A default in its place would stay as it is where the setting changes."""
    settings = narrowed(Settings, GIVEN, ("report.cycles_drawn",))
    assert Report().paper == "A4"
    for read in (lambda: settings.report.paper, lambda: settings.trust, lambda: settings.cycling):
        with pytest.raises(AttributeError):
            read()
