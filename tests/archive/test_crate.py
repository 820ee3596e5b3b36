"""The description of a bag as a research object crate, against an outside validator."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest
from crate_validator import issues, unknown_terms

from trivet.archive.bag import write_bag
from trivet.archive.crate import METADATA_FILE, WORKFLOW_FILE, CrateFacts, crate_metadata
from trivet.archive.crate_check import check_crate

FACTS = CrateFacts(
    title="A campaign",
    question="Does it last?",
    organisation="",
    licence="",
    people=(),
    date="2026-05-15",
    invented=False,
    versions={"trivet": "0", "snakemake": "9", "python": "3"},
    descriptions={"report.pdf": "the report"},
    inputs={"settings": "config/campaign.yaml", "raw-files": "raw/"},
)
PAYLOAD = {
    "report.pdf": b"pdf",
    "tables/cycles.csv": b"a\n1\n",
    "figures/capacity.svg": b"<svg/>",
    "config/campaign.yaml": b"campaign:",
    "raw/a b/ü #1 100%.csv": b"1",
    "raw/=1+1.txt": b"1",
    WORKFLOW_FILE: b"rule all:",
}


def bag_of(folder: Path, facts: CrateFacts) -> Path:
    """A bag with a crate, odd file names among its files."""
    crate = crate_metadata(PAYLOAD, facts)
    write_bag(folder, {**PAYLOAD, METADATA_FILE: crate}, {})
    return folder


@pytest.mark.parametrize(
    "facts",
    [
        FACTS,
        replace(
            FACTS,
            people=("A. Example", "B. Example"),
            organisation="Example Laboratory",
            licence="our own, see 'terms'",
            invented=True,
        ),
    ],
    ids=["nothing stated", "all stated"],
)
def test_a_crate_is_valid_by_an_outside_validator(tmp_path: Path, facts: CrateFacts) -> None:
    """No MUST of Workflow Run Crate 0.5 and its parents is broken, however files are called."""
    bag = bag_of(tmp_path / "bag", facts)
    assert unknown_terms(bag) == set()
    assert issues(bag, tmp_path / "cache") == []


def test_the_validator_sees_a_broken_crate(tmp_path: Path) -> None:
    """Without a run of the workflow the outside validator objects, and so do we."""
    bag = bag_of(tmp_path / "bag", FACTS)
    path = bag / "data" / METADATA_FILE
    crate = json.loads(path.read_bytes())
    crate["@graph"] = [entity for entity in crate["@graph"] if entity["@id"] != "#run"]
    path.write_text(json.dumps(crate), encoding="utf-8")
    assert any("instrument" in one for one in issues(bag, tmp_path / "cache"))
    assert any(one.what == "action" for one in check_crate(bag / "data"))


def test_every_file_is_described_and_nothing_else(tmp_path: Path) -> None:
    """RO-Crate 1.1, 'Data Entities': each file by its encoded path, folders with their parts."""
    bag = bag_of(tmp_path / "bag", FACTS)
    graph = json.loads((bag / "data" / METADATA_FILE).read_bytes())["@graph"]
    entities = {entity["@id"]: entity for entity in graph}
    assert "raw/a%20b/%C3%BC%20%231%20100%25.csv" in entities
    assert len(entities) == len(graph)
    referred = {link["@id"] for entity in graph for value in entity.values()
                for link in (value if isinstance(value, list) else [value])
                if isinstance(link, dict)}  # fmt: skip
    ours = {name for name in referred if not name.startswith("http")}
    assert ours <= set(entities)
    assert "datePublished" in entities["./"]
    (bag / "data" / "raw" / "=1+1.txt").unlink()
    (bag / "data" / "new.txt").write_text("", encoding="utf-8")
    found = {(one.file, one.found) for one in check_crate(bag / "data") if one.expected != "one"}
    assert ("data/raw/=1+1.txt", "none") in found
    undescribed = [one.file for one in check_crate(bag / "data")
                   if one.what == "description in the crate"]  # fmt: skip
    assert undescribed == ["data/new.txt"]


def test_no_date_is_invented() -> None:
    """Where nothing has a date, none is stated; the clock is not asked."""
    root = json.loads(crate_metadata(PAYLOAD, replace(FACTS, date=None)))["@graph"][1]
    assert root["@id"] == "./"
    assert "datePublished" not in root
