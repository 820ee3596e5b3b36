"""Methods in sentences, written from the settings that were used."""

from __future__ import annotations

from typing import Any

from trivet.reasons import AnchorKind
from trivet.reference_checks import CHECKS
from trivet.report.frame.data import ReportData
from trivet.report.frame.literature import Citations
from trivet.report.frame.offset_limits import offset_limits
from trivet.report.frame.section import Section
from trivet.report.frame.wording import as_set
from trivet.schema.settings.anchors import chosen_anchor
from trivet.schema.settings.science import Trust

Paragraph = tuple[str, list[str]]


def methods(data: ReportData) -> dict[str, Any]:
    """Paragraphs with headings, and the works they cite."""
    cite = Citations()
    table = data.settings.lifetime.table
    measured: list[Paragraph] = []
    if table is None:
        measured = [
            ("Reading and cycles", _cycles(data, cite)),
            ("Reference and electrodes", _reference(data, cite)),
            ("Impedance", _impedance(data, cite)),
            ("Trends of resistances", _trends(data, cite)),
        ]
    paragraphs: list[Paragraph] = [
        *measured,
        ("Lives", _lives(data) if table is None else _lives_of_table(data, table)),
        ("Survival and comparison", _survival(data, cite)),
        ("Equivalence and verdicts", _verdicts(data, cite)),
        ("Per-cell measures", _measures(data, cite)),
    ]
    return {"paragraphs": paragraphs, "works": cite.works}


def _cycles(data: ReportData, cite: Citations) -> list[str]:
    """How rows become cycles."""
    s = data.settings.cycling
    return [
        "Raw files were read by their declared layouts and never changed; each data row was used "
        "or set aside with a finding. Charging current counts as positive.",
        f"Currents up to {as_set(s.zero_current_mA)} mA count as rest. Half-cycles follow from the "
        "sign of the current, charge and energy from exact integrals of current and voltage taken "
        f"as linear between rows, never across a gap longer than {as_set(s.longest_gap_s)} s.",
        f"Rates refer to {as_set(s.capacity_basis_mAh)} mAh ({s.capacity_basis_origin}); a cycle "
        f"is an ageing cycle at {as_set(s.ageing_rate)} per hour and a formation or check-up cycle "
        f"at {as_set(s.check_up_rate)} per hour, each within a relative "
        f"{as_set(s.rate_tolerance)}. Partial cycles are never judged.",
        "Coulombic efficiency is the charge given over the charge stored just before. Terms are "
        f"informed by the standard for coin secondary cells {cite('IEC 61960-4')}, which does not "
        "cover research cells with a third electrode.",
        f"DC resistance was read {as_set(s.dc_delay_s)} s after a step of the current, and refused "
        f"where no row lies within {as_set(s.dc_delay_tolerance_s)} s of that; so at every step in "
        "slow and interrupted cycles, with the state of charge by the charge passed. Standard "
        "errors of these are those of two readings, by the noise at rest and the step of readings.",
        "Where the first row carries current already, the first half-cycle counts if it starts at "
        "a voltage limit, in a fresh cell, or where later charges start; a finding says which, or "
        "that its cycle is partial.",
        "A rate test is an unbroken row of complete cycles at three rates or more. A discharge is "
        "compared with that at the lowest rate at the same charge from the top, where charges "
        "before ended alike and recorded temperatures differ by 2 K at most.",
    ]


def _reference(data: ReportData, cite: Citations) -> list[str]:
    """How the reference was judged and what follows."""
    r, t = data.settings.reference, data.settings.trust
    chosen = chosen_anchor(r, data.settings.electrodes)
    anchor = (
        "No known potential was declared: offsets are known from the bench log only, and their "
        "change from features."
        if chosen.kind is AnchorKind.NONE
        else f"The offset is the potential by the anchor '{chosen.kind}' less its expected "
        f"{as_set(chosen.potential_V)} V (a setting; common practice, no source). It is "
        f"{offset_limits(data).words}."
    )
    return [
        anchor,
        f"A reference is judged suspect, and lost beyond the second limit, {_judged_by(t, cite)}. "
        "All these limits are settings: common practice, no source.",
        "The change of the offset is also found from features: the curves of both electrodes in "
        "each slow cycle are registered, in one fit, on those of the first at the same rate; what "
        "moves all of them alike is the reference.",
        "Results of an electrode are withheld by purpose (table fitness). Potentials against "
        "lithium need a known offset, or one interpolated between two known potentials, with its "
        "error. Differences within a cycle, shapes and impedances do not: they need right leads, "
        "no short, little noise, lithium on the wire, and no jump in the cycle. Cell voltage, "
        "capacity and cell life are never withheld.",
    ]


