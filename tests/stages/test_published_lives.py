"""Published lives D1 to D8 through the table of lives into the result tables; D9, D10 by function.

The same sets as functions stand in tests/science; here the numbers are those of the tables.
"""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
from larynx import larynx_lives
from lives_door import measure, signed, tables, write
from statsmodels.stats.multitest import multipletests

from trivet.science.comparison.planning import events_for_difference, events_for_margin
from trivet.science.survival.beta_product import beta_product_limits
from trivet.science.survival.product_limit import product_limit

# Freireich et al. 1963, Blood 21, 699; Gehan 1965.
MERCAPTOPURINE = (6, 6, 6, -6, 7, -9, 10, -10, -11, 13, 16, -17, -19, -20, 22, 23, -25, -32, -32,
                  -34, -35)  # fmt: skip
PLACEBO = (1, 1, 2, 2, 3, 4, 4, 5, 5, 8, 8, 8, 8, 11, 11, 12, 12, 15, 17, 22, 23)


def test_d1_remission(tmp_path: Path) -> None:
    """The 42 patients: O and E, chi-squared 16.79, medians 23 and 8, Cox, Weibull time ratio."""
    # Rodriguez, Survival Analysis notes; Venables & Ripley, MASS 4th ed. ch. 13 (reference output)
    lives = signed("drug", MERCAPTOPURINE) + signed("placebo", PLACEBO)
    found = tables(write(tmp_path, lives, control="placebo"))
    plain = measure(found, "log-rank")
    assert plain["statistic"] == pytest.approx(16.792941, abs=1e-6)
    assert plain["p"] == pytest.approx(4.1688e-05, rel=1e-4)
    assert plain["observed_events"] == 9
    assert plain["expected_events"] == pytest.approx(19.250501, abs=1e-6)
    summary = {row["group"]: row for row in found["life_summary"].to_pylist()}
    assert [summary[arm]["median"] for arm in ("drug", "placebo")] == [23, 8]
    assert [summary[arm]["median_lower"] for arm in ("drug", "placebo")] == [13, 4]
    assert [summary[arm]["median_upper"] for arm in ("drug", "placebo")] == [None, 11]
    cox = measure(found, "hazard ratio")
    assert math.log(cox["estimate"]) == pytest.approx(-1.5721251, abs=1e-6)
    assert cox["statistic"] == pytest.approx(16.35, abs=5e-3)
    ratio = measure(found, "time ratio")
    assert ratio["estimate"] == pytest.approx(3.5514, abs=5e-5)
    assert measure(found, "time ratio lognormal")["estimate"] == pytest.approx(3.8453, abs=5e-5)
    # limits for few ends are wider than the large-sample ones, 1.9319 to 6.5285 on the Wald scale
    assert ratio["upper"] > 6.5285
    steps = {row["time"]: row for row in found["survival"].to_pylist() if row["group"] == "drug"}
    for time, left, error, low, high in (
        (6, 0.8571, 0.0764, 0.6197, 0.9516), (10, 0.7529, 0.0963, 0.5032, 0.8894),
        (23, 0.4482, 0.1346, 0.1881, 0.6801),
    ):  # fmt: skip
        names = ("survival", "standard_error", "lower", "upper")
        want = [left, error, low, high]
        assert [steps[time][name] for name in names] == pytest.approx(want, abs=5e-5)
    means = {arm: (row["restricted_mean"], row["restricted_mean_se"])
             for arm, row in summary.items()}  # fmt: skip
    assert means["drug"] == pytest.approx((17.909244, 1.553190), abs=1e-6)
    assert means["placebo"] == pytest.approx((8.666667, 1.377390), abs=1e-6)
    assert measure(found, "exact log-rank")["verdict"] == "different"


def test_d1_in_weeks_is_d1_in_hours(tmp_path: Path) -> None:
    """The unit of time changes times and nothing else: 23 weeks are 3864 hours."""
    lives = signed("drug", MERCAPTOPURINE, unit="weeks") + signed("placebo", PLACEBO, unit="weeks")
    found = tables(write(tmp_path, lives, control="placebo", clock="hours"))
    summary = {row["group"]: row["median"] for row in found["life_summary"].to_pylist()}
    assert summary == {"drug": 23 * 168, "placebo": 8 * 168}
    assert measure(found, "log-rank")["statistic"] == pytest.approx(16.792941, abs=1e-6)
    assert measure(found, "time ratio")["estimate"] == pytest.approx(3.5514, abs=5e-5)


