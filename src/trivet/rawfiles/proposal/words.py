"""Words that headers are made of, in five languages, and the quantity that each means.

Trade words only; common practice, no source. No instrument's private labels.
"""

from __future__ import annotations

import re
import unicodedata

from trivet.rawfiles.layout.rules import header_unit
from trivet.rawfiles.layout.units import known_unit

_POSITIVE = {"pos", "positive", "positiv", "plus", "positif", "positivo", "positiva", "cathode"} | {
    "kathode",
    "catodo",
}
_NEGATIVE = {"neg", "negative", "negativ", "minus", "negatif", "negativo", "negativa", "anode"} | {
    "anodo",
}
_REFERENCE = {"ref", "reference", "referenz", "vs", "gegen", "contre", "contra", "re"}
_CHARGE = {"charge", "charging", "lade", "laden", "ladung", "carga", "chg", "cha"}
_DISCHARGE = {"discharge", "discharging", "entlade", "entladen", "entladung", "decharge"} | {
    "descarga",
    "dis",
    "disch",
    "dchg",
    "dch",
}
_CHARGE_CURRENT = {"ladestrom", "ichg", "icha", "icharge", "ilade"}
_DISCHARGE_CURRENT = {"entladestrom", "idis", "idch", "idchg", "idisch", "idischarge", "ientlade"}
_CURRENT = {"current", "strom", "courant", "corriente", "corrente", "i", "amps", "amperes"}
_CAPACITY = {"capacity", "kapazitat", "ladekapazitat", "entladekapazitat", "capacite"} | {
    "capacidad",
    "capacidade",
    "q",
}
_POTENTIAL = {"potential", "potentiel", "potencial", "e", "u", "v", "voltage", "spannung"} | {
    "volts",
    "tension",
    "tensao",
    "voltaje",
}
_VOLTAGE = _POTENTIAL | {"zellspannung", "voltagem", "ucell", "vcell", "ecell"}
_SIMPLE: tuple[tuple[str, frozenset[str]], ...] = (
    ("frequency", frozenset({"frequency", "freq", "frequenz", "frequence", "frecuencia", "f"})),
    ("frequency", frozenset({"frequencia"})),
    (
        "imaginary",
        frozenset({"imaginary", "imag", "im", "imaginarteil", "imaginar", "imaginaire"})
        | {"imaginaria", "imaginario", "zim", "zimag"},
    ),
    ("modulus", frozenset({"modulus", "modul", "module", "modulo", "magnitude", "betrag"})),
    ("phase", frozenset({"phase", "phasenwinkel", "fase", "phi", "theta", "angle"})),
    ("real", frozenset({"real", "realteil", "reell", "reel", "reelle", "zre", "zreal"})),
    ("temperature", frozenset({"temperature", "temperatur", "temp", "temperatura"})),
    ("pair", frozenset({"pair", "paar", "paire", "par"})),
    ("cycle", frozenset({"cycle", "cyc", "zyklus", "zyklen", "ciclo", "counter", "cycles"})),
    ("step", frozenset({"step", "schritt", "etape", "paso", "passo", "etapa"})),
    ("state", frozenset({"state", "status", "zustand", "etat", "estado", "mode"})),
    ("current", frozenset(_CURRENT)),
)
_TIME = {"time", "zeit", "laufzeit", "elapsed", "temps", "tiempo", "tempo", "t", "testzeit"} | {
    "prufzeit",
    "versuchszeit",
    "duration",
    "dauer",
    "duree",
}
_DATE = {"date", "datum", "zeitpunkt", "timestamp", "datetime", "fecha", "data", "zeitstempel"} | {
    "uhrzeit",
    "horodatage",
    "clock",
}
_COUNTER = {"point", "points", "punkt", "index", "record", "number", "nummer", "no", "nr", "row"}
"""Words of a column that counts its rows, which is no time even beside a word for data or date."""
_AUXILIARY = {"aux", "auxiliary", "auxiliar", "auxiliaire", "hilf", "hilfs", "hilfsspannung"}
"""Inputs beside the cell's own, of which the header alone does not say what they measure."""
_CELL = {"cell", "zelle", "cellule", "celda", "celula", "series", "sample", "probe"}


