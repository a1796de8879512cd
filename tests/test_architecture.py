"""The house stands as DEVELOPERS.md draws it: imports go one way, and asking for help stays light."""

from __future__ import annotations

import ast
import re
import subprocess
import sys
import tomllib
from functools import cache
from graphlib import TopologicalSorter
from pathlib import Path

import pytest

from tests.conftest import FIRST

ROOT = Path(__file__).resolve().parents[1]
TESTS = ROOT / "tests"
ANALYZER = ROOT / "analyzer"
STAGES = ["logs", "flights", "measures", "findings"]
TOOLS = {
    "callable_module",
    "series",
    "decay",
    "limits",
    "aircraft",
    "loads",
    "small_files",
    "shipped_tables",
    "cells",
    "quantity",
    "phrases",
    "corrections",
}
#: What each part may import of ours; a part always may import itself.
MAY_IMPORT: dict[str, set[str]] = {
    "running": set(),
    "series": {"running"},
    "corrections": set(),
    "corrections_file": {"corrections", "limits", "findings", "logs", "squawk", "small_files"},
    "limits": {"corrections", "shipped_tables"},
    "decay": {"series"},
    "small_files": set(),
    "shipped_tables": set(),
    "callable_module": set(),
    "quantity": set(),
    "phrases": set(),
    "cells": set(),
    "endable": {"allocator"},
    "allocator": set(),
    "preloaded": {*STAGES, "limits", "results", "review", "service"},
    "loads": {"shipped_tables"},
    "cluster": {"aircraft", "corrections", "endable", "logs"},
    "aircraft": {"limits", "loads", "logs", "small_files"},
    "fleet_edit": {"aircraft"},
    "logs": {"corrections", "endable", "phrases", "series", "shipped_tables"},
    "flights": {"logs", *TOOLS},
    "measures": {"logs", "flights", *TOOLS},
    "findings": {"logs", "flights", "measures", *TOOLS},
    "review": {*STAGES, *TOOLS},
    "results": {*STAGES, "review"},
    "contract": {*STAGES, "results", "quantity"},
    "trends": {"flights", "measures", "findings", "review", "results", *TOOLS},
    "squawk": {*STAGES, "results", "review", "trends", *TOOLS},
    "records": {*STAGES, "corrections_file", "fleet_edit", "results", "review", "trends", *TOOLS},
    "service": {*STAGES, *TOOLS, "fleet_edit", "results", "review", "trends", "squawk", "records"},
    "contract_columns": {"logs"},
    "contract_squawk": {"contract", "quantity", "squawk"},
    "contract_tails": {"contract", "findings", "quantity", "trends"},
    "contract_fleet": {"contract", "contract_tails", "findings", "trends"},
    "contract_plan": {"contract", "records", "service"},
    "contract_due": {"contract_tails", "service"},
    "contract_outlook": {"aircraft", "contract", "contract_tails", "findings", "service", "trends"},
    "contract_digest": {"contract", "contract_tails", "findings", "records", "service", "trends"},
    "reports": {*STAGES, *TOOLS, "results", "review", "trends", "squawk", "records", "service"},
    "library": {*STAGES, *TOOLS, "results", "review", "trends", "squawk", "records", "service"},
    "simulator": {"logs"},  # as_log.py alone, which makes a simulated flight a Log
}
HEAVY = (
    *("polars", "numpy", "scipy", "sklearn", "sqlalchemy", "dash", "plotly", "rich"),
    *("matplotlib", "jinja2", "typst", "tomlkit", "icalendar", "apprise", "distributed", "fsspec", "msgspec"),
)


@cache
def tree_of(file: Path) -> ast.Module:
    return ast.parse(file.read_text("utf-8"))


@cache
def parts_imported(file: Path) -> set[str]:
    """Parts of ours that a module imports anywhere, and 'dashboards'."""
    found = set()
    for node in ast.walk(tree_of(file)):
        names = []
        if isinstance(node, ast.ImportFrom) and node.module:
            names = [node.module] if node.module != "analyzer" else [f"analyzer.{a.name}" for a in node.names]
        elif isinstance(node, ast.Import):
            names = [alias.name for alias in node.names]
        for name in names:
            if name.startswith("analyzer."):
                found.add(name.split(".")[1])
            elif name.startswith("dashboards"):
                found.add("dashboards")
    return found


def part_of(file: Path) -> str:
    return file.relative_to(ANALYZER).parts[0].removesuffix(".py")


@pytest.mark.parametrize("file", sorted(ANALYZER.rglob("*.py")), ids=lambda file: str(file.relative_to(ROOT)))
def test_a_module_imports_only_what_stands_before_it(file: Path) -> None:
    part = part_of(file)
    imported = parts_imported(file) - {part, "__version__", "CONTRACT"}
    if part in MAY_IMPORT:
        assert imported <= MAY_IMPORT[part], f"{part} may not import {imported - MAY_IMPORT[part]}"
    else:
        assert "simulator" not in imported or file.stem.startswith("demo")


@pytest.mark.parametrize("file", sorted(ANALYZER.rglob("*.py")), ids=lambda file: str(file.relative_to(ROOT)))
def test_only_a_function_of_a_command_imports_the_dashboards(file: Path) -> None:
    if part_of(file) != "commands":
        assert "dashboards" not in parts_imported(file)
    for node in tree_of(file).body:
        if isinstance(node, ast.ImportFrom):
            assert not (node.module or "").startswith("dashboards")


