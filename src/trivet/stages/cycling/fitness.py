"""What the reference serves in each cycle, by purpose, and the table that says so."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pyarrow as pa

from trivet.reasons import Fitness, Purpose
from trivet.schema.findings.fitness import fitness_sentence
from trivet.schema.tables.dictionary import TABLES
from trivet.science.cycling.cycles import Cycles
from trivet.science.reference.fitness import FitnessSpan, fitness_over
from trivet.science.reference.review import Review
from trivet.store.tables import make_table


@dataclass(frozen=True)
class ServedCycles:
    """Which numbers of each cycle may be shown, shape (m,) each.

    Attributes
    ----------
    absolute, difference, shape : ndarray of bool
        Whether numbers of that purpose are shown.
    corrected : ndarray of bool
        Whether absolute potentials are shown with a correction.
    correction_mV, error_mV : ndarray
        Offset taken off the measured potentials, and its standard error; 0 where none is, and NaN
        where absolute potentials are not shown [mV].
    """

    absolute: np.ndarray
    difference: np.ndarray
    shape: np.ndarray
    corrected: np.ndarray
    correction_mV: np.ndarray
    error_mV: np.ndarray


def served_cycles(result: Review, found: Cycles) -> ServedCycles:
    """What the reference serves over every cycle."""
    count = found.cycle.size
    spans = {
        purpose: [
            fitness_over(result.fitness, purpose, float(start), float(end))
            for start, end in zip(found.start_h, found.end_h, strict=True)
        ]
        for purpose in (Purpose.ABSOLUTE, Purpose.DIFFERENCE, Purpose.SHAPE)
    }
    shown = {
        purpose: np.array([_is_shown(span) for span in mine], dtype=bool)
        for purpose, mine in spans.items()
    }
    corrected = np.array(
        [s is not None and s.fitness is Fitness.CORRECTED for s in spans[Purpose.ABSOLUTE]],
        dtype=bool,
    )
    correction, error = np.full(count, np.nan), np.full(count, np.nan)
    middle_h = (found.start_h + found.end_h) / 2.0
    for era in result.eras:
        inside = (found.start_h >= era.start_h) & (found.end_h < era.stop_h)
        value, own_error = era.offsets.at(middle_h)
        correction = np.where(inside, value, correction)
        error = np.where(inside, own_error, error)
    # A cycle that reaches beyond the last anchor has no offset in its middle: nothing is shown.
    known = ~corrected | np.isfinite(correction)
    absolute = shown[Purpose.ABSOLUTE] & known
    corrected &= absolute
    return ServedCycles(
        absolute=absolute,
        difference=shown[Purpose.DIFFERENCE],
        shape=shown[Purpose.SHAPE],
        corrected=corrected,
        correction_mV=np.where(absolute, np.where(corrected, correction, 0.0), np.nan),
        error_mV=np.where(corrected, error, np.nan),
    )


def _is_shown(span: FitnessSpan | None) -> bool:
    """Whether a number may be shown; not where nothing is known of the reference."""
    return span is not None and span.fitness is not Fitness.NOT_FIT


def fitness_table(name: str, result: Review) -> pa.Table:
    """The table `fitness`."""
    spans = result.fitness
    return make_table(
        TABLES["fitness"],
        {
            "cell": [name] * len(spans),
            "plating": [span.plating for span in spans],
            "purpose": [span.purpose.value for span in spans],
            "from_h": [span.start_h for span in spans],
            "to_h": [span.end_h for span in spans],
            "fitness": [span.fitness.value for span in spans],
            "reason": [str(span.reason) for span in spans],
            "sentence": [
                fitness_sentence(span.purpose, span.fitness, span.reason) for span in spans
            ],
        },
    )
