"""Forecasts of ends: the line of a unit, its interval, and the record of past forecasts."""
