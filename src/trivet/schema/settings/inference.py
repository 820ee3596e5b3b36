"""Settings of lifetime, survival and comparison."""

from __future__ import annotations

from typing import Any, Literal

from trivet.schema.settings.block import Block, setting


class CapacityEnd(Block):
    """End of life by capacity."""

    retention_below: float = setting(
        0.8,
        "a cell ends when retention is below this",
        gt=0,
        lt=1,
        called="retention that ends a cell",
    )
    reference_cycle: Literal["first ageing cycle"] = setting(
        "first ageing cycle", "the cycle that retention refers to"
    )
    consecutive: int = setting(
        3,
        "ageing cycles in a row that must be below; the first counts",
        ge=1,
        called="ageing cycles in a row that end a cell",
    )


class SuddenEnd(Block):
    """Sudden ends."""

    short_efficiency_below: float = setting(
        0.8, "internal short: coulombic efficiency below this", gt=0, lt=1
    )
    short_consecutive: int = setting(2, "cycles in a row that must be below", ge=1)
    open_circuit_margin_V: float = setting(
        0.3,
        "open circuit: cell voltage outside its limits by more than this",
        unit="V",
        gt=0,
        given_to=("cycling",),
    )
    open_circuit_lasting_s: float = setting(60.0, "for at least this long", unit="s", gt=0)
    cut_off_capacity_below: float = setting(
        0.05,
        "cut-off at once: share of the reference capacity below which a half-cycle has "
        "passed no charge worth the name",
        gt=0,
        lt=1,
    )
    cut_off_consecutive: int = setting(3, "cycles in a row that must be below", ge=1)


class Lifetime(Block):
    """Clocks and rules of the end."""

    table: str | None = setting(
        None,
        "table of lives below the campaign folder, such as lifetimes.csv, that is used instead of "
        "raw files; null: lives come from the raw files",
    )
    clock_start: str = setting(
        "crimped_at",
        "column of the build sheet with the time at which the hours of a cell start",
        called="start of the clock",
    )
    primary_clock: Literal["hours", "cycles"] = setting(
        "hours",
        "seals age by the calendar (hours), electrodes by use (cycles)",
        called="clock that decides",
        given_to=("survival", "pooling", "planning", "balance"),
    )
    capacity: CapacityEnd = setting(CapacityEnd(), "end by capacity")
    sudden: SuddenEnd = setting(SuddenEnd(), "sudden ends")
    running_within_h: float = setting(
        72.0, "a cell whose last row lies within this of the data cut is running", unit="h", gt=0
    )
    reference_checks_to_lose: int = setting(
        2,
        "checks in a row beyond the offset limit that lose a reference; a common-mode jump "
        "beyond its limit needs one",
        ge=1,
        called="checks in a row that lose a reference",
        turns=("reference",),
    )


class Survival(Block):
    """Survival statistics."""

    enumeration_limit: int = setting(
        1_500_000,
        "enumerate exactly while at most this many different sums of scores are held, else draw",
        ge=1,
        le=100_000_000,
    )
    monte_carlo_draws: int = setting(
        200_000, "permutations drawn otherwise", ge=1000, le=100_000_000
    )
    seed: int = setting(
        20260101, "seed of the draws", ge=0, called="seed of the draws", given_to=("planning",)
    )

    @property
    def drawing(self) -> dict[str, Any]:
        """How exact tests enumerate or draw, as they take it."""
        return {
            "enumeration_limit": self.enumeration_limit,
            "draws": self.monte_carlo_draws,
            "seed": self.seed,
        }


class Factor(Block):
    """One build factor to compare."""

    factor: str = setting(..., "column of the build sheet", example="seal")
    control: str = setting(..., "value that the others are compared with", example="plain")


class Earlier(Block):
    """One earlier campaign."""

    name: str = setting(
        ..., "what the report calls it", example="winter", pattern=r"^\S(.*\S)?$", max_length=40
    )
    table: str | None = setting(
        None,
        "its table of lives, with the columns of lifetime.table and batch, and a column of each "
        "factor; 'group' may stand for the primary one",
    )
    archive: str | None = setting(None, "the folder of its archive instead")


class Comparison(Block):
    """What is compared."""

    factors: list[Factor] = setting(
        ...,
        "factors; the first is the primary one",
        min_length=1,
        example=[
            {"factor": "seal", "control": "plain"},
            {"factor": "separators", "control": "1+1"},
        ],
        called="factors compared",
        given_to=("lifetime",),
    )
    stratify_by: Literal["batch", "none"] = setting(
        "batch", "labels are permuted within these", called="what labels are permuted within"
    )
    confidence: float = setting(
        0.95,
        "confidence of intervals; alpha is 1 less this",
        gt=0.5,
        lt=1,
        called="confidence",
        given_to=("forecast", "trends"),
    )
    equivalence_margin: float = setting(
        1.25,
        "largest ratio of times that still counts as the same",
        gt=1,
        called="margin of equivalence",
    )
    covariates: list[str] = setting(
        [],
        "numbers of the build that are held beside the groups: columns of the build sheet, or two "
        "columns of times with ' to ' between them, which gives minutes; 'mass_lost_mg_per_d' from "
        "weighings in the bench log; they decide no verdict",
        example=["electrolyte_uL", "wetted_at to crimped_at"],
        called="numbers of the build looked at",
        turns=(),
    )
    ordered: dict[str, list[str]] = setting(
        {},
        "factors whose values have an order, from first to last, such as separators: [1+1, 2+1]; "
        "whether lives follow it is tested and decides no verdict",
        turns=(),
    )
    primary_endpoint: Literal["cell", "reference"] = setting(
        "cell", "the endpoint of the verdict on page one", called="endpoint of the verdict"
    )
    looks: Literal["weekly", "final"] = setting(
        "weekly",
        "when a difference may be shown, where campaign.planned_end is set: at weekly looks that "
        "share the level between them, or at the planned end alone",
        called="looks at a difference",
    )
    planned_time_ratio: float = setting(
        1.5, "time ratio that the next campaign should be able to show", gt=1, turns=()
    )
    planned_spread: float = setting(
        0.3,
        "spread of log time that planning takes before ends are seen, one over the Weibull shape "
        "(common practice, no source)",
        gt=0,
        le=2,
        turns=(),
    )
    planned_censored_share: float = setting(
        0.25,
        "share of the control expected to outlive the campaign, for planning before ends are seen",
        ge=0,
        lt=1,
        turns=(),
    )
    planned_power: float = setting(0.8, "chance with which it should show it", gt=0, lt=1, turns=())
    restriction_h: float | None = setting(
        None,
        "upper end of restricted means on the clock of hours; null: the shortest follow-up "
        "of the groups",
        unit="h",
        gt=0,
        called="upper end of restricted means",
    )
    restriction_cycles: float | None = setting(
        None, "the same on the clock of cycles", unit="1", gt=0
    )
    earlier: list[Earlier] = setting(
        [],
        "earlier campaigns whose batches join as further blocks, below the campaign folder: "
        "{name: winter, table: earlier/winter.csv} or {name: autumn, archive: earlier/autumn}; "
        "the verdict stays that of this campaign alone",
        turns=(),
    )
    spread_between_campaigns: float = setting(
        0.5,
        "scale of the half-normal law that the standard deviation of log time ratios between "
        "campaigns has before the data; 0.5: true ratios mostly within a factor of 2.7 of their "
        "mean",
        gt=0,
        le=5,
        turns=(),
    )
