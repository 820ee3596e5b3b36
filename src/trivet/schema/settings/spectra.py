"""Settings of the checks of spectra, and of models of impedance written out node by node."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from typing import Literal

from trivet.errors import near_name
from trivet.schema.settings.block import Block, setting

Place = tuple[str | int, ...]


class SpectrumTrust(Block):
    """Thresholds of the checks of spectra."""

    kk_correlation_errors: float = setting(
        3.0,
        "neighbouring Kramers-Kronig residuals that follow each other by more than this many "
        "standard errors are systematic",
        gt=0,
    )
    kk_largest_multiple: float = setting(
        4.5, "one Kramers-Kronig residual above this many rms makes a spectrum suspect", gt=1
    )
    repeat_suspect_percent: float = setting(
        3.0,
        "change between two measurements of one frequency in a sweep above which it is suspect",
        unit="%",
        gt=0,
    )
    repeat_rejected_percent: float = setting(
        10.0, "the same change above which it is rejected", unit="%", gt=0
    )
    model_multiple: float = setting(
        3.0, "a fit worse than the Kramers-Kronig rms by this factor is inadequate", gt=1
    )
    loop_points: int = setting(
        3, "so many neighbouring inductive points of an electrode are a loop", ge=1
    )
    loop_share_percent: float = setting(
        1.0, "inductive by more than this share of the modulus", unit="%", gt=0
    )
    loop_lowest_Hz: float = setting(1.0, "above this frequency", unit="Hz", gt=0)
    loop_highest_Hz: float = setting(
        1e4, "and below this one, where leads are not inductive yet", unit="Hz", gt=0
    )
    real_fall_percent: float = setting(
        1.0,
        "fall of the real part of an electrode towards low frequency, relative to the modulus, "
        "above which the place of the reference is suspect; six times the Kramers-Kronig rms "
        "where that is more",
        unit="%",
        gt=0,
    )
    mirror_correlation: float = setting(
        0.8,
        "features of opposite sign in both electrodes that correlate by more make it suspect",
        gt=0,
        lt=1,
    )
    ohmic_share_off: float = setting(
        0.15,
        "share of the positive in the resistance of the electrolyte further than this from all "
        "that lies between a half and its share of the separators makes it suspect; judged where "
        "both electrodes' own ohmic parts are declared (block impedance)",
        gt=0,
        lt=0.5,
    )
    ohmic_share_change: float = setting(
        0.1, "and so does a change of that share by more than this in the life of a cell", gt=0
    )
    polarisation_factor: float = setting(
        2.0,
        "and a polarisation resistance off the expected one (block impedance) by this factor",
        gt=1,
    )
    sweep_change_suspect_mV: float = setting(
        2.0, "potential that moves more than this during a sweep", unit="mV", gt=0
    )
    sweep_change_rejected_mV: float = setting(
        5.0, "the same above which a spectrum is rejected", unit="mV", gt=0
    )
    amplitude_suspect_mV: float = setting(
        10.0, "peak voltage of the excitation across a pair", unit="mV", gt=0
    )
    amplitude_rejected_mV: float = setting(
        20.0,
        "the same above which a spectrum is rejected; RT/F is 25.7 mV at 25 degC",
        unit="mV",
        gt=0,
    )


class Node(Block):
    """A node of a model: one element, or nodes in series, or nodes in parallel."""

    element: str | None = setting(None, "what the node is, where it is one element")
    series: list[Node] | None = setting(None, "nodes one after the other")
    parallel: list[Node] | None = setting(None, "nodes side by side")
    surface: Node | None = setting(None, "what covers the pores of a porous line")


class CircuitSettings(Block):
    """What is fitted, where the default of the material is not wanted, and what is known."""

    positive_model: Node | None = setting(
        None,
        "model of the positive, written out as nodes with 'element', 'series' or 'parallel'; "
        "null: the default of its material, resistance, arcs and diffusion as far as data ask "
        "for them. For instance series: [{element: resistor}, {element: arc}, {element: warburg}]",
    )
    negative_model: Node | None = setting(None, "model of the negative; null: as above")
    cell_model: Node | None = setting(None, "model of the cell; null: as above")
    positive_polarisation_ohm: float | None = setting(
        None,
        "polarisation resistance of the positive expected from symmetric or half cells at the "
        "state of charge of the spectra; null: not known",
        unit="ohm",
        gt=0,
    )
    negative_polarisation_ohm: float | None = setting(
        None, "the same of the negative", unit="ohm", gt=0
    )
    positive_ohmic_ohm: float | None = setting(
        None,
        "ohmic resistance of the positive that is not of the electrolyte (contact, electrons, "
        "lead); with that of the negative the share of the rest tells the place of the reference; "
        "null: not known, and the share is not judged",
        unit="ohm",
        ge=0,
    )
    negative_ohmic_ohm: float | None = setting(None, "the same of the negative", unit="ohm", ge=0)
    excitation_current_mA: float | None = setting(
        None, "peak of the exciting current; null: not known", unit="mA", gt=0
    )
    excitation_voltage_mV: float | None = setting(
        None,
        "peak of an exciting voltage across the cell; null: not known",
        unit="mV",
        gt=0,
    )
    modulus_frequencies_Hz: list[float] = setting(
        [1000.0, 1.0, 0.1], "frequencies at which the modulus is given", unit="Hz"
    )
    capacitance_formula: Literal["Hsu-Mansfeld", "Brug"] = setting(
        "Hsu-Mansfeld",
        "formula of the effective capacitance of an arc, for time constants distributed through "
        "a layer or along a surface; they differ by a factor of up to three",
    )


def circuit_problems(
    node: Node, place: Place, elements: Collection[str]
) -> Iterator[tuple[Place, str]]:
    """Say what is wrong with a model that its fields alone do not show.

    Parameters
    ----------
    node : Node
        The model, or a part of it.
    place : tuple
        Path of the node in the settings.
    elements : collection of str
        Names of the elements there are.
    """
    path = _dotted(place)
    given = [name for name in ("element", "series", "parallel") if getattr(node, name) is not None]
    if len(given) != 1:
        found = " and ".join(f"'{name}'" for name in given) or "none"
        yield place, f"'{path}' needs one of 'element', 'series' and 'parallel'; found {found}."
    if node.element is not None and node.element not in elements:
        message = f"'{path}.element' is '{node.element}', which is no element."
        yield (*place, "element"), f"{message} {near_name(node.element, elements)}"
    if (node.surface is not None) != (node.element == "porous line"):
        yield place, f"'{path}': 'surface' is needed by a porous line, and by nothing else."
    for name in ("series", "parallel"):
        parts = getattr(node, name)
        fewest = 2 if name == "parallel" else 1
        if parts is not None and len(parts) < fewest:
            yield (*place, name), f"'{path}.{name}' has {len(parts)} nodes; it needs {fewest}."
        for position, part in enumerate(parts or ()):
            yield from circuit_problems(part, (*place, name, position), elements)
    if node.surface is not None:
        yield from circuit_problems(node.surface, (*place, "surface"), elements)


def _dotted(place: Place) -> str:
    """Path as a person would write it."""
    return "".join(f"[{key}]" if isinstance(key, int) else f".{key}" for key in place).lstrip(".")
