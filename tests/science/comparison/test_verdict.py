"""Tests between groups against published examples, full enumeration and general libraries."""

from __future__ import annotations

import time
from itertools import permutations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from statsmodels.duration.hazard_regression import PHReg
from statsmodels.duration.survfunc import survdiff
from statsmodels.stats.multitest import multipletests

from trivet.science.comparison.contrast import MonteCarlo, contrast
from trivet.science.comparison.family import Rules, compare_groups
from trivet.science.comparison.sensitivity import followed_alike
from trivet.science.comparison.verdict import holm, verdict, widest
from trivet.science.lives.lives import Lives
from trivet.science.survival.exact_log_rank import exact_log_rank, proportion_limits
from trivet.science.survival.hazard import hazard_ratio
from trivet.science.survival.log_rank import log_rank, log_rank_scores
from trivet.science.survival.parametric import time_ratio

# Callaert 2003, Am. Stat. 57, 214-217: all ended.
CALLAERT = (1, 1, 5, 6, 6, 6, 6, 2, 2, 2, 3, 4, 4, 5, 5)
CALLAERT_GROUP = np.repeat([0, 1], [7, 8])

# The stratified example of the reference output of the R package coin: days, ends, arm, sex.
SEXES = np.array(list("MMFFMMMFFF"))
ARMS = np.repeat([0, 1], 5)
DAYS = (-3, -5, 7, 8, 18, 12, 19, 20, -20, -33)

Cells = list[tuple[int, int, int, int]]


def lives(signed: tuple[float, ...]) -> tuple[np.ndarray, np.ndarray]:
    """Durations and ends from numbers that are negative where censored."""
    values = np.array(signed, dtype=float)
    return np.abs(values), (values > 0).astype(int)


def few_cells(strata: int = 2, groups: int = 2) -> st.SearchStrategy[Cells]:
    """Time, end, group and stratum of a few cells, with ties."""
    cell = st.tuples(
        st.integers(1, 6), st.integers(0, 1), st.integers(0, groups - 1), st.integers(1, strata)
    )
    return st.lists(cell, min_size=4, max_size=8)


