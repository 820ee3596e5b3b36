"""What may turn a verdict: unlike follow-up, stopped cells, late entry, lives between checks."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import binomtest, kstest
from statsmodels.duration.hazard_regression import PHReg
from statsmodels.duration.survfunc import SurvfuncRight

from trivet.science.comparison.contrast import MonteCarlo
from trivet.science.comparison.family import ContrastVerdict, Rules, compare_groups
from trivet.science.comparison.sensitivity import after_bounds, followed_alike
from trivet.science.lives.lives import Lives
from trivet.science.survival.exact_log_rank import exact_log_rank
from trivet.science.survival.gray import gray
from trivet.science.survival.hazard import hazard_ratio
from trivet.science.survival.imputation import imputation_permutation
from trivet.science.survival.interval_censored import interval_scores, turnbull
from trivet.science.survival.log_rank import log_rank, log_rank_scores
from trivet.science.survival.product_limit import product_limit

RULES = Rules(confidence=0.95, margin=1.25, stratify=True, drawing=MonteCarlo(draws=2000))


def judged(
    duration: list[float], observed: list[int], group: list[int], **known: np.ndarray
) -> ContrastVerdict:
    """One contrast of two groups in one batch."""
    family = compare_groups(
        Lives(
            duration=np.array(duration, dtype=float),
            observed=np.array(observed),
            group=np.array(group),
            batch=np.zeros(len(group)),
            **known,
        ),
        groups=2,
        restriction_time=1.0,
        rules=RULES,
    )
    return family.contrasts[0]


def test_without_censoring_imputation_is_the_permutation_test() -> None:
    """Nothing is imputed where all ended: p is that of permuted labels, on the log-rank's Z."""
    random = np.random.default_rng(3)
    duration = random.weibull(2, 10)
    group = np.repeat([0, 1], 5)
    ones = np.ones(10, dtype=int)
    got = imputation_permutation(duration, observed=ones, group=group, draws=20_000, seed=1)
    plain = log_rank(duration, observed=ones, group=group)
    assert got.statistic**2 == pytest.approx(plain.statistic)
    # by enumeration of all 252 labels, the variance recomputed for each as this test does
    forms = []
    for number in range(2**10):
        label = np.array([(number >> bit) & 1 for bit in range(10)])
        if label.sum() == 5:
            forms.append(log_rank(duration, observed=ones, group=label).statistic)
    exact = np.mean(np.array(forms) >= plain.statistic * (1 - 1e-9))
    assert got.p_lower <= exact <= got.p_upper


def test_unlike_follow_up_keeps_its_level() -> None:
    """Groups that last the same but are followed unlike are called different in 5 % at most."""
    # the level that the test is made for: Heinze, Gnant & Schemper 2003; Wang et al. 2010
    random = np.random.default_rng(11)
    group = np.repeat([0, 1], 6)
    wrong = 0
    for turn in range(200):
        life = random.weibull(3, 12)
        wall = np.where(group == 1, 0.75, 1.6) * np.exp(0.1 * random.normal(size=12))
        got = imputation_permutation(
            np.minimum(life, wall), observed=(life <= wall).astype(int), group=group,
            draws=500, seed=turn,
        )  # fmt: skip
        wrong += bool(got.p <= 0.05)
    assert binomtest(wrong, 200, 0.05, alternative="greater").pvalue > 0.001


def test_unlike_follow_up_needs_both_tests() -> None:
    """Where cells of one group were all last seen early, the larger p decides and is named."""
    duration = [9, 10, 11, 12, 13, 14, 2, 2.5, 3, 3.5, 4, 4.5]
    found = judged(duration, [1] * 6 + [0, 0, 0, 0, 0, 1], [0] * 6 + [1] * 6)
    assert found.doubts.unlike
    assert found.doubts.imputed is not None
    names = [measure.measure for measure in found.measures]
    assert "imputation-permutation log-rank" in names
    exact = found.measures[0].p
    assert found.deciding_p == pytest.approx(max(exact, found.doubts.imputed.p))


