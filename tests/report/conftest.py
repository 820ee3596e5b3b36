"""The invented campaign of finished tables, and the report made from it once."""

from __future__ import annotations

from types import ModuleType

import pytest
import report_campaign

from trivet.report.figure_list import Plate, make_plates
from trivet.report.frame.data import ReportData, ReportSettings, gather
from trivet.report.render import manuscript, print_pdf


@pytest.fixture(scope="session")
def invented() -> ModuleType:
    """What makes the invented tables."""
    return report_campaign


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
    return print_pdf(manuscript(data, plates))