def columns(cells: Cells) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Time, end, group and stratum as arrays."""
    duration, observed, group, stratum = np.array(cells).T
    return duration.astype(float), observed, group, stratum


def test_log_rank_of_the_remission_data(
    remission: tuple[np.ndarray, np.ndarray, np.ndarray],
) -> None:
    """Ends 9 and 21, expected 19.25 and 10.75, chi-squared 16.79; not the naive 15.23."""
    # Rodriguez, Survival Analysis notes (Freireich data): O, E, chi2 16.79, p 4e-05; more digits
    # from three general libraries that agree
    duration, observed, group = remission
    got = log_rank(duration, observed=observed, group=group)
    assert got.observed_events.tolist() == [21, 9]
    np.testing.assert_allclose(got.expected_events, [10.749499, 19.250501], atol=1e-6)
    assert got.covariance[0, 0] == pytest.approx(6.256961, abs=1e-6)
    assert got.statistic == pytest.approx(16.792941, abs=1e-6)
    assert got.p == pytest.approx(4.1688e-05, rel=1e-4)


def test_log_rank_by_pair_can_be_counted_by_hand(remission_pairs: tuple[np.ndarray, ...]) -> None:
    """By pair, 18 against 3 first relapses decide: chi-squared (18 - 3)^2 / 21 = 10.714."""
    duration, observed, group, pair, status = remission_pairs
    by_pair = log_rank(duration, observed=observed, group=group, stratum=pair)
    assert by_pair.statistic == pytest.approx((18 - 3) ** 2 / 21, rel=1e-12)
    np.testing.assert_allclose(by_pair.expected_events, [13.5, 16.5])
    by_status = log_rank(duration, observed=observed, group=group, stratum=status)
    # statsmodels survdiff(strata=) and an independent code agree on these digits
    assert by_status.statistic == pytest.approx(17.942871, abs=1e-6)
    np.testing.assert_allclose(by_status.expected_events, [10.685401, 19.314599], atol=1e-6)


def test_four_groups_and_holm_on_the_larynx_data(larynx: tuple[np.ndarray, ...]) -> None:
    """Overall chi-squared 22.76 with 3 degrees of freedom, and pairwise p after Holm."""
    # Klein & Moeschberger print 22.76 (from memory); more digits by an independent code
    duration, observed, stage = larynx
    assert len(stage) == 90
    got = log_rank(duration, observed=observed, group=stage)
    assert got.observed_events.tolist() == [15, 7, 17, 11]
    want = [22.566040, 10.011697, 14.084548, 3.337715]
    np.testing.assert_allclose(got.expected_events, want, atol=1e-6)
    assert got.degrees_of_freedom == 3
    assert got.statistic == pytest.approx(22.762757, abs=1e-6)
    raw = []
    for first, second in ((0, 1), (0, 2), (0, 3), (1, 2), (1, 3), (2, 3)):
        own = (stage == first) | (stage == second)
        pair = (stage[own] == second).astype(int)
        raw.append(log_rank(duration[own], observed=observed[own], group=pair).p)
    np.testing.assert_allclose(holm(np.array(raw)), multipletests(raw, method="holm")[1])
    assert holm(np.array(raw))[2] == pytest.approx(7.89285e-06, rel=1e-5)


@given(few_cells())
@settings(max_examples=60, deadline=None)
def test_log_rank_agrees_with_statsmodels(cells: Cells) -> None:
    """Chi-squared within strata is that of statsmodels wherever both groups meet."""
    duration, observed, group, stratum = columns(cells)
    got = log_rank(duration, observed=observed, group=group, stratum=stratum)
    for number in np.unique(stratum):
        if len(np.unique(group[stratum == number])) < 2:
            return
    if np.isnan(got.p):
        return
    statistic, p = survdiff(duration, observed, group, strata=stratum)
    assert got.statistic == pytest.approx(float(statistic), rel=1e-8, abs=1e-10)
    assert got.p == pytest.approx(float(p), rel=1e-6, abs=1e-10)


def test_scores_of_callaert() -> None:
    """Score of a cell: its end less the cumulative hazard; a stratum adds up to 0."""
    # reference output of the R package coin, sign reversed
    scores = log_rank_scores(np.array(CALLAERT, dtype=float), observed=np.ones(15, dtype=int))
    want = {1: 0.86667, 5: -0.11490, 6: -1.11490, 2: 0.63590, 3: 0.53590, 4: 0.31368}
    np.testing.assert_allclose(scores, [want[value] for value in CALLAERT], atol=5e-6)
    assert scores.sum() == pytest.approx(0, abs=1e-12)


def test_exact_log_rank_of_callaert() -> None:
    """The difference of ends is permuted: p = 325/6435 = 0.0505, Z = 1.9201."""
    # Callaert 2003; permuting the chi-squared instead would give 359/6435 = 0.0558
    got = exact_log_rank(
        np.array(CALLAERT, dtype=float), observed=np.ones(15, dtype=int), group=CALLAERT_GROUP
    )
    assert got.p * 6435 == pytest.approx(325, rel=1e-12)
    assert got.statistic == pytest.approx(1.9201, abs=5e-5)
    assert (got.permutations, got.draws) == (6435, 0)
    assert got.p_lower == got.p_upper == got.p


# Tiny sets that anyone can enumerate by hand (no published source).
@pytest.mark.parametrize(
    ("first", "second", "p", "chi_squared"),
    [
        ((1, 2, 3), (4, 5, 6), 2 / 20, 5.05166),
        ((10, 12, 15, 20), (-20, -20, -20, -20), 2 / 70, 7.344407),
        ((2, 4, 7), (5, -8, -8), 4 / 20, 2.556653),
    ],
)
def test_tiny_groups_by_hand(
    first: tuple[float, ...], second: tuple[float, ...], p: float, chi_squared: float
) -> None:
    """Three against three reach 0.10 at best, whatever the chi-squared says."""
    duration, observed = lives(first + second)
    group = np.repeat([0, 1], [len(first), len(second)])
    got = exact_log_rank(duration, observed=observed, group=group)
    assert got.p == pytest.approx(p, rel=1e-12)
    asymptotic = log_rank(duration, observed=observed, group=group)
    assert asymptotic.statistic == pytest.approx(chi_squared, abs=1e-5)


@pytest.mark.parametrize(("cells", "smallest"), [(3, 2 / 20), (4, 2 / 70), (5, 2 / 252)])
def test_smallest_attainable_p_of_equal_groups(cells: int, smallest: float) -> None:
    """With all ended apart, the smallest two-sided p is 2 / C(2n, n), by hand."""
    duration = np.random.default_rng(cells).permutation(np.arange(1.0, 2 * cells + 1))
    got = exact_log_rank(
        duration, observed=np.ones(2 * cells, dtype=int), group=np.repeat([0, 1], cells)
    )
    assert got.smallest_attainable_p == pytest.approx(smallest, rel=1e-12)


def test_stratified_exact_log_rank() -> None:
    """Scores and labels within sex: Z 1.5054, p 15/100; scores of the pooled set give 16/100."""
    # data of the reference output of the R package coin, which scores the pooled set; the values
    # within strata are those of the standard stratified test, enumerated independently
    duration, observed = lives(DAYS)
    got = exact_log_rank(duration, observed=observed, group=ARMS, stratum=SEXES)
    assert got.p == pytest.approx(15 / 100, rel=1e-12)
    assert abs(got.statistic) == pytest.approx(1.505418, abs=1e-6)
    plain = log_rank(duration, observed=observed, group=ARMS, stratum=SEXES)
    assert plain.statistic == pytest.approx(2.556653, abs=1e-6)
    np.testing.assert_allclose(plain.expected_events, [1.483333, 4.516667], atol=1e-6)


def by_brute_force(
    duration: np.ndarray, observed: np.ndarray, group: np.ndarray, stratum: np.ndarray
) -> tuple[float, float]:
    """P and smallest p from every permutation of the labels within two strata, one by one.

    The form is built from the moments of the permuted sums themselves, not from a formula.
    """
    scores = log_rank_scores(duration, observed=observed, stratum=stratum)
    places = [np.flatnonzero(stratum == number) for number in np.unique(stratum)]
    sums = []
    labels = group.copy()
    options = [set(permutations(group[own].tolist())) for own in places]
    for first in options[0]:
        for second in options[1] if len(options) > 1 else [()]:
            labels[places[0]] = first
            if len(options) > 1:
                labels[places[1]] = second
            sums.append([scores[labels == k].sum() for k in range(int(group.max()) + 1)])
    table = np.array(sums)
    spread = np.linalg.pinv(np.cov(table.T, bias=True), rcond=1e-9, hermitian=True)
    centre = table.mean(axis=0)
    forms = np.einsum("ng,gh,nh->n", table - centre, spread, table - centre)
    own = np.array([scores[group == k].sum() for k in range(int(group.max()) + 1)]) - centre
    seen = own @ spread @ own
    return float(np.mean(forms >= seen - 1e-7)), float(np.mean(forms >= forms.max() - 1e-7))


@given(few_cells(groups=3))
@settings(max_examples=40, deadline=None)
def test_exact_p_agrees_with_brute_force(cells: Cells) -> None:
    """Two or three groups, two strata, ties: p and smallest p are those of full enumeration."""
    duration, observed, group, stratum = columns(cells)
    group = np.unique(group, return_inverse=True)[1]
    got = exact_log_rank(duration, observed=observed, group=group, stratum=stratum)
    if np.isnan(got.p):
        return
    p, smallest = by_brute_force(duration, observed, group, stratum)
    assert got.p == pytest.approx(p, abs=1e-12)
    assert got.smallest_attainable_p == pytest.approx(smallest, abs=1e-12)


@given(few_cells(), st.permutations(range(8)))
@settings(max_examples=40, deadline=None)
def test_exact_p_ignores_order_unit_and_names(cells: Cells, order: list[int]) -> None:
    """Other order of cells, other unit of time, swapped groups: the same p."""
    duration, observed, group, stratum = columns(cells)
    first = exact_log_rank(duration, observed=observed, group=group, stratum=stratum)
    place = np.array([number for number in order if number < len(cells)])
    second = exact_log_rank(
        duration[place] / 24.0,
        observed=observed[place],
        group=1 - group[place],
        stratum=stratum[place],
    )
    assert second.p == pytest.approx(first.p, nan_ok=True)
    assert second.statistic == pytest.approx(-first.statistic, nan_ok=True)


def test_drawn_p_holds_the_enumerated_one() -> None:
    """Beyond the limit p is drawn from a seed; its interval holds the enumerated p."""
    data = {"observed": np.ones(15, dtype=int), "group": CALLAERT_GROUP}
    duration = np.array(CALLAERT, dtype=float)
    drawn = exact_log_rank(duration, **data, enumeration_limit=10, draws=4000, seed=3)
    again = exact_log_rank(duration, **data, enumeration_limit=10, draws=4000, seed=3)
    assert drawn == again
    assert drawn.draws == 4000
    assert drawn.p_lower < 325 / 6435 < drawn.p_upper
    # p is 0.0505: at a threshold of 0.05 the interval can't decide, so draws are doubled
    more = exact_log_rank(
        duration, **data, enumeration_limit=10, draws=4000, seed=3, thresholds=(0.05,)
    )
    assert more.draws == 32000
    # Clopper-Pearson of 1 in 6 at 95 % is (0.0042, 0.6412), here at 99 %: wider
    assert proportion_limits(1, draws=6)[1] > 0.6412


def test_enumeration_is_quick() -> None:
    """Eight against eight, all apart: C(16, 8) = 12870 permutations in less than 0.2 s."""
    duration = np.random.default_rng(1).exponential(size=16)
    start = time.perf_counter()
    got = exact_log_rank(duration, observed=np.ones(16, dtype=int), group=np.repeat([0, 1], 8))
    assert time.perf_counter() - start < 0.2
    assert (got.permutations, got.draws) == (12870, 0)


def test_hazard_ratio_of_the_remission_data(
    remission: tuple[np.ndarray, np.ndarray, np.ndarray],
) -> None:
    """Efron -1.572125, Breslow -1.509191, and Firth's with its profile limits."""
    # Venables & Ripley 2002, ch. 13, and Rodriguez (Efron, Breslow); Firth by an independent code
    duration, observed, group = remission
    efron = hazard_ratio(duration, observed=observed, group=group)
    assert np.log(efron.estimate) == pytest.approx(-1.5721251, abs=1e-6)
    assert efron.log_standard_error == pytest.approx(0.4124, abs=5e-5)
    assert efron.statistic == pytest.approx(16.35, abs=5e-3)
    assert efron.log_likelihood == pytest.approx(-85.008425, abs=1e-6)
    breslow = hazard_ratio(duration, observed=observed, group=group, ties="breslow")
    assert np.log(breslow.estimate) == pytest.approx(-1.5091914, abs=1e-6)
    assert breslow.statistic == pytest.approx(15.21, abs=5e-3)
    firth = hazard_ratio(duration, observed=observed, group=group, penalised=True)
    limits = np.log([firth.estimate, firth.lower, firth.upper])
    np.testing.assert_allclose(limits, [-1.541739, -2.381048, -0.778484], atol=1e-6)


