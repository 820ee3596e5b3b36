"""Rules of the house that a reader can rely on: who may import whom, sizes, docstrings, names."""

from __future__ import annotations

import ast
import importlib
from pathlib import Path

import pytest

from trivet.records.settings import Settings
from trivet.records.stages import CELL_TABLES, STAGE_SETTINGS
from trivet.records.tables import TABLES

ROOT = Path(__file__).resolve().parents[1]
SOURCE = ROOT / "src" / "trivet"
MODULES = sorted(SOURCE.rglob("*.py"))

# Room -> rooms it may import from, besides itself and `errors`.
ALLOWED = {
    "errors": set(),
    "science": set(),
    "records": set(),
    "io": {"records"},
    "stages": {"science", "records", "io", "report"},
    "report": {"records", "io"},
    "demo": {"records"},
    "source_digest": set(),
    "progress": set(),
    "workflow": {"records", "io", "source_digest"},
    "cli": {"records", "io", "workflow", "demo"},
    "studies": {"science", "records", "io", "stages", "demo"},
}
SCIENCE_LIBRARIES = {
    "__future__",
    "collections",
    "dataclasses",
    "enum",
    "fractions",
    "functools",
    "itertools",
    "math",
    "numpy",
    "scipy",
    "trivet",
    "typing",
}
CELL_STAGES = ("read", "cycling", "impedance")
HEAVY = {"pandas", "matplotlib", "weasyprint", "statsmodels", "scipy.stats", "snakemake"}


def room_of(path: Path) -> str:
    """Room of a module: its folder, or its own name at the top."""
    parts = path.relative_to(SOURCE).parts
    return parts[0] if len(parts) > 1 else path.stem


def imports(path: Path) -> list[str]:
    """Absolute names that a module imports."""
    found = []
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found += [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: relative import"
            found.append(str(node.module))
            found += [f"{node.module}.{alias.name}" for alias in node.names]
    return found


@pytest.mark.parametrize("path", MODULES, ids=lambda p: str(p.relative_to(SOURCE)))
def test_a_room_imports_only_the_rooms_it_may(path: Path) -> None:
    """The layer rule: science knows nothing, only io and above read files."""
    room = room_of(path)
    if room in ("__init__", "__main__"):
        return
    for name in imports(path):
        parts = name.split(".")
        if parts[0] != "trivet" or len(parts) < 2 or parts[1] == "__version__":
            continue
        other = parts[1]
        assert other in ALLOWED[room] | {room, "errors"}, f"{path.name} imports {name}"


@pytest.mark.parametrize("path", sorted((SOURCE / "science").glob("*.py")), ids=lambda p: p.stem)
def test_science_is_pure(path: Path) -> None:
    """Science imports numerical libraries only, and neither prints, logs nor opens files."""
    text = path.read_text(encoding="utf-8")
    for name in imports(path):
        assert name.split(".")[0] in SCIENCE_LIBRARIES, f"{path.name} imports {name}"
    called = {
        node.func.id
        for node in ast.walk(ast.parse(text))
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name)
    }
    assert not called & {"open", "print", "input"}


@pytest.mark.parametrize("path", sorted((SOURCE / "stages").glob("*.py")), ids=lambda p: p.stem)
def test_stages_do_not_import_each_other(path: Path) -> None:
    """A stage imports no other stage; what stages share is their command line.

    Only `earlier` does: what it is for is to run the others again.
    """
    if path.stem == "earlier":
        return
    others = [
        name
        for name in imports(path)
        if name.startswith("trivet.stages.") and not name.startswith("trivet.stages.command")
    ]
    own = [name for name in others if name.split(".")[2].startswith(path.stem.split("_")[0])]
    assert others == own, f"{path.name} imports {others}"


def closure(module: str) -> set[str]:
    """All names that a module imports, directly or through this package."""
    seen: set[str] = set()
    waiting = [module]
    while waiting:
        name = waiting.pop()
        if name in seen:
            continue
        seen.add(name)
        stem = SOURCE.joinpath(*name.split(".")[1:])
        for path in (stem.with_suffix(".py"), stem / "__init__.py"):
            if name.startswith("trivet.") and path.is_file():
                waiting += imports(path)
    return seen


@pytest.mark.parametrize("stage", CELL_STAGES)
def test_stages_of_a_cell_import_narrowly(stage: str) -> None:
    """A cell's job must not spend its time on imports that it does not need."""
    names = closure(f"trivet.stages.{stage}")
    assert not {
        name for name in names for heavy in HEAVY if name == heavy or name.startswith(heavy + ".")
    }