def test_stopped_cells_turn_a_verdict() -> None:
    """A difference that rests on cells which a person stopped is inconclusive."""
    duration, observed = [1, 2, 3, 4, 5, 9, 9.1, 9.2, 9.3, 9.4], [1] * 5 + [0] * 5
    group = [0] * 5 + [1] * 5
    assert judged(duration, observed, group).verdict == "different"
    early = [1, 2, 3, 4, 5, 5.1, 5.2, 5.3, 5.4, 5.5]
    stopped = dict(stopped=np.array([False] * 5 + [True] * 5))
    found = judged(early, observed, group, **stopped)
    # ended when stopped, after all of the control: still different; the other way they never end
    assert found.verdict == "different"
    assert len(found.doubts.bounds) == 2
    mixed = [1, 2, 3, 4, 8, 0.5, 0.6, 9, 9.1, 9.2]
    stopped = dict(stopped=np.array([False] * 5 + [True, True] + [False] * 3))
    found = judged(mixed, [1, 1, 1, 1, 1, 0, 0, 0, 0, 0], group, **stopped)
    assert found.turned == (found.verdict == "inconclusive" and not found.confounded)
    bounds = [m for m in found.measures if m.measure.startswith("bound:")]
    assert [m.p for m in bounds] == [bound.exact.p for bound in found.doubts.bounds]


@pytest.mark.parametrize(
    ("base", "bounds", "want"),
    [
        ("different", [("different", True), ("different", True)], "different"),
        ("different", [("different", True), ("different", False)], "inconclusive"),
        ("different", [("inconclusive", True), ("different", True)], "inconclusive"),
        ("equivalent", [("equivalent", False), ("equivalent", True)], "equivalent"),
        ("equivalent", [("equivalent", True), ("inconclusive", True)], "inconclusive"),
        ("inconclusive", [("different", True), ("different", True)], "inconclusive"),
        ("not estimable", [("different", True)], "not estimable"),
    ],
)
def test_bounds_only_take_away(base: str, bounds: list[tuple[str, bool]], want: str) -> None:
    """Bounds may turn a claim into `inconclusive`, never make one."""
    assert after_bounds(base, longer=True, bounds=bounds) == want


cells = st.lists(
    st.tuples(st.integers(2, 9), st.integers(0, 1), st.integers(0, 1), st.integers(0, 4)),
    min_size=6, max_size=10,
)  # fmt: skip


@given(cells)
@settings(max_examples=40, deadline=None)
def test_late_entry_agrees_with_statsmodels(drawn: list[tuple[int, int, int, int]]) -> None:
    """Curve and Cox model count a cell from its entry on, as statsmodels does."""
    duration, observed, group, entry = np.array(drawn).T
    # (entry, time] as usual; the library's Cox model differs where an end ties with an entry
    entry = np.maximum(np.minimum(entry, duration - 1) - 0.5, 0.0)
    got = product_limit(duration.astype(float), observed=observed, entry=entry)
    if observed.any():
        want = SurvfuncRight(duration, observed, entry=entry)
        at = np.isin(got.time, want.surv_times)
        np.testing.assert_allclose(got.survival[at], want.surv_prob, atol=1e-12)
    ends = [int(observed[group == side].sum()) for side in (0, 1)]
    if min(ends) < 2:
        return
    ratio = hazard_ratio(
        duration.astype(float), observed=observed, group=group, entry=entry, penalised=False
    )
    if ratio.reason:
        return
    model = PHReg(duration, group[:, None], status=observed, entry=entry, ties="efron")
    step = 1e-4
    effect = float(np.log(ratio.estimate))
    middle, *sides = (model.loglike(np.array([effect + k * step])) for k in (0, -1, 1))
    assert middle >= max(sides) - 1e-7
    scores = log_rank_scores(duration.astype(float), observed=observed, entry=entry)
    plain = log_rank(duration.astype(float), observed=observed, group=group, entry=entry)
    excess = plain.observed_events[1] - plain.expected_events[1]
    assert scores[group == 1].sum() == pytest.approx(excess, abs=1e-9)


def test_unlike_entry_is_not_estimable() -> None:
    """Where one group entered late and the other did not, no test is given."""
    observation = dict(entry=np.array([0.0] * 5 + [4, 4.1, 4.2, 4.3, 4.4]))
    found = judged([5, 6, 7, 8, 9, 15, 16, 17, 18, 19], [1] * 10, [0] * 5 + [1] * 5, **observation)
    assert found.verdict == "not estimable"
    assert "cells entered after their start" in found.contrast.ratio.reason


def test_scores_of_known_times_rank_like_log_rank_scores() -> None:
    """Where all times are known, interval scores order cells as log-rank scores do; sum 0."""
    random = np.random.default_rng(5)
    time = random.weibull(2, 14)
    got = interval_scores(time, upper=time)
    want = log_rank_scores(time, observed=np.ones(14, dtype=int))
    assert np.array_equal(np.argsort(got), np.argsort(want))
    assert got.sum() == pytest.approx(0, abs=1e-12)