def test_hazard_ratio_of_six_subjects_by_hand(six: np.ndarray) -> None:
    """Breslow (3 + root 33)/2, Efron log-likelihood -3.358979 and -4.276666 at a ratio of 1."""
    # Therneau, Software validation, test data 1 (closed forms printed there)
    duration, observed, group = six[:, 0], six[:, 1].astype(int), six[:, 2].astype(int)
    breslow = hazard_ratio(duration, observed=observed, group=group, ties="breslow")
    assert breslow.estimate == pytest.approx((3 + 33**0.5) / 2, rel=1e-8)
    assert breslow.log_standard_error**-2 == pytest.approx(0.634168, abs=1e-6)
    efron = hazard_ratio(duration, observed=observed, group=group)
    assert np.log(efron.estimate) == pytest.approx(1.676857, abs=1e-6)
    assert efron.log_likelihood == pytest.approx(-3.358979, abs=1e-5)
    assert efron.statistic == pytest.approx(2 * (4.276666 - 3.358979), abs=1e-4)
    assert efron.log_standard_error**-2 == pytest.approx(0.612632, abs=1e-6)


@given(few_cells())
@settings(max_examples=40, deadline=None)
def test_hazard_ratio_agrees_with_statsmodels(cells: Cells) -> None:
    """Where a maximum exists, estimate and error within strata are those of statsmodels."""
    duration, observed, group, stratum = columns(cells)
    got = hazard_ratio(duration, observed=observed, group=group, stratum=stratum)
    if got.reason or got.penalised or abs(np.log(got.estimate)) > 4:
        return
    model = PHReg(duration, group[:, None].astype(float), observed, strata=stratum, ties="efron")
    fitted = model.fit(disp=0)
    assert np.log(got.estimate) == pytest.approx(float(fitted.params[0]), abs=1e-4)
    assert got.log_standard_error == pytest.approx(float(fitted.bse[0]), rel=1e-3)