def test_d2_six_subjects(tmp_path: Path) -> None:
    """Six subjects by hand: Efron 1.676857, Weibull -0.7442249, lognormal -1.268."""
    # Therneau, Software validation (survival package vignette), test data 1; testreg output
    lives = signed("one", (1, -1, 6)) + signed("nought", (6, -8, 9))
    found = tables(write(tmp_path, lives, control="nought"))
    cox = measure(found, "hazard ratio")
    assert math.log(cox["estimate"]) == pytest.approx(1.676857, abs=1e-6)
    for name, effect in (("time ratio", -0.7442249), ("time ratio lognormal", -1.268)):
        assert math.log(measure(found, name)["estimate"]) == pytest.approx(effect, abs=5e-4)


def test_d3_callaert_and_strata(tmp_path: Path) -> None:
    """Exact p 325/6435 = 0.0505; within two strata of five, 15 of 100 permutations."""
    # Callaert 2003, Am. Stat. 57, 214-217
    lives = signed("a", (1, 1, 5, 6, 6, 6, 6)) + signed("b", (2, 2, 2, 3, 4, 4, 5, 5))
    found = tables(write(tmp_path / "callaert", lives, control="a"))
    exact = measure(found, "exact log-rank")
    assert exact["p"] == pytest.approx(325 / 6435, rel=1e-12)
    assert abs(exact["statistic"]) == pytest.approx(1.9201, abs=5e-5)
    assert measure(found, "log-rank")["statistic"] == pytest.approx(3.764630, abs=1e-6)
    # data of the stratified example of the R package coin; scores within strata by enumeration
    arms = (("one", (-3, -5, 7, 8, 18), "MMFFM"), ("two", (12, 19, 20, -20, -33), "MMFFF"))
    lives = [
        {"arm": arm, "duration": value, "batch": sex}
        for arm, values, sexes in arms
        for value, sex in zip(values, sexes, strict=True)
    ]
    folder = write(tmp_path / "strata", lives, control="one", stratify="batch")
    exact = measure(tables(folder), "exact log-rank")
    assert exact["p"] == pytest.approx(15 / 100, rel=1e-12)
    assert abs(exact["statistic"]) == pytest.approx(1.505418, abs=1e-6)
    assert exact["stratified_by"] == "batch"


@pytest.mark.parametrize(
    ("first", "second", "p", "smallest"),
    [((1, 2, 3), (4, 5, 6), 0.1, 0.1),
     ((10, 12, 15, 20), (-20, -20, -20, -20), 2 / 70, 2 / 70),
     ((2, 4, 7), (5, -8, -8), 0.2, 0.1)],
)  # fmt: skip
def test_d3_tiny_sets(
    tmp_path: Path, first: tuple[float, ...], second: tuple[float, ...], p: float, smallest: float
) -> None:
    """Sets that anyone can enumerate; the smallest p is that of the scores at hand."""
    # by hand, no published source
    found = tables(write(tmp_path, signed("a", first) + signed("b", second), control="a"))
    exact = measure(found, "exact log-rank")
    assert exact["p"] == pytest.approx(p)
    assert exact["smallest_attainable_p"] <= p + 1e-12
    assert exact["smallest_attainable_p"] == pytest.approx(smallest)


def test_d4_larynx(tmp_path: Path) -> None:
    """Four stages: overall chi-squared 22.76, and p against stage 1 after Holm."""
    # Klein & Moeschberger, Survival Analysis, section 1.8 (data); more digits by two codes
    duration, observed, stage = larynx_lives()
    lives = [
        {"arm": f"s{number + 1}", "duration": float(t if seen else -t)}
        for t, seen, number in zip(duration, observed, stage, strict=True)
    ]
    found = tables(write(tmp_path, lives, control="s1"), draws=1000)
    overall = measure(found, "log-rank", "all")
    assert overall["statistic"] == pytest.approx(22.762757, abs=1e-6)
    assert overall["p"] == pytest.approx(4.5252e-05, rel=1e-4)
    rows = [measure(found, "log-rank", f"s{number}") for number in (2, 3, 4)]
    raw = [row["p"] for row in rows]
    assert raw == pytest.approx([0.866329, 0.080068, 1.31547e-06], rel=1e-5)
    adjusted = multipletests(raw, method="holm")[1]
    assert [row["p_adjusted"] for row in rows] == pytest.approx(list(adjusted))