def _judged_by(trust: Trust, cite: Citations) -> str:
    """By which checks a reference is judged, with their limits."""
    values = {name: as_set(value) for name, value in trust.model_dump().items()}
    said = [
        entry.method.format_map(values) + (f" {cite(entry.source)}" if entry.source else "")
        for entry in CHECKS.values()
        if entry.method
    ]
    return "; ".join(said)


def _impedance(data: ReportData, cite: Citations) -> list[str]:
    """How spectra were tested and fitted."""
    s, t = data.settings.impedance, data.settings.trust
    elements = ["a resistance", "up to {} arcs"]
    elements += ["a Warburg element (for the cell: one of free exponent)"] if s.diffusion else []
    elements += ["a lead inductance"] if s.inductance else []
    model = ", ".join(elements).format(
        f"{s.positive_arcs} (positive), {s.negative_arcs} (negative), {s.cell_arcs} (cell)"
    )
    named = [p for p in ("positive", "negative", "cell") if getattr(s, f"{p}_model") is not None]
    written = (
        f" For the {' and the '.join(named)} the settings write out the model." if named else ""
    )
    return [
        f"Frequencies from {as_set(s.lowest_frequency_Hz)} to {as_set(s.highest_frequency_Hz)} Hz "
        "were used. Spectra were held against the linear Kramers-Kronig test "
        f"{cite('Boukamp 1995', 'Schoenleber 2014')}: suspect above "
        f"{as_set(t.kk_suspect_percent)} % and rejected above {as_set(t.kk_rejected_percent)} % "
        "root mean square of the relative residuals; and against additivity, cell = positive + "
        f"negative: {as_set(t.additivity_suspect_percent)} and "
        f"{as_set(t.additivity_rejected_percent)} % (settings; common practice, no source). "
        "Neither test sees a reference that sits in the wrong place: electrode spectra are suspect "
        f"for it where {t.loop_points} neighbouring points between {as_set(t.loop_lowest_Hz)} and "
        f"{as_set(t.loop_highest_Hz)} Hz are inductive by more than "
        f"{as_set(t.loop_share_percent)} % of the modulus, where the real part falls towards low "
        f"frequency by more than {as_set(t.real_fall_percent)} %, where features of both mirror "
        f"each other with a correlation below -{as_set(t.mirror_correlation)}, where the share of "
        f"ohmic resistance is more than {as_set(t.ohmic_share_off)} off what the separators "
        f"explain or changes by more than {as_set(t.ohmic_share_change)}, or where the "
        f"polarisation is {as_set(t.polarisation_factor)} times off a stated one "
        f"{cite('Ender 2012')}. A potential that moves during the sweep "
        f"({as_set(t.sweep_change_suspect_mV)} and {as_set(t.sweep_change_rejected_mV)} mV), a "
        f"frequency that repeats otherwise ({as_set(t.repeat_suspect_percent)} and "
        f"{as_set(t.repeat_rejected_percent)} %) and the amplitude "
        f"({as_set(t.amplitude_suspect_mV)} and {as_set(t.amplitude_rejected_mV)} mV) count where "
        "known. Every check stands with value and limit in the table spectrum_checks.",
        f"The model is a series of {model}, fitted by complex least squares from "
        f"{s.starts} starting points; an element that does not lower the Bayesian information "
        "criterion is left out. The polarisation resistance is the fitted sum of the arcs; "
        "the high-frequency resistance is the real part where the imaginary part is zero."
        f"{written}",
    ]


def _trends(data: ReportData, cite: Citations) -> list[str]:
    """How resistances over life were measured, and what relaxation times show."""
    t = data.settings.trust
    like = (
        "all spectra of a cell count as taken at like state of charge, as the settings say"
        if t.spectra_alike
        else f"spectra whose potential at rest lies within {as_set(t.alike_potential_mV)} mV of "
        "the median of the cell and pair (setting; common practice, no source)"
    )
    return [
        "Every accepted spectrum was then fitted again with the commonest model of its "
        "pair, the exponents held at their medians over the trusted spectra of the campaign; both "
        "passes stand in tables. A slope is the median of those between all pairs of spectra "
        f"{cite('Sen 1968')}, three at least; its error is the larger of that from the scatter "
        "about the line and that from the errors of the fits, its interval uses Student's t with "
        "two degrees fewer than spectra. Polarisation has a slope only at like state of charge: "
        f"{like}. What a separator adds is a regression within batches.",
        "The distribution of relaxation times is never negative and smoothed as strongly as the "
        "noise allows: the largest weight of the squared second difference whose misfit is within "
        "a tenth of the noise, one weight for a pair. The diffusion tail, the ohmic resistance and "
        "the inductance are fitted beside it.",
    ]