def test_a_group_without_ends_has_a_penalised_hazard_ratio() -> None:
    """Firth's penalty keeps the ratio finite where no cell of a group has ended."""
    duration, observed = lives((10, 12, 15, 20, -20, -20, -20, -20))
    group = np.repeat([0, 1], 4)
    got = hazard_ratio(duration, observed=observed, group=group)
    assert got.penalised
    assert 0 < got.lower < got.estimate < got.upper < 1
    plain = hazard_ratio(duration, observed=observed, group=group, penalised=False)
    assert "no maximum" in plain.reason


def test_holm_by_hand() -> None:
    """(.01, .04, .03) becomes (.03, .06, .06); a missing p does not count."""
    np.testing.assert_allclose(holm(np.array([0.01, 0.04, 0.03])), [0.03, 0.06, 0.06])
    np.testing.assert_allclose(holm(np.array([0.02, np.nan, 0.6])), [0.04, np.nan, 0.6])


def judge(**changes: object) -> str:
    """Verdict of a contrast that is inconclusive but for the changes."""
    plain = {
        "confounded": False, "p_adjusted": 0.3, "p_adjusted_upper": 0.3, "interval": (0.7, 1.4),
        "margin": 1.25, "alpha": 0.05,
    }  # fmt: skip
    return verdict(**{**plain, **changes})  # type: ignore[arg-type]


