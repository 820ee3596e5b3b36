"""Rules of the house that a reader can rely on: who may import whom, sizes, docstrings, names."""

from __future__ import annotations

import ast
import importlib
import re
from pathlib import Path

from trivet.schema.settings.campaign import Settings
from trivet.schema.tables.dictionary import TABLES
from trivet.stages.contract import EVERYTHING, STAGES
from trivet.stages.job import shape_of, work_of

ROOT = Path(__file__).resolve().parents[1]
SOURCE = ROOT / "src" / "trivet"
MODULES = sorted(SOURCE.rglob("*.py"))

# Room -> rooms it may import from, besides itself and those of `SHARED`: floors, lowest first.
ALLOWED = {
    "errors": set(),
    "reasons": set(),
    "reference_checks": set(),
    "science": set(),
    "schema": set(),
    "store": {"schema"},
    "rawfiles": {"science.cycling", "schema", "store"},
    "campaign": {"science.lives", "science.circuit", "schema", "store", "rawfiles"},
    "archive": {"schema", "store", "campaign"},
    "demo": {"schema"},
    "report": {"schema", "store"},
    "results": {"schema", "store", "report"},
    "stages": {"science", "schema", "store", "rawfiles", "campaign", "archive", "report"},
    "studies": {"science", "schema", "store", "rawfiles", "campaign", "stages", "report", "demo"},
    "workflow": {"schema", "store", "rawfiles", "campaign", "stages.contract", "stages"},
    "cli": {"schema", "store", "rawfiles", "campaign", "archive", "demo", "results", "workflow"},
}
SHARED = {"errors", "reasons", "reference_checks", "version"}
SCIENCE_LIBRARIES = {
    "__future__",
    "collections",
    "dataclasses",
    "enum",
    "fractions",
    "functools",
    "importlib",
    "itertools",
    "math",
    "numpy",
    "scipy",
    "trivet",
    "typing",
}
CELL_STAGES = ("read", "cycling.stage", "impedance.stage", "job")
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


def test_a_room_imports_only_the_rooms_it_may() -> None:
    """The layer rule: every import leads to a lower floor, or stays in its room."""
    wrong = []
    for path in MODULES:
        room = room_of(path)
        if room in ("__init__", "__main__"):
            continue
        for name in imports(path):
            parts = name.split(".")
            if parts[0] != "trivet" or len(parts) < 2 or parts[1] == "__version__":
                continue
            reached = {".".join(parts[1:depth]) for depth in (2, 3)}
            if not reached & (ALLOWED[room] | {room, *SHARED}):
                wrong.append(f"{path.relative_to(SOURCE)} imports {name}")
    assert not wrong, wrong


def packages(path: Path) -> str:
    """Package of a module, from the root of this one."""
    return ".".join(path.relative_to(SOURCE).with_suffix("").parts[:-1])


def test_no_circle_between_packages() -> None:
    """Packages of science import each other in one direction only: a circle has no lowest floor."""
    arrows: dict[str, set[str]] = {}
    known = {packages(path) for path in MODULES}
    for path in MODULES:
        own = packages(path)
        for name in imports(path):
            module = name.removeprefix("trivet.")
            other = max((p for p in known if p and module.startswith(p + ".")), key=len, default="")
            if other and other != own and own and not own.startswith(other + "."):
                arrows.setdefault(own, set()).add(other)
    floor = dict.fromkeys(known - arrows.keys(), 0)
    while len(floor) < len(known):
        ready = {p for p in known - floor.keys() if arrows[p] <= floor.keys()}
        assert ready, {p: sorted(arrows[p] - floor.keys()) for p in known - floor.keys()}
        floor |= {p: 1 + max(floor[q] for q in arrows[p]) for p in ready}


def test_science_is_pure() -> None:
    """Science imports numerical libraries only, and neither prints, logs nor opens files."""
    for path in sorted((SOURCE / "science").rglob("*.py")):
        text = path.read_text(encoding="utf-8")
        for name in imports(path):
            assert name.split(".")[0] in SCIENCE_LIBRARIES, f"{path.name} imports {name}"
        called = {
            node.func.id
            for node in ast.walk(ast.parse(text))
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Name)
        }
        assert not called & {"open", "print", "input"}, path


SHARED_BY_STAGES = ("contract", "job")


