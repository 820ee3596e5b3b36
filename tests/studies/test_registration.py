"""The study of the joint fit on fewer draws than its table: values without noise, and intervals."""

import pytest

from trivet.studies.registration import CHARGE_ERROR, POSITIVES, Faults, NOISE_mV, main, outcomes


@pytest.mark.parametrize("name", ["sloping", "stepped"])
def test_changes_come_back_without_noise(name: str) -> None:
    """Active shares within 0.002, shifts within 0.2 % of the capacity, in every draw."""
    found = outcomes(name, draws=20, faults=Faults())
    for parameter, told in found.items():
        if parameter.endswith(("active", "mAh")):
            assert told.estimable == 20, parameter
            assert told.worst < 0.002, parameter


def test_what_is_told_of_a_flat_positive_is_right() -> None:
    """Shifts within 0.2 % of the capacity without noise, wherever they are stated; some are."""
    found = outcomes("flat", draws=60, faults=Faults())
    for parameter, told in found.items():
        if parameter.endswith("mAh"):
            assert told.estimable > 20, parameter
            assert told.worst < 0.002, parameter


@pytest.mark.parametrize("name", POSITIVES)
def test_intervals_hold_the_truth(name: str) -> None:
    """Of 60 draws with noise and errors of the charge, at least 51 intervals hold each parameter.

    With a coverage of 0.95 fewer come once in 1,300 (binomial).
    """
    found = outcomes(name, draws=60, faults=Faults(NOISE_mV, CHARGE_ERROR))
    for parameter, told in found.items():
        if told.estimable == 60:
            assert told.inside >= 51, parameter
    assert found["negative_active"].estimable == 60
    assert (found["positive_active"].estimable == 0) == (name == "flat")


def test_the_table_has_a_line_a_parameter(capsys: pytest.CaptureFixture[str]) -> None:
    """Three positives by nine parameters, under a head of two lines."""
    main(["--draws", "2"])
    assert len(capsys.readouterr().out.splitlines()) == 2 + 3 * 9