def test_verdicts_come_in_their_order() -> None:
    """Not estimable, then equivalent even if significant, then different, else inconclusive."""
    # order of the project's methods; equivalence by Schuirmann 1987
    assert judge() == "inconclusive"
    assert judge(p_adjusted=0.05, p_adjusted_upper=0.05) == "different"
    assert judge(p_adjusted=0.04, p_adjusted_upper=0.06) == "inconclusive"
    assert judge(p_adjusted=0.01, p_adjusted_upper=0.01, interval=(0.81, 0.95)) == "equivalent"
    assert judge(interval=(0.8, 1.25)) == "equivalent"
    assert judge(interval=(0.79, 1.1)) == "inconclusive"
    assert judge(interval=(0.9, float("nan"))) == "inconclusive"
    assert judge(confounded=True, p_adjusted=0.001, interval=(0.9, 1.1)) == "not estimable"
    assert judge(p_adjusted=float("nan")) == "not estimable"


def rules(**changes: object) -> Rules:
    """Rules of most tests."""
    plain = {"confidence": 0.95, "margin": 1.25, "stratify": True, "drawing": MonteCarlo()}
    return Rules(**{**plain, **changes})  # type: ignore[arg-type]


def test_remission_data_are_not_equivalent(
    remission: tuple[np.ndarray, np.ndarray, np.ndarray],
) -> None:
    """The 90 % interval of the time ratio lies far outside 0.8 to 1.25, and p is small."""
    duration, observed, group = remission
    family = compare_groups(
        Lives(duration=duration, observed=observed, group=group, batch=np.ones(42)), groups=2,
        restriction_time=23, rules=rules(drawing=MonteCarlo(draws=20_000, seed=1)),
    )  # fmt: skip
    (judged,) = family.contrasts
    assert judged.verdict == "different"
    mean = judged.contrast.measure("restricted mean difference")
    # independent calculation: 9.242577 (5.1738 to 13.3114)
    np.testing.assert_allclose(
        [mean.estimate, mean.lower, mean.upper], [9.242577, 5.1738, 13.3114], atol=1e-4
    )
    assert family.overall == ()


def test_a_variant_in_its_own_batch_is_not_estimable() -> None:
    """No batch holds both groups: no verdict, however clear the difference, stratified or not."""
    duration, observed = lives((1, 2, 3, 4, 10, 11, 12, 13))
    group = np.repeat([0, 1], 4)
    for stratify in (True, False):
        family = compare_groups(
            Lives(duration=duration, observed=observed, group=group, batch=group), groups=2,
            restriction_time=5, rules=rules(stratify=stratify),
        )  # fmt: skip
        assert family.contrasts[0].verdict == "not estimable"
        assert family.contrasts[0].confounded


def test_steep_lives_can_be_equivalent() -> None:
    """Two groups of twelve that end within a few per cent of each other are equivalent."""
    # by hand: the spread of log time is about 0.02, so the interval is about 0.98 to 1.02
    steps = 100 * np.exp(0.02 * np.linspace(-1.5, 1.5, 12))
    duration = np.concatenate([steps, steps * 1.001])
    family = compare_groups(
        Lives(duration=duration, observed=np.ones(24, dtype=int), group=np.repeat([0, 1], 12),
              batch=np.ones(24)), groups=2, restriction_time=100, rules=rules(),
    )  # fmt: skip
    assert family.contrasts[0].verdict == "equivalent"
    assert family.contrasts[0].contrast.exact.p > 0.05


