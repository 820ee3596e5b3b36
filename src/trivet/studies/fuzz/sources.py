"""Files to be damaged: one of each kind of the demonstration, and of layouts that it lacks."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from trivet.rawfiles.layout.patterns import match_files
from trivet.schema.settings.raw import Layout, LayoutColumn, Raw, RawFiles

_KEPT_BYTES = 6_000
_ROWS = 120


@dataclass(frozen=True)
class Source:
    """A file: its cell, its path below the campaign, its first bytes."""

    cell: str
    relative: str
    content: bytes


def _column(header: str, quantity: str, unit: str = "", format: str = "") -> LayoutColumn:
    """One column of a layout."""
    return LayoutColumn.model_validate(
        {"header": header, "quantity": quantity, "unit": unit, "format": format}
    )


_TWO_LINES = Layout(
    header_rows=2,
    columns=[
        _column("Run t/s", "elapsed time", "s"),
        _column("Cell I/mA", "current", "mA"),
        _column("Cell U/V", "cell voltage", "V"),
        _column("Count", "cycle"),
    ],
)
_TWO_CURRENTS = Layout(
    delimiter=";",
    decimal=",",
    columns=[
        _column("Zeit", "elapsed time", "h:m:s"),
        _column("Ladestrom", "charge current", "mA"),
        _column("Entladestrom", "discharge current", "mA"),
        _column("Spannung", "cell voltage", "V"),
    ],
)
_COARSE_DATES = Layout(
    delimiter="\t",
    encoding="utf-16",
    start_line="Started:",
    start_format="%m/%d/%Y %I:%M %p",
    columns=[
        _column("Stamp", "absolute time", "", "%m/%d/%Y %I:%M %p"),
        _column("I", "current", "A"),
        _column("U", "cell voltage", "mV"),
        _column("State", "state"),
    ],
)
_WORDS_OF_PAIRS = Layout.model_validate({
    "pair_words": {"cell": ["full"], "positive": ["top"], "negative": ["bottom"]},
    "columns": [
        {"header": "f", "quantity": "frequency", "unit": "kHz"},
        {"header": "|Z|", "quantity": "modulus", "unit": "ohm"},
        {"header": "phi", "quantity": "phase", "unit": "deg"},
        {"header": "across", "quantity": "pair"},
    ],
})  # fmt: skip


def _two_lines() -> bytes:
    """Names on two lines, times in minutes of an hour's cycle."""
    rows = "".join(f"{60 * n},1.5,{3 + n / 200:.3f},{n // 30}\n" for n in range(_ROWS))
    return f"Run,Cell,Cell,Count\nt/s,I/mA,U/V,\n{rows}".encode()


def _two_currents() -> bytes:
    """Charge and discharge in columns of their own, hours beyond a day, decimal commas."""
    rows = []
    for n in range(_ROWS):
        charging = n // 30 % 2 == 0
        current = ("1,5", "0,0") if charging else ("0,0", "1,5")
        share = n % 30 if charging else 30 - n % 30
        voltage = f"{3 + share / 60:.3f}".replace(".", ",")
        rows.append(f"{23 + n // 60}:{n % 60:02d}:00;{current[0]};{current[1]};{voltage}\n")
    return f"Zeit;Ladestrom;Entladestrom;Spannung\n{''.join(rows)}".encode()


def _coarse_dates() -> bytes:
    """Dates of minutes in UTF-16, several rows in each, currents as magnitudes with a state."""
    rows = "".join(
        f"03/02/2026 {1 + n // 60 % 12:02d}:{n // 3 % 60:02d} PM\t0.0015\t{3000 + 5 * n}\t"
        f"{('charge', 'rest')[n // 40 % 2]}\n"
        for n in range(_ROWS)
    )
    return f"Started: 03/02/2026 01:00 PM\nStamp\tI\tU\tState\n{rows}".encode("utf-16")


def _words_of_pairs() -> bytes:
    """Spectra of three pairs below each other, named by a laboratory's own words."""
    rows = "".join(
        f"{100 / 1.6**n:.5g},{10 + n:.3f},{-(n % 20):.2f},{word}\n"
        for word in ("full", "top", "bottom")
        for n in range(_ROWS // 3)
    )
    return f"f,|Z|,phi,across\n{rows}".encode()


_FURTHER: Mapping[str, tuple[str, Layout, bytes]] = {
    "two-lines": ("cycling", _TWO_LINES, _two_lines()),
    "two-currents": ("cycling", _TWO_CURRENTS, _two_currents()),
    "coarse-dates": ("cycling", _COARSE_DATES, _coarse_dates()),
    "words-of-pairs": ("impedance", _WORDS_OF_PAIRS, _words_of_pairs()),
}


def demonstration_sources(campaign: Path, raw: Raw) -> list[Source]:
    """One file of each kind of the demonstration.

    Parameters
    ----------
    campaign : Path
        The demonstration, made.
    raw : Raw
        Its settings.
    """
    out = []
    for folder in sorted((campaign / "raw").iterdir()):
        path = sorted(folder.iterdir())[0]
        cell = path.name.split(".")[0].split("_")[0]
        relative = path.relative_to(campaign).as_posix()
        assert match_files([path], campaign_folder=campaign, raw=raw, cell=cell)
        out.append(Source(cell, relative, path.read_bytes()[:_KEPT_BYTES]))
    return out


def further_sources(raw: Raw) -> tuple[list[Source], Raw]:
    """Files of layouts that the demonstration lacks, and settings that read them too.

    Parameters
    ----------
    raw : Raw
        Settings of the demonstration.
    """
    made, patterns = [], {"cycling": [*raw.cycling], "impedance": [*raw.impedance]}
    for name, (content, _, text) in _FURTHER.items():
        made.append(Source(name, f"raw/{name}/{name}.csv", text))
        patterns[content].append(RawFiles(files=f"raw/{name}/{{cell}}.csv", layout=name))
    layouts = raw.layouts | {name: layout for name, (_, layout, _) in _FURTHER.items()}
    return made, raw.model_copy(update={**patterns, "layouts": layouts})
