"""What drawn cells of the stage cycling share: electrodes, facts, log, series and ledger."""

from trivet.schema.cell_facts import CellFacts, LogEntry
from trivet.schema.settings.science import Electrodes
from trivet.schema.tables.dictionary import TABLES
from trivet.store.tables import make_table

START_s = 1.7e9
ELECTRODES = Electrodes.model_validate(
    {"positive": {"material": "LFP"}, "negative": {"material": "graphite"}}
)
LOG = (LogEntry("c1", START_s + 1800.0, "plated", charge_mAh=0.05),)
FACTS = CellFacts("c1", "b1", clock_start_s=START_s, log=LOG)


def series_table(columns):
    """The table `series` from its numbers."""
    count = len(columns["time_s"])
    return make_table(
        TABLES["series"],
        {
            "cell": ["c1"] * count,
            **columns,
            "elapsed_s": [None] * count,
            "temperature_degC": [None] * count,
            "raw_cycle": [None] * count,
            "file": ["c1.csv"] * count,
            "line": list(range(2, count + 2)),
        },
    )


def ledger_table(derived="", absolute="yes"):
    """A ledger of one file."""
    row = {name: "" for name in TABLES["ledger"].names}
    row |= {"cell": "c1", "file": "c1.csv", "content": "cycling", "absolute_time": absolute}
    row |= {"derived": derived, "first_time_s": START_s, "last_time_s": START_s}
    row |= {name: 0 for name in ("bytes", "rows_seen", "rows_used", "rows_set_aside")}
    return make_table(TABLES["ledger"], {name: [value] for name, value in row.items()})
