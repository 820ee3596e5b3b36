"""The commented example of the settings."""

from __future__ import annotations

from pathlib import Path

import yaml

from trivet.schema.settings.campaign import Settings
from trivet.schema.settings.example import example_yaml

EXAMPLE = Path(__file__).resolve().parents[3] / "config" / "example" / "campaign.yaml"


def test_the_committed_example_is_the_generated_one() -> None:
    """The example in the repository is in step with the model; `python -m` below renews it."""
    assert EXAMPLE.read_text(encoding="utf-8") == example_yaml()


def test_the_model_accepts_the_example() -> None:
    """The example is right as it stands, so that a user changes it and nothing else."""
    settings = Settings.model_validate(yaml.safe_load(example_yaml()))
    assert settings.comparison.factors[0].factor in settings.build_sheet.factors


def test_every_setting_stands_in_the_example() -> None:
    """No setting is hidden: each field of each block has a line."""
    document = yaml.safe_load(example_yaml())
    for name, field in Settings.model_fields.items():
        assert set(document[name]) == set(field.annotation.model_fields), name
