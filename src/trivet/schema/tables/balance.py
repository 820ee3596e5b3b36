"""Tables of what was measured of the build, and of factors with an order."""

from __future__ import annotations

from trivet.schema.tables.columns import Column, Table, count, number, text, truth
from trivet.schema.tables.shared import CLOCK, ENDPOINT, FACTOR, GROUP

_SHEET = "trivet.campaign.build_sheet:read_build_sheet"
_NAMED = "trivet.campaign.built.covariates:covariate_of"
_SPREAD = "trivet.science.comparison.balance:spread_of"
_ALIASED = "trivet.science.comparison.balance:aliased"
_APART = "trivet.science.comparison.balance:chance_apart"
_STAGE = "trivet.stages.balance:run"
_TEST = "trivet.science.survival.linear_permutation:association"
_TREND = "trivet.science.survival.exact_log_rank:exact_score_test"

_COVARIATE = text(
    "covariate", "column of the build sheet, or two columns of times", _NAMED, required=True
)
_UNIT = text("unit", "its unit, in UCUM spelling; empty where its name has none", _STAGE)
_TESTED = (
    count("cells", "included cells that are compared", _STAGE, required=True),
    count("events", "ends seen among them", _STAGE, required=True),
)


def _p(address: str) -> tuple[Column, ...]:
    """Columns of a p and of its reference set."""
    return (
        number("p", "1", "two-sided p; descriptive, decides nothing", address),
        number("p_lower", "1", "lower 99 % limit of a p from drawn relabellings", address),
        number("p_upper", "1", "upper 99 % limit", address),
        number("smallest_attainable_p", "1", "smallest p that these cells could give; missing "
               "where relabellings were drawn", address),
        number("permutations", "1", "relabellings within strata, the size of the reference set",
               address),
        count("draws", "relabellings drawn; 0 where all were counted", address),
    )  # fmt: skip


COVARIATES = Table(
    "covariates",
    "a number of the build and a group",
    (
        _COVARIATE,
        _UNIT,
        FACTOR,
        GROUP,
        text("control", "group that the range is held against", _SHEET, required=True),
        count("cells", "included cells with the number", _SPREAD, required=True),
        count("missing_cells", "included cells without it", _SPREAD, required=True),
        number("median", "", "median, in the row's unit", _SPREAD),
        number("lowest", "", "lowest", _SPREAD),
        number("highest", "", "highest", _SPREAD),
        truth("aliased", "1 where the ranges of group and control lie apart, so that one can't be "
              "told from the other; 0 otherwise and for the control itself", _ALIASED,
              required=True),
        number("chance_apart", "1", "probability that ranges of so few cells lie apart by chance; "
               "missing for the control", _APART),
    ),
    key=("covariate", "factor", "group"),
)  # fmt: skip


COVARIATE_TESTS = Table(
    "covariate_tests",
    "a number of the build and the lives, within groups and batches",
    (
        _COVARIATE,
        _UNIT,
        ENDPOINT,
        CLOCK,
        FACTOR,
        text("within", "what ranks are taken and labels permuted within", _STAGE, required=True),
        *_TESTED,
        number("correlation", "1", "of ranks with scores of the lives, within groups and batches: "
               "above 0 where cells with more of it last longer", _STAGE),
        *_p(_TEST),
        text("stands_for", "other factors whose groups lie apart in this number, so that the test "
             "may show them; empty where there is none", _STAGE),
        text("reason", "why a value is missing; empty otherwise", _STAGE),
    ),
    key=("covariate", "endpoint", "factor"),
)  # fmt: skip


ORDER_TRENDS = Table(
    "order_trends",
    "a factor with an order and the lives",
    (
        ENDPOINT,
        CLOCK,
        FACTOR,
        text("order", "its values from first to last", _STAGE, required=True),
        text("stratified_by", "what stratifies; empty where nothing does", _STAGE),
        *_TESTED,
        number("statistic", "1", "sum of place in the order times log-rank score over its "
               "permutation standard deviation; above 0 where ends come early late in the order",
               _TREND),
        text("direction", "longer, shorter or level: how lives go along the order", _STAGE),
        *_p(_TREND),
        text("reason", "why a value is missing; empty otherwise", _STAGE),
    ),
    key=("endpoint", "clock", "factor"),
)  # fmt: skip
