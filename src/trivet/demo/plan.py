"""Plan of the invented campaign: 24 cells, what each is built of and what becomes of it.

The table `ROLES` is what happens to the cells with the default seed. With any other seed the
roles of a batch are dealt anew among its cells, so that no variant is favoured by the table and
a seal effect of 0 really is none.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np

from trivet.demo.physics import (
    CHANNEL_OHM,
    PLATEAU_V,
    USABLE_SHARE,
    Ageing,
    ReferenceModel,
    Resistances,
)

DEFAULT_SEED = 20260109
ZONE = ZoneInfo("Europe/Berlin")
DATA_END = datetime(2026, 3, 9, 8, 0, tzinfo=ZONE)
"""Last moment in the data: eight weeks after the first batch."""
DESIGN_CAPACITY_MAH = 2.0
LFP_MAH_PER_G = 169.893
"""Theoretical capacity of LFP: Faraday's constant over the molar mass 157.7548 g/mol."""

BATCHES = {
    "B1": datetime(2026, 1, 12, 13, 0, tzinfo=ZONE),
    "B2": datetime(2026, 1, 19, 13, 0, tzinfo=ZONE),
    "B3": datetime(2026, 1, 26, 13, 0, tzinfo=ZONE),
}
BATCH_LIFE = {"B1": 1.0, "B2": 0.93, "B3": 1.06}
SEALS = {
    "B1": ("tape", "epoxy", "sleeve", "tape", "epoxy", "sleeve", "tape", "epoxy"),
    "B2": ("sleeve", "tape", "epoxy", "sleeve", "tape", "epoxy", "sleeve", "tape"),
    "B3": ("epoxy", "sleeve", "tape", "epoxy", "sleeve", "tape", "epoxy", "sleeve"),
}
SEAL_LOG_LIFE = {"tape": 0.0, "epoxy": math.log(1.6), "sleeve": math.log(1.04)}
"""Logarithm of the time ratio against tape at a seal effect of 1."""
MEDIAN_LIFE_H = 905.0
LIFE_SCATTER = 0.17
"""Standard deviation of the logarithm of the life among cells built alike."""


@dataclass(frozen=True)
class Role:
    """What becomes of a cell.

    Attributes
    ----------
    layout : str
        Layout of its cycling files.
    fate : str
        `wears out` (or runs on, as its life has it), `short`, `dry`, `open`, `leak`, `stopped`,
        `excluded`.
    share : float
        Share of its life after which a fate other than wearing out sets in.
    reference_gone_h : float or None
        Hours since crimping at which a damaged lead has emptied the reference; None: sound lead.
    drift_mV_per_day : float or None
        Drift of the reference; None: small and drawn.
    swapped : bool
        Whether the leads of positive and negative are exchanged at the channel.
    cut_in_mid_line : bool
        Whether the file was copied while a line was being written.
    mesh_offset_mm : float
        How far from the middle of the cell the mesh of the reference sits [mm].
    """

    layout: str
    fate: str = "wears out"
    share: float = 1.0
    reference_gone_h: float | None = None
    drift_mV_per_day: float | None = None
    swapped: bool = False
    cut_in_mid_line: bool = False
    mesh_offset_mm: float = 0.0


ROLES = {
    "B1": (
        Role("semicolon"),
        Role("unit-row"),
        Role("discharge-positive"),
        Role("bdf", "short", 0.50),
        Role("semicolon", reference_gone_h=264.2),
        Role("unit-row"),
        Role("discharge-positive", "stopped", 0.60),
        Role("bdf"),
    ),
    "B2": (
        Role("semicolon", "leak", 0.85),
        Role("unit-row"),
        Role("discharge-positive", swapped=True),
        Role("bdf", drift_mV_per_day=2.6),
        Role("semicolon", "dry", 0.75),
        Role("unit-row", "open", 0.50),
        Role("discharge-positive"),
        Role("bdf", "short", 0.62),
    ),
    "B3": (
        Role("semicolon", cut_in_mid_line=True),
        Role("unit-row", "stopped", 0.70),
        Role("discharge-positive", mesh_offset_mm=6.0),
        Role("bdf", reference_gone_h=611.0),
        Role("semicolon"),
        Role("unit-row", drift_mV_per_day=0.22),
        Role("discharge-positive"),
        Role("bdf", "excluded"),
    ),
}