def _lives(data: ReportData) -> list[str]:
    """The rule of the end, in full."""
    s = data.settings.lifetime
    c, x = s.capacity, s.sudden
    return [
        f"Hours are counted from the build-sheet column {s.clock_start}, cycles from the first. "
        f"The primary clock is {s.primary_clock}.",
        f"A cell ends by capacity at the first of {c.consecutive} ageing cycles in a row whose "
        f"discharge capacity is below {as_set(c.retention_below)} of that of the "
        f"{c.reference_cycle}; check-ups, rate tests and partial cycles are passed over.",
        f"It ends suddenly by internal short (coulombic efficiency below "
        f"{as_set(x.short_efficiency_below)} in {x.short_consecutive} cycles in a row), open "
        f"circuit (cell voltage beyond its limits by more than "
        f"{as_set(x.open_circuit_margin_V)} V for "
        f"{as_set(x.open_circuit_lasting_s)} s), or cut-off at once (less than "
        f"{as_set(x.cut_off_capacity_below)} of the reference capacity in "
        f"{x.cut_off_consecutive} cycles in a row). Thresholds are settings; common practice, no "
        "source. What the bench log says outranks these rules, and the table shows where it did.",
        f"Cells whose last row lies within {as_set(s.running_within_h)} h of the data cut are "
        "running; these, and cells stopped or removed by a person, are censored, with the reason.",
        f"The life of a reference runs from its plating to a jump beyond the limit or to "
        f"{s.reference_checks_to_lose} checks in a row beyond the limit of the offset. A lost "
        "reference never ends a cell.",
    ]


def _lives_of_table(data: ReportData, table: str) -> list[str]:
    """Where the lives came from, when not from raw files."""
    return [
        f"Lives, their ends and causes were taken from the table {table} as it stands; no raw file "
        "was read, and no rule of this program decided an end. A cell without a row counts as "
        f"censored at 0. The primary clock is {data.settings.lifetime.primary_clock}.",
    ]


def _survival(data: ReportData, cite: Citations) -> list[str]:
    """Curves, tests and effects that the tables hold."""
    c, s = data.settings.comparison, data.settings.survival
    used = {row["measure"] for row in data.rows["comparisons"]}
    within = "within batches" if c.stratify_by == "batch" else "over all cells"
    lines = [
        f"Survival is the product-limit estimate {cite('Kaplan 1958')} with {data.confidence} "
        f"beta product limits {cite('Fay 2013')}, made for few cells, and medians with theirs "
        "(in the tables also limits on the log-log scale, descriptive here); incidence by "
        f"cause lets the causes compete {cite('Aalen 1978')}.",
        f"The primary test is the exact two-sided log-rank test "
        f"{cite('Mantel 1966', 'Peto 1972', 'Callaert 2003')}: labels of groups are permuted "
        f"{within}, all of them while at most {as_set(s.enumeration_limit)} different sums of "
        f"scores arise, otherwise {as_set(s.monte_carlo_draws)} drawn with seed {s.seed}. With "
        "each p stands the "
        "smallest that these numbers of cells could give.",
        "Labels may be permuted with the lives as seen only where groups were followed "
        "alike. Where the times of censoring or entry differ (p at most 0.1; common practice, no "
        "source), the larger of this p and of that of an imputation-permutation test "
        f"{cite('Heinze 2003', 'Wang 2010')} decides. Where a person stopped cells, the test is "
        "repeated with those of one group taken as ended and those of the other as never ending, "
        "both ways, and with those that looked bad taken as ended; a verdict that turns is "
        "inconclusive. Lives known only between checks are "
        f"tested on interval scores {cite('Finkelstein 1986')}, their curve is Turnbull's "
        f"{cite('Turnbull 1976')}.",
        f"Causes are compared by Gray's test {cite('Gray 1988')}, asymptotic and so descriptive.",
        "Contrasts of one endpoint, clock and factor share the error: those of the exact test, and "
        f"of what may turn it, by closed testing {cite('Marcus 1976')}, the largest p of all joint "
        "tests of sets of groups against the control that hold the contrast; other measures, and "
        f"all where there are more than five contrasts, by Holm's method {cite('Holm 1979')}.",
    ]
    if data.rows["looks"]:
        lines.append(_ONE_LOOK if c.looks == "final" else _looks(cite))
    lines += _beside(data, cite)
    if data.rows["pooled"]:
        lines.append(_pooled(c.spread_between_campaigns, cite))
    if any("time ratio" in measure for measure in used):
        lines.append(
            "The time ratio, group over control, comes from a Weibull model of the lives, with "
            "batches as further terms; its profile-likelihood intervals are widened for few cells "
            "as the t distribution widens those of a mean. Equivalence asks that the interval "
            "holds under a lognormal model too."
        )
    if "hazard ratio" in used:
        lines.append(
            f"The hazard ratio {cite('Cox 1972')} treats ties after Efron {cite('Efron 1977')} "
            "and is stratified like the test; its profile-likelihood interval is not widened for "
            "few cells, and so descriptive. It is penalised where a group has fewer than two ends "
            f"or the lives of the groups do not overlap {cite('Firth 1993')}."
        )
    return lines


