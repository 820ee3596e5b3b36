"""The list of reference checks is whole: what an entry names exists, and nothing is unlisted."""

from __future__ import annotations

import re
from pathlib import Path

import trivet.science.reference.checks
from trivet.reasons import Fitness, Purpose
from trivet.reference_checks import CHECKS, ReferenceCheck, Role
from trivet.schema.findings.cycling import BadCheck, bad_checks
from trivet.schema.findings.fitness import fitness_sentence
from trivet.schema.findings.hands import hand_of
from trivet.schema.settings.science import Trust
from trivet.science.reference.review import watch_of

FOLDER = Path(trivet.science.reference.checks.__file__).parent


def test_every_check_has_an_entry_and_a_module_that_finds_it() -> None:
    """And every module that watches is one of an entry."""
    assert set(CHECKS) == set(ReferenceCheck)
    for entry in CHECKS.values():
        assert callable(watch_of(entry.module))
    watching = {
        path.stem
        for path in FOLDER.glob("*.py")
        if re.search(r"^def watch\(", path.read_text(encoding="utf-8"), re.MULTILINE)
    }
    assert watching == {entry.module for entry in CHECKS.values()}


def test_entries_name_settings_that_are_there_in_the_unit_of_the_check() -> None:
    """Limits come in pairs; every brace of a method is a setting."""
    ends = {"mV": "_mV", "mV/d": "_mV_per_day", "h": "_h", "1": ""}
    for check, entry in CHECKS.items():
        assert len(entry.limits) in (0, 2), check
        for name in entry.limits:
            assert name in Trust.model_fields, (check, name)
            assert name.endswith(ends[entry.unit]), (check, name)
        entry.method.format_map(Trust().model_dump())
        for limit in entry.limits:
            assert f"{{{limit}}}" in entry.method, (check, limit)


def test_every_check_that_can_speak_is_worded() -> None:
    """What can take trust away has a finding, a task where it is a fault, and a reason."""
    for check, entry in CHECKS.items():
        if entry.role is Role.TELLS and not entry.words:
            continue
        (found,) = bad_checks("A", [BadCheck(1.0, check, 2.0, entry.unit, 1.0, "lost")])
        assert found.check == entry.words
        assert hand_of(found.check, "fault") is entry.of_a_fault
        if entry.role is not Role.TELLS:
            assert entry.why_unfit in fitness_sentence(Purpose.SHAPE, Fitness.NOT_FIT, entry.unfit)
    words = [entry.words for entry in CHECKS.values() if entry.words]
    reasons = [entry.unfit for entry in CHECKS.values() if entry.unfit]
    assert len(set(words)) == len(words)
    assert len(set(reasons)) == len(reasons)
