"""Survival of few cells: curves, exact tests, models of life."""
