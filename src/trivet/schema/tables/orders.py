"""In which order the words of a column stand, where they have one."""

from __future__ import annotations

from trivet.reasons import Fitness, Trust

_FITNESS = tuple(str(one) for one in Fitness)

ORDERS: dict[str, tuple[str, ...]] = {
    "endpoint": ("cell", "reference"),
    "clock": ("hours", "cycles"),
    "pair": ("cell", "positive", "negative"),
    "electrode": ("positive", "negative"),
    "half": ("charge", "discharge"),
    "content": ("cycling", "impedance", "plating"),
    "cut": ("before", "now"),
    "severity": ("note", "caution", "fault"),
    "trust": (*(str(one) for one in Trust), "rejected"),
    "outcome": ("trusted", "suspect", "rejected", "not testable"),
    "fitness": _FITNESS,
    "absolute_fitness": _FITNESS,
    "difference_fitness": _FITNESS,
    "lithium_deposition": ("no", "near", "possible"),
    "verdict": ("different", "equivalent", "inconclusive", "not estimable"),
}
"""Words of a column, by its name, in their order; from best to worst where they judge.

A word that is missing here follows behind these, by name.
"""
GROUP_COLUMNS = ("group", "control")
"""Columns that hold values of a build factor: their order is that of the campaign, not of a list.
"""