def test_d5_weibull_of_the_handbook(tmp_path: Path) -> None:
    """Ten failures of twenty units: scale 606.53, shape 1.7208, one in ten by 164.0."""
    # NIST/SEMATECH e-Handbook 8.4.1.3; B10 by a general library
    failed = (54, 187, 216, 240, 244, 335, 361, 373, 375, 386)
    lives = signed("all", failed + (-500,) * 10)
    found = tables(write(tmp_path, lives, control="all", clock="hours"))
    (summary,) = found["life_summary"].to_pylist()
    assert summary["weibull_scale"] == pytest.approx(606.5280, abs=1e-3)
    assert summary["weibull_shape"] == pytest.approx(1.7208, abs=5e-5)
    assert summary["b10"] == pytest.approx(164.022, abs=5e-3)
    assert found["comparisons"].num_rows == 0


ALL = ((0, 1), (0, 2), (1, 1), (1, 2), (3, 2), (4, 2), (5, 2), (7, 2), (8, 2), (9, 2), (12, 1),
       (13, 2), (14, 2), (22, 2), (26, 2), (35, 0), (72, 0))  # fmt: skip
AML = ((2, 0), (2, 2), (3, 1), (3, 1), (3, 1), (4, 0), (4, 1), (4, 1), (7, 0), (7, 2), (8, 0),
       (8, 1), (10, 2), (32, 0), (35, 0), (67, 0), (68, 0), (70, 0))  # fmt: skip


def test_d6_transplants(tmp_path: Path) -> None:
    """Incidences 3/17, 12/17 and .368186, .205707 at the end; Gray's tests 1.3016 and 7.0823."""
    # Scrucca, Santucci & Aversa 2007, Bone Marrow Transplant. 40, 381 (data); incidences:
    # scikit-survival's tests; Gray's test by an independent code
    cause = {0: "", 1: "relapse", 2: "death"}
    lives = [
        {"arm": arm, "duration": time, "observed": int(kind > 0), "cause": cause[kind]}
        for arm, patients in (("ALL", ALL), ("AML", AML))
        for time, kind in patients
    ]
    found = tables(write(tmp_path, lives, control="ALL"))
    last: dict[tuple[str, str], float] = {}
    for row in found["causes"].to_pylist():
        last[row["group"], row["cause"]] = row["incidence"]
    assert last["ALL", "relapse"] == pytest.approx(3 / 17)
    assert last["ALL", "death"] == pytest.approx(12 / 17)
    assert last["AML", "relapse"] == pytest.approx(0.368186, abs=1e-6)
    assert last["AML", "death"] == pytest.approx(0.205707, abs=1e-6)
    for name, statistic, p in (("relapse", 1.301635, 0.253915), ("death", 7.082278, 0.007785)):
        test = measure(found, f"Gray: {name}")
        assert test["statistic"] == pytest.approx(statistic, abs=1e-6)
        assert test["p"] == pytest.approx(p, abs=1e-6)
        assert test["reason"].startswith("descriptive")


def test_d7_flies(tmp_path: Path) -> None:
    """Restricted means up to 10: 9.794118 with error .123245, and 9.976744 with .023165."""
    # waltons data: what happens up to 10 is 1 of 34 at 6, 3 at 9, and 1 of 129 at 7; the first by
    # hand: 6 + 3 * 33/34 + 1 * 30/34
    lives = signed("mir", (6, 9, 9, 9) + (20,) * 30) + signed("control", (7,) + (20,) * 128)
    more = "  restriction_cycles: 10.0\n"
    found = tables(write(tmp_path, lives, control="control", more=more), draws=1000)
    summary = {row["group"]: row for row in found["life_summary"].to_pylist()}
    for arm, mean, error in (("mir", 9.794118, 0.123245), ("control", 9.976744, 0.023165)):
        assert summary[arm]["restricted_mean"] == pytest.approx(mean, abs=1e-6)
        assert summary[arm]["restricted_mean_se"] == pytest.approx(error, abs=1e-6)