@pytest.mark.parametrize("law", ["weibull", "lognormal"])
def test_equivalence_holds_under_both_laws(law: str) -> None:
    """The interval that decides holds that of each law, so neither law alone calls groups alike."""
    # source of the rule: our calibration study; both models: Klein & Moeschberger, chapter 12
    generator = np.random.default_rng(4)
    duration = np.exp(0.1 * generator.normal(size=16))
    data = {"observed": np.ones(16, dtype=int), "group": np.repeat([0, 1], 8)}
    got = contrast(
        Lives(duration=duration, **data), confidence=0.95, contrasts=1, restriction_time=0.7,
        drawing=MonteCarlo(),
    )  # fmt: skip
    same = got.measure("time ratio for equivalence")
    own = time_ratio(duration, **data, family=law, confidences=(0.9,)).intervals[0]
    assert same.lower <= own.lower < own.upper <= same.upper
    assert same.confidence == 0.9


def test_an_open_side_stays_open_among_intervals() -> None:
    """The widest of several intervals has no limit where one of them has none."""
    lower, upper = widest([(0.8, 1.2), (0.9, np.nan)])
    assert lower == 0.8
    assert np.isnan(upper)
    assert np.all(np.isnan(widest([])))


def test_few_ends_in_a_group_make_a_ratio_descriptive() -> None:
    """Fewer than four ends in a group: the ratio leans towards early ends, and says so."""
    for signed, few in (((4, 5, -9, -9), True), ((4, 5, 8, -9), True), ((4, 5, 8, 9), False)):
        duration, observed = lives((*signed, 3, 4.5, 6, 7))
        got = contrast(
            Lives(duration=duration, observed=observed, group=np.repeat([1, 0], 4)),
            confidence=0.95, contrasts=1, restriction_time=6, drawing=MonteCarlo(),
        )  # fmt: skip
        assert ("fewer than four ends" in got.measure("time ratio").reason) == few
        assert "descriptive" in got.measure("hazard ratio").reason


def test_several_groups_share_the_error() -> None:
    """Three groups: closed testing of p, and the equivalence interval at 1 - 2 alpha / 2."""
    # Lauzon & Caffo 2009: alpha over the number of contrasts
    duration = np.arange(1.0, 13.0)
    family = compare_groups(
        Lives(duration=duration, observed=np.ones(12, dtype=int), group=np.tile([0, 1, 2], 4),
              batch=np.ones(12)), groups=3, restriction_time=9, rules=rules(),
    )  # fmt: skip
    # Marcus, Peritz & Gabriel 1976: its own p or that of all groups, whichever is larger
    overall = family.overall[0].p
    for judged in family.contrasts:
        assert judged.p_adjusted[0] == pytest.approx(max(judged.contrast.exact.p, overall))
    asymptotic = [judged.measures[1].p for judged in family.contrasts]
    np.testing.assert_allclose(
        [judged.p_adjusted[1] for judged in family.contrasts],
        multipletests(asymptotic, method="holm")[1],
    )
    same = family.contrasts[0].contrast.measure("time ratio for equivalence")
    assert same.confidence == 0.95
    assert [measure.measure for measure in family.overall] == ["exact log-rank", "log-rank"]


def test_unlike_follow_up_is_seen() -> None:
    """Groups censored at 1 to 4 and at 11 to 14 were not followed alike: p 2/70 by hand."""
    duration = np.array([1.0, 2, 3, 4, 11, 12, 13, 14])
    group = np.repeat([0, 1], 4)
    none, all_ended = (
        Lives(duration=duration, observed=ends, group=group)
        for ends in (np.zeros(8, dtype=int), np.ones(8, dtype=int))
    )
    assert followed_alike(none, drawing=MonteCarlo()) == pytest.approx(2 / 70)
    assert np.isnan(followed_alike(all_ended, drawing=MonteCarlo()))


def test_every_measure_says_why_it_is_missing() -> None:
    """One end in a group: no time ratio, with the counts; the other measures stand."""
    duration, observed = lives((5, -9, -9, 3, 4, 6))
    got = contrast(
        Lives(duration=duration, observed=observed, group=np.repeat([1, 0], 3)), confidence=0.95,
        contrasts=1, restriction_time=6, drawing=MonteCarlo(),
    )  # fmt: skip
    assert "1 ends in the group and 3" in got.measure("time ratio").reason
    assert "Firth" in got.measure("hazard ratio").reason
    assert np.isfinite(got.exact.p)
