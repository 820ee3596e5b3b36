"""The invented campaign of finished tables, and the report made from it once."""

from __future__ import annotations

import importlib.util
from pathlib import Path
from types import ModuleType

import pytest

from trivet.report.figure_list import Plate, make_plates
from trivet.report.frame.data import ReportData, ReportSettings, gather
from trivet.report.render import render_pdf


def load_campaign() -> ModuleType:
    """The module beside this file, whatever the import mode of the tests is."""
    place = Path(__file__).with_name("report_campaign.py")
    spec = importlib.util.spec_from_file_location("report_campaign", place)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="session")
def invented() -> ModuleType:
    """What makes the invented tables."""
    return load_campaign()


@pytest.fixture(scope="session")
def data(invented: ModuleType) -> ReportData:
    """Tables and settings of nine invented cells."""
    settings = ReportSettings.model_validate(invented.SETTINGS)
    return gather(settings=settings, tables=invented.make())


@pytest.fixture(scope="session")
def plates(data: ReportData) -> dict[str, list[Plate]]:
    """Its figures."""
    return make_plates(data)


@pytest.fixture(scope="session")
def pdf(data: ReportData, plates: dict[str, list[Plate]]) -> bytes:
    """Its report."""
    return render_pdf(data, plates)