@given(cells)
@settings(max_examples=40, deadline=None)
def test_turnbull_is_the_product_limit_where_nothing_is_between(
    drawn: list[tuple[int, int, int, int]],
) -> None:
    """With known and right-censored times only, the estimate is the product limit."""
    duration, observed, _, _ = np.array(drawn).T
    time = duration.astype(float)
    got = turnbull(time, upper=np.where(observed == 1, time, np.inf))
    curve = product_limit(time, observed=observed)
    steps = curve.events > 0
    np.testing.assert_allclose(got.upper, curve.time[steps])
    np.testing.assert_allclose(got.survival, curve.survival[steps], atol=1e-6)


@pytest.mark.parametrize(
    ("lower", "upper"), [([1.0], [0.5]), ([-1.0], [2.0]), ([np.nan], [2.0]), ([1.0], [np.nan])]
)
def test_impossible_bounds_are_refused(lower: list[float], upper: list[float]) -> None:
    """Bounds that are reversed, negative or missing raise a clear error."""
    with pytest.raises(ValueError, match="bound"):
        turnbull(np.array(lower), upper=np.array(upper))


@given(cells)
@settings(max_examples=40, deadline=None)
def test_gray_with_one_cause_is_the_log_rank(drawn: list[tuple[int, int, int, int]]) -> None:
    """Without a competing cause the scores of Gray's test are those of the log-rank test."""
    # Gray 1988: with one cause the subdistribution hazard is the hazard; the variances differ
    duration, observed, group, _ = np.array(drawn).T
    time = duration.astype(float)
    got = gray(time, cause=observed, of=1, group=group)
    plain = log_rank(time, observed=observed, group=group)
    if np.isnan(plain.p) or np.isnan(got.p):
        return
    same_zero = plain.statistic < 1e-12
    assert (got.statistic < 1e-9) == same_zero


def test_p_of_like_groups_is_no_smaller_than_it_should() -> None:
    """Over like groups p of the exact test is not below its level at any level."""
    random = np.random.default_rng(2)
    found = []
    for _ in range(200):
        life = random.weibull(2, 10)
        found.append(
            exact_log_rank(np.minimum(life, 1.1), observed=(life < 1.1).astype(int),
                           group=np.repeat([0, 1], 5)).p
        )  # fmt: skip
    assert kstest(found, "uniform", alternative="greater").pvalue > 0.001


def test_follow_up_alike_is_not_called_unlike() -> None:
    """One wall for all gives no evidence of unlike follow-up."""
    duration = np.array([3, 5, 9, 9, 4, 6, 9, 9], dtype=float)
    ends = (duration < 9).astype(int)
    lives = Lives(duration=duration, observed=ends, group=np.repeat([0, 1], 4))
    p = followed_alike(lives, drawing=MonteCarlo())
    assert not p <= 0.1


def test_honest_logging_is_not_punished() -> None:
    """A stop for the channel is censoring like any other: verdict and p are those without it."""
    duration = [1, 2, 3, 4, 8, 0.5, 0.6, 9, 9.1, 9.2]
    observed, group = [1, 1, 1, 1, 1, 0, 0, 0, 0, 0], [0] * 5 + [1] * 5
    plain = judged(duration, observed, group)
    nobody = dict(stopped=np.zeros(10, dtype=bool), looked_bad=np.zeros(10, dtype=bool))
    logged = judged(duration, observed, group, **nobody)
    assert (logged.verdict, logged.deciding_p) == (plain.verdict, plain.deciding_p)
    assert logged.doubts.bounds == ()


def test_a_cell_that_looked_bad_ends_in_a_row_of_its_own() -> None:
    """It counts as ended when stopped in a row of its own, which here shows the same."""
    duration = [1, 2, 3, 4, 5, 5.1, 9, 9.1, 9.2, 9.3]
    observed, group = [1] * 5 + [0] * 5, [0] * 5 + [1] * 5
    bad = dict(looked_bad=np.array([False] * 5 + [True] + [False] * 4))
    found = judged(duration, observed, group, **bad)
    assert found.verdict == judged(duration, observed, group).verdict
    row = found.measures[-1]
    assert row.measure == "sensitivity: cells that looked bad ended when stopped"
    ended = exact_log_rank(
        np.array(duration), observed=np.array([1] * 6 + [0] * 4), group=np.array(group)
    )
    assert row.p == pytest.approx(ended.p)


