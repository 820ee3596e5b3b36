"""Settings of trends of resistances, part of the block `trust`."""

from __future__ import annotations

from trivet.schema.settings.block import Block, setting


class TrendTrust(Block):
    """When spectra of a cell may be put on one line."""

    alike_potential_mV: float = setting(
        20.0,
        "polarisation resistances of a cell make a trend only where the potentials at rest before "
        "the spectra lie within this of their median",
        unit="mV",
        gt=0,
        given_to=("trends",),
    )
    spectra_alike: bool = setting(
        False,
        "true: all spectra of a cell were taken at like state of charge, said by the person who "
        "knows; for data that have no potentials",
        given_to=("trends",),
    )
