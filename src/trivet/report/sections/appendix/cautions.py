"""Cautions: the usual ones for work with such cells."""

from __future__ import annotations

from trivet.report.frame.section import Section, count_cells

SECTION = Section("cautions", "Cautions", count_cells, place=180)