@dataclass(frozen=True)
class CellPlan:
    """One cell of the campaign.

    Attributes
    ----------
    cell, batch, seal, separators : str
        As in the build sheet.
    number : int
        Position in the campaign, from 1.
    seed : int
        Seed of the campaign.
    role : Role
        What becomes of it.
    crimped_at : datetime
        Start of its clock.
    cycling_started_h : float
        Hours since crimping of the first row [h].
    formation_h : float
        Hours since crimping of the first charge [h].
    active_mass_mg : float
        Active mass of the positive [mg].
    ageing, reference : Ageing, ReferenceModel
        Models of the cell and of its reference.
    """

    cell: str
    batch: str
    seal: str
    separators: str
    number: int
    seed: int
    role: Role
    crimped_at: datetime
    cycling_started_h: float
    formation_h: float
    active_mass_mg: float
    ageing: Ageing
    reference: ReferenceModel

    @property
    def fate_h(self) -> float:
        """Hours since crimping at which the fate sets in [h], to the minute as people log it."""
        return round(60.0 * self.role.share * self.ageing.life_h) / 60.0

    @property
    def horizon_h(self) -> float:
        """Hours since crimping of the end of the data [h]."""
        return (DATA_END.timestamp() - self.crimped_at.timestamp()) / 3600.0

    @property
    def positive_capacity_mAh(self) -> float:
        """Lithium that the LFP holds when full [mAh]."""
        return self.active_mass_mg * LFP_MAH_PER_G / 1000.0

    def moment(self, hours: float) -> datetime:
        """Local time at `hours` since crimping, to the second."""
        since = timedelta(seconds=round(3600.0 * hours))
        return (self.crimped_at.astimezone(ZoneInfo("UTC")) + since).astimezone(ZONE)

    def random(self, stream: int) -> np.random.Generator:
        """Random numbers of this cell alone; `stream` keeps its uses apart."""
        return np.random.default_rng([self.seed, self.number, stream])


def plan_campaign(seed: int = DEFAULT_SEED, *, seal_effect: float = 1.0) -> tuple[CellPlan, ...]:
    """Plan all cells.

    Parameters
    ----------
    seed : int
        Seed of the campaign [1].
    seal_effect : float
        Size of the effect of the seal on life [1]: 0 none, 1 the time ratios of
        `SEAL_LOG_LIFE`.
    """
    cells = []
    for position, (batch, roles) in enumerate(ROLES.items()):
        order = np.arange(len(roles))
        if seed != DEFAULT_SEED:
            order = np.random.default_rng([seed, 0, position]).permutation(order)
        for place, seal in enumerate(SEALS[batch]):
            number = 8 * position + place + 1
            cells.append(_plan_cell(number, batch, seal, roles[order[place]], seed, seal_effect))
    return tuple(cells)


def _plan_cell(
    number: int, batch: str, seal: str, role: Role, seed: int, seal_effect: float
) -> CellPlan:
    """Draw one cell from its own random numbers."""
    random = np.random.default_rng([seed, number, 0])
    life_h = (
        MEDIAN_LIFE_H
        * BATCH_LIFE[batch]
        * math.exp(seal_effect * SEAL_LOG_LIFE[seal] + LIFE_SCATTER * random.standard_normal())
    )
    separators = "2+1" if (number - 1) // 3 % 2 else "1+1"
    start = BATCHES[batch] + timedelta(minutes=12 * ((number - 1) % 8))
    plated_h = round(5.0 + 2.0 * random.random(), 1)
    return CellPlan(
        cell=f"c{number:02d}",
        batch=batch,
        seal=seal,
        separators=separators,
        number=number,
        seed=seed,
        role=role,
        crimped_at=start,
        cycling_started_h=plated_h + 0.5,
        formation_h=plated_h + 8.5 + 4.0 * random.random(),
        active_mass_mg=round(13.20 + 0.12 * random.standard_normal(), 2),
        ageing=_ageing(life_h, role, separators, random),
        reference=_reference(plated_h, role, random),
    )


def _ageing(life_h: float, role: Role, separators: str, random: np.random.Generator) -> Ageing:
    """Fresh resistances with their scatter, and the sudden fate of the role."""
    scatter = np.exp(0.05 * random.standard_normal(6))
    stack_ohm = 2.4 if separators == "2+1" else 0.0
    fate_h = role.share * life_h
    return Ageing(
        life_h=life_h,
        positive=Resistances((4.6 + stack_ohm) * scatter[0], 6.0 * scatter[1], 12.0 * scatter[2]),
        negative=Resistances(4.2 * scatter[3], 8.0 * scatter[4], 10.0 * scatter[5]),
        leak_h=fate_h - 200.0 if role.fate == "leak" else None,
        dry_h=fate_h if role.fate == "dry" else None,
        short_h=fate_h if role.fate == "short" else None,
    )


def _reference(plated_h: float, role: Role, random: np.random.Generator) -> ReferenceModel:
    """Plating as logged; a damaged lead takes what empties the mesh at the stated time."""
    plated_mAh = round(0.035 + 0.004 * random.standard_normal(), 4)
    drawn = 0.02 * random.standard_normal()
    offset_mV = 0.6 * random.standard_normal()
    leak_mA = 0.0
    if role.reference_gone_h is not None:
        usable_mAh = USABLE_SHARE * plated_mAh
        leak_mA = usable_mAh / (role.reference_gone_h - plated_h) - PLATEAU_V / CHANNEL_OHM * 1000.0
    return ReferenceModel(
        offset_mV=offset_mV,
        drift_mV_per_day=drawn if role.drift_mV_per_day is None else role.drift_mV_per_day,
        plated_h=plated_h,
        plated_mAh=plated_mAh,
        lead_leak_mA=leak_mA,
    )