def test_stages_do_not_import_each_other() -> None:
    """A stage imports no other stage; what stages share is their contract.

    Only `as_of` does: what it is for is to run the others again.
    """
    for path in sorted((SOURCE / "stages").rglob("*.py")):
        own = path.relative_to(SOURCE / "stages").with_suffix("").parts[0]
        if own in ("as_of", "__main__", *SHARED_BY_STAGES):
            continue
        others = {name.split(".")[2] for name in imports(path)
                  if name.startswith("trivet.stages.")}  # fmt: skip
        assert others <= {own, *SHARED_BY_STAGES}, f"{path} imports {others}"


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


def test_stages_of_a_cell_import_narrowly() -> None:
    """A cell's job must not spend its time on imports that it does not need."""
    for stage in CELL_STAGES:
        names = closure(f"trivet.stages.{stage}")
        assert not {n for n in names for heavy in HEAVY if n == heavy or n.startswith(heavy + ".")}


def test_files_and_functions_are_short() -> None:
    """At most 450 lines a file and 50 lines of code a function, docstring not counted."""
    for path in MODULES:
        text = path.read_text(encoding="utf-8")
        assert len(text.splitlines()) <= 450, path
        for node in ast.walk(ast.parse(text)):
            if isinstance(node, ast.FunctionDef):
                documented = ast.get_docstring(node) is not None
                first = node.body[1] if documented and len(node.body) > 1 else node.body[0]
                length = (node.end_lineno or 0) - first.lineno + 1
                assert length <= 50, f"{path}: {node.name} has {length} lines"


def test_rooms_are_no_flat_floors() -> None:
    """At most 20 modules a folder: more is a room in which nobody finds the way."""
    for folder in {path.parent for path in MODULES}:
        modules = [path for path in folder.glob("*.py") if path.stem != "__init__"]
        assert len(modules) <= 20, folder


def test_every_column_names_the_function_that_computes_it() -> None:
    """Each address of the dictionary of columns leads to a function."""
    for column in (column for table in TABLES.values() for column in table.columns):
        module, _, name = column.computed_by.partition(":")
        assert callable(getattr(importlib.import_module(module), name)), column


def test_units_stand_in_the_name() -> None:
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
    for column in (column for table in TABLES.values() for column in table.columns):
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


def test_one_noun_names_block_room_and_tests() -> None:
    """The noun spine: each noun of the science has its room, and tests in a room of that name."""
    for room in sorted(path for path in (SOURCE / "science").iterdir() if path.is_dir()):
        if room.name != "__pycache__":
            assert list((ROOT / "tests" / "science" / room.name).glob("test_*.py")), room


def test_every_stage_keeps_to_its_contract() -> None:
    """Each stage has its module with `work`, and reads only what an earlier stage writes."""
    written = {name for name, table in TABLES.items() if not table.archived}
    for stage in STAGES.values():
        assert callable(work_of(stage.name))
        assert stage.task.endswith("."), stage.name
        for name in (*stage.reads, *stage.writes):
            assert shape_of(name)
        assert set(stage.reads) <= written, (stage.name, set(stage.reads) - written)
        written |= set(stage.writes)
    archived = {name for name, table in TABLES.items() if table.archived}
    assert archived <= written, archived - written


def test_settings_of_stages_exist() -> None:
    """Every path of settings that a stage names leads to a setting."""
    for stage in STAGES.values():
        for path in () if stage.settings == EVERYTHING else stage.settings:
            model = Settings
            for key in path.split("."):
                assert key in model.model_fields, path
                model = model.model_fields[key].annotation


def test_every_test_says_its_rule() -> None:
    """Each test has a docstring of one sentence that states the rule tested."""
    for path in sorted((ROOT / "tests").rglob("test_*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.FunctionDef) and node.name.startswith("test_"):
                assert ast.get_docstring(node), f"{path.name}: {node.name}"


def test_every_fault_has_its_test() -> None:
    """Each row of FAULTS.md names a test that is there."""
    named = re.findall(
        r"`([\w/]+\.py)::(\w+)`", (ROOT / "tests" / "FAULTS.md").read_text(encoding="utf-8")
    )
    assert len(named) > 30
    for file, test in named:
        assert f"def {test}(" in (ROOT / "tests" / file).read_text(encoding="utf-8"), (
            f"{file}::{test}"
        )
