"""What a paper on battery cells must report, and how much of it a campaign has recorded.

The items are a union of published checklists for battery papers; the wording is our own.
"""

from __future__ import annotations

from typing import Any

from trivet.campaign.checklist.build import build_items
from trivet.campaign.checklist.points import answers, first_by_cell, known, sheet, spread
from trivet.campaign.checklist.protocol import protocol_items
from trivet.campaign.checklist.record import Item, Recorded

SAFETY = "the cautions of the report"


def checklist(recorded: Recorded) -> list[dict[str, Any]]:
    """Fill the reporting checklist.

    Parameters
    ----------
    recorded : Recorded
        What the campaign has recorded.

    Returns
    -------
    list of dict
        Rows of the table `checklist`.
    """
    made = [*build_items(recorded), *protocol_items(recorded), *_results(recorded)]
    return [
        {
            "item": number,
            "topic": topic,
            "source": source,
            "answer": answers(points),
            "points": len(points),
            "known": sum(point.complete for point in points),
            "write_down": ", ".join(
                dict.fromkeys(point.write_down for point in points if point.write_down)
            ),
        }
        for number, (topic, source, points) in enumerate(made, 1)
    ]


def _results(r: Recorded) -> list[Item]:
    """Items of results and of the record."""
    built, lives = r.tables["cells"], r.tables["lifetimes"]
    own = [row for row in lives if row["endpoint"] == "cell" and row["clock"] == "hours"]
    ended, rule = sum(row["observed"] for row in own), r.lifetime.capacity
    out = [row for row in built if not row["included"]]
    with_rows = {row["cell"] for row in r.tables["cycles"]}
    used = len(with_rows & {row["cell"] for row in r.cells})
    ageing = r.cycles_of("ageing")
    return [
        ("Capacities and efficiencies", "computed", [
            known("first ageing discharge capacity",
                  spread(r.measure("first ageing discharge capacity"), "mAh"), "raw cycling files"),
            known("coulombic efficiency, first cycle",
                  spread(first_by_cell(r.tables["cycles"], "coulombic_efficiency")),
                  "raw cycling files"),
            known("the same, mean of ageing cycles",
                  spread(r.measure("mean coulombic efficiency"), digits=5), "raw cycling files"),
            known("energy efficiency, first ageing cycle",
                  spread(first_by_cell(ageing, "energy_efficiency")), "raw cycling files"),
        ]),
        ("Retention and end of life", "computed", [
            known("rule", f"retention below {rule.retention_below:g} of the "
                  f"{rule.reference_cycle} in {rule.consecutive} ageing cycles in a row, "
                  "or a sudden end"),
            known("ended and censored", f"{ended} and {len(own) - ended}" if own else None,
                  "raw cycling files"),
        ]),
        ("Number of cells", "build sheet, raw data", [
            known("built, started, used",
                  f"{len(built)}, {len(with_rows)}, {used}"),
            known("excluded, with reasons",
                  "; ".join(f"{row['cell']} ({row['exclusion_reason']})" for row in out) or "none"),
        ]),
        ("Spread", "computed", [
            known("named", "standard deviation with n − 1, in the table measures; every cell is "
                  "drawn"),
        ]),
        ("Software and checksums", "computed", [
            known("program", f"trivet {r.version}, settings with their digest in the report"),
            known("raw files with SHA-256", str(len(r.tables["ledger"])) if r.tables["ledger"]
                  else None, "raw files"),
        ]),
        ("Availability", "person", [
            known("licence", r.licence, "campaign.licence in the settings"),
            sheet(r.cells, "where data and code can be had", "data_address"),
        ]),
        ("Safety", "computed", [known("note", SAFETY)]),
    ]  # fmt: skip