def _beside(data: ReportData, cite: Citations) -> list[str]:
    """What is told of orders and of the build beside the verdicts."""
    lines = []
    if data.rows["order_trends"]:
        lines.append(
            "Where the settings give the values of a factor an order, places in it are held "
            f"against the log-rank scores {cite('Tarone 1975')}, by the same permutations; this "
            "decides no verdict."
        )
    if data.rows["covariates"]:
        lines.append(
            "Numbers of the build that the settings name are held against the lives by the sum of "
            "rank times log-rank score, both taken within groups and batches and the numbers "
            "permuted there. One test each, not adjusted: they describe, and decide no verdict."
        )
    return lines


def _pooled(spread: float, cite: Citations) -> str:
    """How earlier campaigns join."""
    return (
        "Beside the verdict, each contrast is pooled with earlier campaigns: every batch of theirs "
        "that holds both groups is a block of its own, within which labels are permuted; lives on "
        "another clock or of another endpoint do not join. The pooled test, its p adjusted by "
        "Holm's method, and the time ratio common to all blocks decide nothing; unlike follow-up "
        "and stopped cells count against their verdict as against this campaign's. How far "
        "campaigns "
        f"differ is estimated by restricted likelihood {cite('Viechtbauer 2005')}, with limits "
        f"{cite('Viechtbauer 2007')} that say how little two or three campaigns tell. The mean of "
        "campaigns, and each ratio drawn towards it, are averaged over all spreads between "
        f"campaigns by their likelihood {cite('Roever 2020')}, with a law set beforehand: "
        f"half-normal with scale {as_set(spread)} for the standard deviation of their logarithm "
        f"{cite('Friede 2017')}."
    )


_ONE_LOOK = (
    "A difference may be shown at one look alone, at the planned end (a setting; weekly looks that "
    "share the level are the default), with lives as they were known then: earlier data decide "
    "nothing, and what comes later is described and decides nothing. Whether this was set before "
    "the data were seen is not recorded before the first report."
)
"""How a difference is shown where the settings ask for one look."""


def _looks(cite: Citations) -> str:
    """How the level is shared between weekly looks."""
    return (
        "Looking every week at one test would find differences where none are, so the looks "
        f"share the level: it is spent with the planned time as {cite('Lan 1983')} have it for "
        "the type of O'Brien and Fleming, and at each look the boundary is the smallest "
        "attained statistic such that, of all relabellings, no more have crossed by then than "
        "may. Looks are every week, counted back from the planned end, with lives as they were "
        "known then; the planned end is the last, and what comes later is described and decides "
        "nothing. A difference is shown at the first look by which the test of the contrast "
        "and all joint tests that hold it have crossed, and nothing that was known then stands "
        "against it; what was shown stays shown."
    )


def _verdicts(data: ReportData, cite: Citations) -> list[str]:
    """How a verdict is reached."""
    c = data.settings.comparison
    return [
        "Verdicts, in this order: 'not estimable' where the groups cannot be told from the "
        "batches or there is nothing to compare; 'equivalent' where the interval of the time ratio "
        "at twice the error, divided by the number of contrasts with the control, lies within "
        f"1/{as_set(c.equivalence_margin)} to "
        f"{as_set(c.equivalence_margin)}; "
        f"'different' without planned looks where the adjusted exact p is at most "
        f"{as_set(round(1 - c.confidence, 12))}, with them only where a look has shown it; "
        "else 'inconclusive'. A large p is never taken for "
        "sameness "
        f"{cite('Altman 1995')}. Margin and confidence are settings, meant to be set before the "
        "data are seen; what was decided otherwise after a verdict or the end of a cell had been "
        "reported is marked by the register of reports issued.",
    ]


def _measures(data: ReportData, cite: Citations) -> list[str]:
    """How per-cell numbers were compared."""
    return [
        "Per-cell measures were compared by the exact test of ranks within batches "
        f"{cite('Elteren 1960')}; the difference is that of Hodges and Lehmann "
        f"{cite('Hodges 1963')}, its interval comes from inverting the same test and is given "
        f"only where {data.confidence} can be reached.",
    ]


SECTION = Section("methods", "Methods", methods, place=150)