@pytest.mark.parametrize("path", MODULES, ids=lambda p: str(p.relative_to(SOURCE)))
def test_files_and_functions_are_short(path: Path) -> None:
    """At most 300 lines a file and 50 lines of code a function, docstring not counted."""
    text = path.read_text(encoding="utf-8")
    if path.parent.name != "records" or not path.stem.endswith("_tables"):
        assert len(text.splitlines()) <= 300
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.FunctionDef):
            documented = ast.get_docstring(node) is not None
            first = node.body[1] if documented and len(node.body) > 1 else node.body[0]
            length = (node.end_lineno or 0) - first.lineno + 1
            assert length <= 50, f"{path.name}: {node.name} has {length} lines"


@pytest.mark.parametrize("table", TABLES.values(), ids=lambda t: t.name)
def test_every_column_names_the_function_that_computes_it(table: object) -> None:
    """Each address of the dictionary of columns leads to a function."""
    for column in table.columns:
        module, _, name = column.computed_by.partition(":")
        assert callable(getattr(importlib.import_module(module), name)), column


@pytest.mark.parametrize("table", TABLES.values(), ids=lambda t: t.name)
def test_units_stand_in_the_name(table: object) -> None:
    """A column of a fixed unit carries it as a suffix; its unit is not empty."""
    suffixes = {
        "s": "_s",
        "h": "_h",
        "mA": "_mA",
        "V": "_V",
        "mA.h": "_mAh",
        "mW.h": "_mWh",
        "Ohm": "_ohm",
        "Hz": "_Hz",
        "Cel": "_degC",
        "%": "_percent",
    }
    for column in table.columns:
        if column.unit in suffixes:
            assert column.name.endswith(suffixes[column.unit]), column.name


def test_the_contract_of_tables_holds() -> None:
    """The tables and columns that users and papers rely on keep their names."""
    contract = {
        "cells": "cell batch group included exclusion_reason status",
        "cycles": "cell cycle start_h charge_capacity_mAh discharge_capacity_mAh "
        "charge_energy_mWh discharge_energy_mWh coulombic_efficiency energy_efficiency "
        "mean_charge_voltage_V mean_discharge_voltage_V c_rate kind complete retention",
        "electrode_cycles": "cell cycle electrode mean_charge_potential_V "
        "mean_discharge_potential_V end_of_charge_potential_V end_of_discharge_potential_V "
        "minimum_potential_V hysteresis_V dc_resistance_ohm trust",
        "reference_checks": "cell time_h check value unit limit trust",
        "spectra": "cell time_h cycle pair points high_frequency_resistance_ohm "
        "polarisation_resistance_ohm model parameters kk_rms_percent additivity_percent trust",
        "lifetimes": "cell group batch endpoint clock duration lower upper observed cause "
        "decided_by evidence",
        "survival": "endpoint clock group time at_risk events censored survival standard_error "
        "lower upper",
        "life_summary": "endpoint clock group cells events median median_lower median_upper "
        "restricted_mean restricted_mean_se restriction_time weibull_shape weibull_scale b10",
        "comparisons": "endpoint clock factor group control stratified_by measure cells events "
        "control_cells control_events estimate lower upper confidence p p_adjusted "
        "smallest_attainable_p verdict reason statistic observed_events expected_events",
        "causes": "endpoint clock group cause time incidence lower upper",
        "measures": "measure unit group control cells control_cells difference lower upper p "
        "p_adjusted",
        "findings": "cell file line check severity value limit unit action message",
    }
    for name, columns in contract.items():
        assert set(columns.split()) <= set(TABLES[name].names), name


def test_one_noun_names_block_stage_science_and_test() -> None:
    """The noun spine: each noun has its block of settings, science file and test."""
    blocks = set(Settings.model_fields)
    for noun in ("cycling", "reference", "impedance", "lifetime", "survival", "electrodes"):
        assert noun in blocks
        science = "spectrum_fit" if noun == "impedance" else noun
        assert (SOURCE / "science" / f"{science}.py").is_file()
        assert (ROOT / "tests" / "science" / f"test_{science}.py").is_file()
    for stage in STAGE_SETTINGS:
        assert (SOURCE / "stages" / f"{stage}.py").is_file()


def test_settings_of_stages_exist() -> None:
    """Every path of settings that a stage names leads to a setting."""
    for paths in STAGE_SETTINGS.values():
        for path in paths:
            model = Settings
            for key in path.split("."):
                assert key in model.model_fields, path
                model = model.model_fields[key].annotation
    for tables in CELL_TABLES.values():
        assert set(tables) <= set(TABLES)


def test_every_test_says_its_rule() -> None:
    """Each test has a docstring of one sentence that states the rule tested."""
    for path in sorted((ROOT / "tests").rglob("test_*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.FunctionDef) and node.name.startswith("test_"):
                assert ast.get_docstring(node), f"{path.name}: {node.name}"