def test_commands_and_dashboards_know_nothing_of_each_other_but_how_the_server_is_started() -> None:
    commands = sorted((ANALYZER / "commands").glob("*.py"))
    assert [file.name for file in commands if "dashboards" in parts_imported(file)] == ["pages.py"]
    pages = sorted((ROOT / "dashboards").rglob("*.py"))
    assert len(pages) > 20
    assert [file.name for file in pages if {"commands", "cli"} & parts_imported(file)] == []
    assert [file.name for file in pages if "cluster" in parts_imported(file)] == [], "pages start no work on a cluster"


@pytest.mark.parametrize("file", sorted((ROOT / "dashboards" / "pages").glob("*.py")), ids=lambda file: file.stem)
def test_a_page_holds_no_arithmetic_library_and_no_sql(file: Path) -> None:
    roots = {
        name.split(".")[0]
        for node in ast.walk(ast.parse(file.read_text("utf-8")))
        for name in (
            [node.module or ""]
            if isinstance(node, ast.ImportFrom)
            else [alias.name for alias in node.names]
            if isinstance(node, ast.Import)
            else []
        )
    }
    assert not roots & {"numpy", "scipy", "polars", "sqlalchemy", "sqlite3"}


def test_no_part_may_import_one_that_stands_after_it() -> None:
    order = list(TopologicalSorter(MAY_IMPORT).static_order())  # fails where parts stand in a ring
    assert order.index("logs") < order.index("flights") < order.index("trends") < order.index("records")
    assert order.index("records") < order.index("service") < order.index("reports")


def test_the_command_line_is_imported_by_nothing_but_the_process_itself() -> None:
    files = [*ANALYZER.rglob("*.py"), *(ROOT / "dashboards").rglob("*.py")]
    assert {file.name for file in files if "cli" in parts_imported(file)} == {"__main__.py"}


def test_every_part_is_in_the_table_or_is_the_command_line() -> None:
    parts = {part_of(file) for file in ANALYZER.rglob("*.py")}
    assert parts - MAY_IMPORT.keys() - {"cli", "commands", "__init__", "__main__"} == set()


def test_types_that_a_review_makes_are_no_dataclasses() -> None:
    files = [file for file in ANALYZER.rglob("*.py") if part_of(file) in {*STAGES, *TOOLS, "results", "review"}]
    for file in [*files, ANALYZER / "service" / "review_logs.py"]:
        assert "dataclass" not in file.read_text("utf-8"), file


@pytest.mark.parametrize("code", ["import analyzer", "import analyzer.cli; analyzer.cli.build_parser().format_help()"])
def test_importing_and_asking_for_help_load_no_heavy_library(code: str) -> None:
    probe = f"import sys; {code}; print([name for name in {HEAVY!r} if name in sys.modules])"
    done = subprocess.run([sys.executable, "-c", probe], capture_output=True, text=True, check=True, cwd=ROOT)
    assert done.stdout.strip() == "[]"


@pytest.mark.parametrize("modules", ["analyzer.review, analyzer.logs.read", "analyzer.records.preparing"])
def test_work_on_a_log_loads_no_library_that_it_does_not_need(modules: str) -> None:
    probe = (
        f"import sys, {modules}; "
        "print([name for name in "
        "('sklearn', 'sqlalchemy', 'dash', 'plotly', 'rich', 'pandas', 'matplotlib', 'jinja2', 'typst') "
        "if name in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", probe], capture_output=True, text=True, check=True, cwd=ROOT)
    assert done.stdout.strip() == "[]"


def test_the_top_level_holds_exactly_what_it_should() -> None:
    shown = subprocess.run(["git", "ls-files"], capture_output=True, text=True, cwd=ROOT, check=False).stdout.split(
        "\n"
    )
    if not any(shown):
        pytest.skip("not a git checkout, so there is no list of the project's files")
    top = {name.strip('"').split("/")[0] for name in shown if name}
    assert {name for name in top if not name.startswith(".")} == {
        "README.md",
        "DEVELOPERS.md",
        "pyproject.toml",
        "analyzer",
        "dashboards",
        "tests",
        "sample_logs",
    }


def code() -> str:
    return "\n".join(file.read_text("utf-8") for file in sorted(ANALYZER.rglob("*.py")))


def test_every_limit_is_used_and_says_what_it_is_and_where_it_comes_from() -> None:
    limits = tomllib.loads((ANALYZER / "limits.toml").read_text("utf-8"))
    text = code()
    for name, entry in limits.items():
        assert f'"{name}"' in text, f"{name} is not used"
        assert entry["unit"], name
        assert len(entry["meaning"]) > 15, name
        assert not re.fullmatch("ours(: a judgement)?|as above|", entry["source"].strip(" .")), (
            f"{name} gives no reason"
        )
        assert ("value" in entry) != ("at_14" in entry and "at_28" in entry), name


def test_every_limit_that_is_used_exists() -> None:
    limits = tomllib.loads((ANALYZER / "limits.toml").read_text("utf-8"))
    used = re.findall(r'limit_value\(\s*"(\w+)"', code()) + re.findall(r'limits\["(\w+)"\]', code())
    assert len(used) > 100
    assert set(used) <= limits.keys()


def test_voltages_of_a_28_volt_system_are_about_twice_those_of_a_14_volt_one() -> None:
    for name, entry in tomllib.loads((ANALYZER / "limits.toml").read_text("utf-8")).items():
        if entry["unit"] == "V" and "at_14" in entry:
            assert 1.8 <= entry["at_28"] / entry["at_14"] <= 2.2, name


def test_files_of_tests_that_begin_first_are_there() -> None:
    assert [name for name in FIRST if not (TESTS / name).is_file()] == []