_TERMINALS = {"+": "plus", "-": "minus"}
_LETTERS = "euv"
"""Letters of a potential, which people write before the electrode: `Vpos`, `Eneg`."""
_SIGNED = (
    re.compile(r"(?<![^\s])([+-])(?=\s*(?:to|vs|gegen|ref)\b)"),
    re.compile(r"(?<![a-z0-9])[euv]\s?([+-])(?=\s*(?:$|[\[(/]))"),
)
"""A sign that names the terminal: `Volts + to Ref`, `E-`."""
_UNIT_WORDS = {"amps": "A", "amperes": "A", "milliamps": "mA", "volts": "V", "millivolts": "mV"}


def unit_word(header: str) -> str:
    """Unit that a word of a header is, as in `Volts`; empty without one."""
    return next((_UNIT_WORDS[word] for word in words_of(header) if word in _UNIT_WORDS), "")


def words_of(header: str) -> list[str]:
    """Words of a header without its unit: small letters, no accents, no signs between them."""
    text = header.strip()
    unit = header_unit(text)
    if unit and known_unit(unit) is not None:
        text = text[: text.rindex(unit)]
    text = re.sub(r"(?<=[a-z])(?=[A-Z])", " ", text)
    for sign in _SIGNED:
        text = sign.sub(lambda found: f" {_TERMINALS[found.group(1)]} e ", text.casefold())
    plain = unicodedata.normalize("NFKD", text.casefold())
    plain = "".join(sign for sign in plain if not unicodedata.combining(sign))
    plain = plain.replace("|z|", " modulus ").replace("z''", " imag ").replace("z'", " real ")
    return re.findall(r"[a-z]+", plain)


def quantity_of(header: str) -> str:
    """Quantity that a header means; empty where its words are not known.

    Dates and elapsed times are told apart by their content, so both give `time`.
    """
    words = words_of(header)
    known = set(words)
    if known & {"unix", "epoch"}:
        return "unix time"
    unit = known_unit(header_unit(header))
    volts = unit is not None and unit.kind == "voltage"
    if unit is not None and unit.kind == "temperature":
        return "temperature"
    found = (
        _half_current(known)
        or _capacity(known)
        or _of_impedance(known)
        or _of_voltage(known, volts=volts)
    )
    if found:
        return found
    for quantity, its_words in _SIMPLE:
        if known & its_words:
            return quantity
    if known & (_TIME | _DATE) and not known & _COUNTER:
        return "time"
    return "cell" if known & _CELL else ""


def _half_current(known: set[str]) -> str:
    """Current of charge, or of discharge; empty for a header that speaks of both or of neither."""
    charge = bool(known & _CHARGE_CURRENT or (known & _CURRENT and known & _CHARGE))
    discharge = bool(known & _DISCHARGE_CURRENT or (known & _CURRENT and known & _DISCHARGE))
    if charge == discharge:
        return ""
    return "charge current" if charge else "discharge current"


def _capacity(known: set[str]) -> str:
    """Counters of charge, and a capacity."""
    if known & {"ladekapazitat"} or (known & _CHARGE and known & _CAPACITY):
        return "charge counter"
    if known & {"entladekapazitat"} or (known & _DISCHARGE and known & _CAPACITY):
        return "discharge counter"
    return "capacity" if known & _CAPACITY else ""


def _of_impedance(known: set[str]) -> str:
    """Parts of impedance, whose words may stand beside a word for negative."""
    if "re" in known <= {"re", "z"}:
        return "real"
    for quantity, its_words in _SIMPLE:
        if quantity in ("imaginary", "real", "modulus", "phase") and known & its_words:
            return quantity
    return ""


def _of_voltage(known: set[str], *, volts: bool) -> str:
    """Cell voltage, and potentials of the two electrodes; `volts` where the unit says so."""
    behind = {word[1:] for word in known if word[:1] in _LETTERS and len(word) > 1}
    named = {
        quantity: bool(behind & its_words)
        or bool(known & its_words and (volts or known & (_POTENTIAL | _REFERENCE)))
        for quantity, its_words in (
            ("positive potential", _POSITIVE),
            ("negative potential", _NEGATIVE),
        )
    }
    between = ({"we", "ce"} <= behind or {"we", "ce"} <= known) and volts
    if between or all(named.values()):
        return "cell voltage" if volts else ""
    if any(named.values()):
        return max(named, key=lambda quantity: named[quantity])
    return "cell voltage" if known & _VOLTAGE and not known & _AUXILIARY else ""
