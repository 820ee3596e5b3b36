"""Words for what a spectrum was measured across: known where they can mean one thing, else asked.

Which words are used for the two electrodes is common practice, no source; that a working and a
counter electrode alone do not say which is the positive follows from their definition.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import yaml
from raw_files import columns, lines, read

from trivet.cli.main import main
from trivet.rawfiles.layout.pair_words import meant_pair
from trivet.rawfiles.layout.patterns import match_files
from trivet.rawfiles.layout.rules import broken_layout
from trivet.schema.settings.raw import Layout, PairWords, Raw, RawFiles

SPLIT = columns(what="pair:", f="frequency:Hz", x="real:ohm", y="imaginary:ohm")
HABIT = PairWords(positive=["WE-RE"], negative=["CE vs RE"])


def table(*words: str) -> str:
    """A sweep of five points for each word."""
    return lines(
        "what,f,x,y",
        *(
            f"{word},{10.0 ** (3 - n)},{10 + place},{-1 - n}"
            for place, word in enumerate(words)
            for n in range(5)
        ),
    )


@pytest.mark.parametrize(
    ("word", "pair"),
    [
        ("full", "cell"),
        ("Full cell", "cell"),
        ("Vollzelle", "cell"),
        ("WE-CE", "cell"),
        ("WE vs CE", "cell"),
        ("pos-neg", "cell"),
        ("Kathode", "positive"),
        ("cathode vs ref", "positive"),
        ("Positive electrode", "positive"),
        ("Anode", "negative"),
        ("NEG", "negative"),
        ("WE", ""),
        ("WE-RE", ""),
        ("CE-RE", ""),
        ("ocv", ""),
        ("", ""),
    ],
)
def test_words_that_can_mean_one_thing_are_known(word: str, pair: str) -> None:
    """Any case, accents and signs between; what depends on the laboratory is not known."""
    assert meant_pair(word) == pair


def test_a_column_in_common_words_is_read(tmp_path: Path) -> None:
    """Every spectrum comes with its pair, nothing set aside."""
    layout = Layout(columns=SPLIT)
    got = read(tmp_path, {"A.csv": table("Vollzelle", "Kathode", "Anode")}, layout, impedance=True)
    found = dict(zip(got.points["real_ohm"], got.points["pair"], strict=True))
    assert found == {10.0: "cell", 11.0: "positive", 12.0: "negative"}


def test_words_of_the_laboratory_are_read(tmp_path: Path) -> None:
    """`pair_words` of the layout, whatever the case and the sign between."""
    layout = Layout(columns=SPLIT, pair_words=HABIT)
    got = read(tmp_path, {"A.csv": table("WE-CE", "we_re", "CE-RE")}, layout, impedance=True)
    found = dict(zip(got.points["real_ohm"], got.points["pair"], strict=True))
    assert found == {10.0: "cell", 11.0: "positive", 12.0: "negative"}


def test_a_word_nobody_knows_is_a_fault_that_says_where_to_list_it(tmp_path: Path) -> None:
    """Rows of an unknown word are set aside, never in silence."""
    layout = Layout(columns=SPLIT)
    got = read(tmp_path, {"A.csv": table("cell", "WE-RE")}, layout, impedance=True)
    assert set(got.points["pair"]) == {"cell"}
    found = got.findings["unknown pair"]
    assert (found["severity"], found["value"]) == ("fault", 5.0)
    assert "'WE-RE'" in str(found["message"])
    assert "'pair_words' of layout 'bench'" in str(found["message"])


def test_names_of_files_take_the_same_words() -> None:
    """`{pair}` stands for common words and for those of the layout."""
    raw = Raw(
        impedance=[RawFiles(files="{cell}_{pair}_{cycle}.csv", layout="lab")],
        layouts={"lab": Layout(columns=SPLIT, pair_words=HABIT)},
    )
    names = ["A_full_1.csv", "A_Kathode_1.csv", "A_CE-RE_1.csv", "A_we_re_2.csv", "A_ocv_1.csv"]
    found = match_files(map(Path, names), campaign_folder=Path(), raw=raw, cell="A")
    assert {file.relative: file.pair for file in found} == {
        "A_full_1.csv": "cell",
        "A_Kathode_1.csv": "positive",
        "A_CE-RE_1.csv": "negative",
        "A_we_re_2.csv": "positive",
    }


def test_a_word_for_two_pairs_is_refused() -> None:
    """The same word can't be both electrodes, however it is written."""
    layout = Layout(columns=SPLIT, pair_words=PairWords(positive=["WE RE"], negative=["we-re"]))
    assert any("which is right?" in text for _, text in broken_layout(("raw",), layout))


def test_layout_asks_for_words_that_depend_on_the_laboratory(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The cell is known, both electrodes are asked for, and no pair is made up for the file."""
    path = tmp_path / "A.csv"
    path.write_text(table("WE-CE", "WE-RE", "CE-RE").replace("f,x,y", "f/Hz,Re/ohm,Im/ohm"))
    assert main(["layout", str(path)]) == 2
    printed = capsys.readouterr()
    block = yaml.safe_load(printed.out)["raw"]
    (layout,) = block["layouts"].values()
    assert layout["pair_words"] == {"positive": ["decide"], "negative": ["decide"]}
    assert "pair" not in block["impedance"][0]
    assert "'WE-RE', 'CE-RE', which may be the positive or the negative" in printed.err


def test_layout_takes_no_pair_for_a_file_that_does_not_say_it(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Without a column or a word in the name the pair is to be decided; a word is taken."""
    text = (
        table("cell", "cell").replace("what,f,x,y", "no,f/Hz,Re/ohm,Im/ohm").replace("cell,", "1,")
    )
    pairs = []
    for name in ("A.csv", "A_anode.csv"):
        (tmp_path / name).write_text(text)
        main(["layout", str(tmp_path / name)])
        pairs.append(yaml.safe_load(capsys.readouterr().out)["raw"]["impedance"][0]["pair"])
    assert pairs == ["decide", "negative"]


def test_points_keep_their_numbers(tmp_path: Path) -> None:
    """Words change no number: the same file with canonical words gives the same points."""
    layout = Layout(columns=SPLIT)
    (tmp_path / "own").mkdir()
    own = read(tmp_path / "own", {"A.csv": table("full", "pos", "neg")}, layout, impedance=True)
    (tmp_path / "plain").mkdir()
    plain = read(
        tmp_path / "plain", {"A.csv": table("cell", "positive", "negative")}, layout, impedance=True
    )
    for name in ("frequency_Hz", "real_ohm", "imaginary_ohm", "pair"):
        np.testing.assert_array_equal(own.points[name], plain.points[name])