def test_cells_that_looked_bad_may_turn_a_difference() -> None:
    """A difference that goes once they count as ended when stopped is not shown, with that p."""
    duration = [2, 3, 4, 5, 6, 1, 1.5, 9, 9.1, 9.2]
    observed, group = [1] * 5 + [0] * 5, [0] * 5 + [1] * 5
    assert judged(duration, observed, group).verdict == "different"
    bad = dict(looked_bad=np.array([False] * 5 + [True, True] + [False] * 3))
    found = judged(duration, observed, group, **bad)
    ended = exact_log_rank(
        np.array(duration), observed=np.array([1] * 7 + [0] * 3), group=np.array(group)
    )
    assert (found.verdict, found.turned, found.turned_by_bad) == ("inconclusive", False, True)
    assert found.bad_p == pytest.approx(ended.p)
    assert ended.p > 0.05


def test_a_verdict_that_stands_has_the_p_of_bad_cells() -> None:
    """Where the verdict holds with them as ended, that p stands beside it."""
    duration = [1, 2, 3, 4, 5, 5.1, 9, 9.1, 9.2, 9.3]
    observed, group = [1] * 5 + [0] * 5, [0] * 5 + [1] * 5
    bad = dict(looked_bad=np.array([False] * 5 + [True] + [False] * 4))
    found = judged(duration, observed, group, **bad)
    assert (found.verdict, found.turned_by_bad) == ("different", False)
    assert found.bad_p <= 0.05
    assert np.isnan(found.bounds_p)
    assert np.isnan(judged(duration, observed, group).bad_p)


def test_a_verdict_that_stands_has_the_larger_p_of_both_bounds() -> None:
    """A cell of the longer group stopped late: the bound that ends it decides, and is said."""
    duration = [1, 2, 3, 4, 5, 5.1, 9, 9.1, 9.2, 9.3]
    observed, group = [1] * 5 + [0] * 5, [0] * 5 + [1] * 5
    stopped = np.array([False] * 5 + [True] + [False] * 4)
    found = judged(duration, observed, group, stopped=stopped)
    ended = exact_log_rank(
        np.array(duration), observed=np.array([1] * 6 + [0] * 4), group=np.array(group)
    )
    assert (found.verdict, found.turned) == ("different", False)
    assert found.bounds_p == pytest.approx(ended.p)


def test_the_tipping_point_names_cells_and_time() -> None:
    """A control stopped early must have lived on this long for the difference to go."""
    duration = [0.2, 0.3, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12]
    observed = [0, 0, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1]
    group = [0] * 6 + [1] * 6
    unknown = dict(stopped=np.array([True, True] + [False] * 10))
    found = judged(duration, observed, group, **unknown)
    if found.turned:
        assert found.tipping is not None
        assert found.tipping.lives_on == (0, 1)
        time = found.tipping.time
        assert time is not None
        at = [time, time, *duration[2:]]
        seen = exact_log_rank(np.array(at), observed=np.array(observed), group=np.array(group))
        assert seen.p > 0.05
        before = max(t for t in duration if t < time)
        at = [before, before, *duration[2:]]
        earlier = exact_log_rank(np.array(at), observed=np.array(observed), group=np.array(group))
        assert earlier.p <= 0.05
    assert found.turned


@pytest.mark.parametrize("kind", ["stopped", "looked_bad"])
def test_late_entry_does_not_silence_stops(kind: str) -> None:
    """A cell that entered late, in each group alike, takes no vote from cells that were stopped."""
    duration = [2, 3, 4, 5, 6, 1, 1.5, 9, 9.1, 9.2]
    observed, group = [1] * 5 + [0] * 5, [0] * 5 + [1] * 5
    entry = np.array([0.2] + [0.0] * 4 + [0.2] + [0.0] * 4)
    assert judged(duration, observed, group, entry=entry).verdict == "different"
    mine = np.array([False] * 5 + [True, True] + [False] * 3)
    found = judged(duration, observed, group, entry=entry, **{kind: mine})
    assert (found.verdict, found.turned) == ("inconclusive", kind == "stopped")
    bound = found.doubts.bounds[0] if kind == "stopped" else found.doubts.looked_bad
    ended = np.array([1] * 7 + [0] * 3)
    scores = log_rank_scores(np.array(duration), observed=ended, entry=entry)
    labels = np.array(list(combinations(range(10), 5)))
    sums = scores[labels].sum(axis=1)
    far = np.abs(sums) >= abs(scores[5:].sum()) * (1 - 1e-9)
    assert bound is not None
    assert bound.exact.p == pytest.approx(far.mean())  # every way to hand out the labels