def test_d8_turnbull(tmp_path: Path) -> None:
    """Doubly censored lives: .538, .295, .210, .095 left after 1, 2, 3, 4."""
    # Turnbull 1974, J. Am. Stat. Assoc. 69, 169-173
    lives = []
    ends, alive, before = (12, 6, 2, 3), (3, 2, 0, 3), (2, 4, 2, 5)
    for time, (seen, later, early) in enumerate(zip(ends, alive, before, strict=True), start=1):
        lives += signed("all", (time,) * seen + (-time,) * later)
        lives += [{"arm": "all", "observed": 1, "lower": 0, "upper": time}] * early
    found = tables(write(tmp_path, lives, control="all"))
    rows = found["survival_intervals"].to_pylist()
    want = [0.537568, 0.294594, 0.209760, 0.094846]
    assert [row["survival"] for row in rows] == pytest.approx(want, abs=1e-6)
    assert [row["upper"] for row in rows] == [1, 2, 3, 4]


def test_d9_events_needed() -> None:
    """Ends for survival .75 against .37: 20.4; for margins 1.8 and 1.3: the printed table."""
    # imaging.mrc-cbu.cam.ac.uk/statswiki/FAQ/powsurv; BMJ EBM table 1 (cardiovascular margins)
    ratio = math.log(0.75) / math.log(0.37)
    assert events_for_difference(ratio) == pytest.approx(20.39, abs=0.03)
    table = {0.7: (48, 110), 0.75: (55, 139), 0.8: (64, 179), 0.85: (75, 233), 0.9: (88, 311),
             0.95: (103, 428), 1.0: (122, 611), 1.1: (174, 1507)}  # fmt: skip
    for true, printed in table.items():
        got = tuple(math.ceil(events_for_margin(true, margin=margin)) for margin in (1.8, 1.3))
        assert got == printed
    # one entry is printed rounded, not raised: 921.42
    assert events_for_margin(1.05, margin=1.3) == pytest.approx(921.42, abs=0.005)


@pytest.mark.parametrize(
    ("cells", "failed", "lower", "upper"),
    [(3, 0, 0.2924, 1.0), (4, 0, 0.3976, 1.0), (6, 0, 0.5407, 1.0), (8, 0, 0.6306, 1.0),
     (12, 0, 0.7354, 1.0), (6, 1, 0.3588, 0.9958), (8, 2, 0.3491, 0.9681)],
)  # fmt: skip
def test_d10_few_ends(cells: int, failed: int, lower: float, upper: float) -> None:
    """Without censoring the beta product limits are those of Clopper and Pearson."""
    # scipy binomtest, exact; principle: Fay, Brittain & Proschan 2013
    times = np.append(np.arange(1.0, failed + 1), np.full(cells - failed, 9.0))
    curve = product_limit(times, observed=(times < 9).astype(int))
    low, high = beta_product_limits(curve)
    place = failed - 1 if failed else 0
    assert low[place] == pytest.approx(lower, abs=5e-5)
    assert high[place] == pytest.approx(upper, abs=5e-5)


def test_ten_thousand_cells_have_a_verdict(tmp_path: Path) -> None:
    """Two groups of 5,000 lives of scales 900 and 1000: the same within a factor of 1.25."""
    # Weibull, shape 2: the true ratio of times is 1.11, its standard error about 0.01
    generator = np.random.default_rng(1)
    lives = []
    for arm, scale in (("x", 900.0), ("y", 1000.0)):
        drawn = np.round(scale * generator.weibull(2.0, 5000) + 1.0, 3)
        lives += signed(arm, tuple(np.where(drawn < 1100.0, drawn, -1100.0)))
    found = tables(write(tmp_path / "campaign", lives, control="x"), draws=1000)
    row = measure(found, "exact log-rank")
    assert (row["cells"], row["verdict"]) == (5000, "equivalent")
    assert measure(found, "time ratio")["estimate"] == pytest.approx(1000 / 900, abs=0.04)
