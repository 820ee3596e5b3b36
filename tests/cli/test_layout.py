"""`trivet layout`: proposals read their files right without edits, and doubts are asked."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest
import yaml

from trivet.cli.main import main
from trivet.demo.make import main as make_demo
from trivet.rawfiles.layout.patterns import RawFile
from trivet.schema.cell_facts import CellFacts
from trivet.schema.settings.raw import Raw
from trivet.stages.read import ReadTables, run
from trivet.store.tables import arrays

ROOT = Path(__file__).resolve().parents[2]
OPEN_DATA = ROOT / ".." / "shared" / "real-data"
KINDS = (
    *("cycling-semicolon", "cycling-unit-row", "cycling-discharge-positive", "cycling-bdf"),
    *("impedance-semicolon", "impedance-unit-row", "impedance-polar", "impedance-bdf"),
)


@pytest.fixture(scope="module")
def demo_raw(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Raw files of the demonstration, a cell of each layout."""
    folder = tmp_path_factory.mktemp("demo")
    make_demo([str(folder), "--cells", "c01", "c02", "c03", "c04"])
    return folder / "raw"


def proposed(text: str) -> Raw:
    """The block `raw` of what was printed, as it stands."""
    block = yaml.safe_load(text)["raw"]
    return Raw.model_validate(block)


def read(path: Path, raw: Raw, content: str, *, cell: str = "A", zone: str = "UTC") -> ReadTables:
    """Read a file with the only pattern of these settings."""
    entry = getattr(raw, content)[0]
    file = RawFile(path, path.name, content, entry.layout, pair=entry.pair, folder=path.parent)
    return run(facts=CellFacts(cell, "1"), files=[file], raw=raw, time_zone=zone)


@pytest.mark.parametrize("kind", KINDS)
def test_the_demo_reads_by_its_proposals(
    demo_raw: Path, kind: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """Each kind of file gives the same table by the proposal as by the layout written by hand."""
    path = sorted((demo_raw / kind).iterdir())[0]
    content = kind.split("-", maxsplit=1)[0]
    assert main(["layout", str(path)]) == 0
    raw = proposed(capsys.readouterr().out)
    declared = yaml.safe_load((ROOT / "config" / "demo" / "campaign.yaml").read_text("utf-8"))[
        "raw"
    ]
    layout = next(entry["layout"] for entry in declared[content] if f"/{kind}/" in entry["files"])
    pair = raw.impedance[0].pair if raw.impedance else ""
    by_hand = Raw.model_validate(
        {content: [{"files": "{cell}.csv", "layout": layout, "pair": pair}],
         "layouts": declared["layouts"]}
    )  # fmt: skip
    table = "series" if content == "cycling" else "spectrum_points"
    got, wanted = (arrays(getattr(read(path, one, content), table)) for one in (raw, by_hand))
    assert len(wanted["time_s"]) > 20
    for column, values in wanted.items():
        if values.dtype.kind == "f":
            np.testing.assert_array_equal(got[column], values, err_msg=column)
        else:
            assert got[column].tolist() == values.tolist()


def test_open_data_read_by_their_proposals(capsys: pytest.CaptureFixture[str]) -> None:
    """The pouch cell's rate test and the wide impedance table read right by what is proposed.

    Rate test: S. Clark, open course on structured battery data, 2025, CC BY 4.0, 13,084 rows. Wide
    table: Zhang et al., Nat. Commun. 11 (2020) 1706; 60 frequencies, the imaginary part negated.
    """
    pouch, wide = OPEN_DATA / "pouch-rate-test.csv", OPEN_DATA / "coin-cell-impedance-wide.csv"
    if not pouch.is_file():
        pytest.skip("the folder of open data is not beside the project")
    exact = OPEN_DATA / "coin-cell-impedance-frequencies.csv"
    assert main(["layout", str(pouch)]) == 0
    tables = read(pouch, proposed(capsys.readouterr().out), "cycling")
    assert arrays(tables.ledger)["rows_used"].tolist() == [13084]
    assert main(["layout", str(wide), str(exact)]) == 0
    points = arrays(
        read(wide, proposed(capsys.readouterr().out), "impedance", cell="1").spectrum_points
    )
    assert points["frequency_Hz"][0] == 20004.453
    assert len(points["frequency_Hz"]) % 60 == 0
    assert np.mean(points["imaginary_ohm"][points["frequency_Hz"] < 1000] < 0) > 0.9


CHARGE = [f"{60 * n},1,{3 + n / 100:.4f}" for n in range(30)]


@pytest.mark.parametrize(
    ("rows", "question"),
    [
        (["Time/s;Current/mA;Voltage/V", "0;1;3", "60;1,234;3"], r"is '1,234' 1\.234 or 1234\?"),
        (
            ["Date,I/mA,U/V", *(f"0{n}/04/2025 10:00:00,1,3.{n:04d}" for n in range(1, 10))],
            r"is '01/04/2025 10:00:00' 1 April 2025 or 4 January 2025\?",
        ),
        (["Time/s,Current/mA,Voltage/V", "0,0,3.41", "60,0,3.42"], "sign of the current"),
        (["Time/s,Current/furlong,Voltage/V", *CHARGE], "'furlong', which is not known"),
        (["Time/s,Current,Voltage/V", *CHARGE], "names no unit"),
        (["f/Hz,Re/ohm,Im/ohm", "5000,10,-1", "4000,10,1"], "is a capacitor positive or negative"),
        (["Time/s,Voltage/V", "0,3.41", "60,3.42"], "current: which column is it"),
        (["1,2,3.5", "2,3,4.5"], "no header"),
        (["Time/s", "1", "2"], "no delimiter"),
    ],
)
def test_doubts_are_asked_with_status_2(
    tmp_path: Path, rows: list[str], question: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """What the data do not prove is a question, never a guess, and the exit status says so."""
    path = tmp_path / "A.csv"
    path.write_text("\n".join(rows) + "\n", encoding="utf-8")
    assert main(["layout", str(path)]) == 2
    assert re.search(question, capsys.readouterr().err)


@pytest.mark.parametrize(
    "header",
    [
        "Zeit [s];Strom (mA);Spannung / V",
        "Temps/s;Courant/mA;Tension/V",
        "tiempo (s);corriente [mA];voltaje_V",
        "Tempo_s;Corrente_mA;Tensão [V]",
        "elapsed time (s);I/mA;U/V",
        "t/s;I/mA;Ecell/V",
    ],
)
def test_trade_words_of_five_languages(
    tmp_path: Path, header: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """English, German, French, Spanish and Portuguese words, units in (), [], behind / and _."""
    path = tmp_path / "A.csv"
    path.write_text("\n".join([header, *CHARGE]).replace(",", ";") + "\n", encoding="utf-8")
    assert main(["layout", str(path)]) == 0
    raw = proposed(capsys.readouterr().out)
    assert arrays(read(path, raw, "cycling").series)["current_mA"].tolist() == [1.0] * 30


def test_discharge_positive_is_found(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Where the voltage falls under a positive current, the sign is declared negative."""
    path = tmp_path / "A.csv"
    falling = [f"{60 * n},1,{3.6 - n / 100:.4f}" for n in range(30)]
    path.write_text("\n".join(["t/s,I/mA,U/V", *falling]) + "\n", encoding="utf-8")
    assert main(["layout", str(path)]) == 0
    assert 'charging_current: "negative"  # the voltage rises' in capsys.readouterr().out
