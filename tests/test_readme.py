"""What README.md shows is what the tool prints, and what CI runs is what README.md says."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest

from analyzer.aircraft import read_fleet
from analyzer.cli import build_parser, main

ROOT = Path(__file__).resolve().parents[1]
README = (ROOT / "README.md").read_text("utf-8")


def blocks(language: str) -> list[str]:
    """Fenced blocks of README.md in one language."""
    return re.findall(rf"```{language}\n(.*?)```", README, re.DOTALL)


def test_the_output_that_the_readme_shows_is_printed(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(ROOT)
    monkeypatch.setenv("COLUMNS", "100")
    assert main(["review", "sample_logs", "--fleet", "sample_logs/fleet.toml"]) == 0
    printed = capsys.readouterr().out
    (shown,) = blocks("text")
    assert len(shown.splitlines()) >= 4
    assert shown in printed


def test_ci_runs_the_readmes_test_command() -> None:
    (command,) = [block.strip() for block in blocks("sh") if "-m tests" in block]
    assert command in (ROOT / ".ci" / "run").read_text("utf-8")


def test_every_library_that_is_needed_stands_among_the_versions_that_were_tested_together() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
    groups = [project["dependencies"], *project["optional-dependencies"].values()]
    needed = {plain_name(one) for group in groups for one in group} - {plain_name(project["name"])}
    lines = (ROOT / ".ci" / "constraints.txt").read_text("utf-8").splitlines()
    assert len(needed) > 20
    assert needed <= {plain_name(line) for line in lines if "==" in line}


def plain_name(requirement: str) -> str:
    """The name of a library as registries compare it."""
    return re.split(r"[^\w.-]", requirement)[0].lower().replace("_", "-")


def test_every_command_that_the_readme_names_exists() -> None:
    named = {word for block in blocks("sh") for word in re.findall(r"taper (\w+)", block)}
    known = set(next(action.choices for action in build_parser()._actions if action.choices))
    assert named
    assert named <= known


def test_the_readmes_fleet_file_is_one(tmp_path: Path) -> None:
    (text,) = blocks("toml")
    path = tmp_path / "fleet.toml"
    path.write_text(text, "utf-8")
    assert tomllib.loads(text)
    assert read_fleet(path).of("N047KT").battery_capacity == 34.0


def test_every_file_that_the_documents_point_to_is_there() -> None:
    for name in ("README.md", "DEVELOPERS.md"):
        for target in re.findall(r"\]\(([^)#]+)\)", (ROOT / name).read_text("utf-8")):
            assert (ROOT / target).exists(), target


def test_every_dependency_has_its_line_for_contributors() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
    wanted = [
        *project["dependencies"],
        *(name for extra in project["optional-dependencies"].values() for name in extra),
    ]
    text = (ROOT / "DEVELOPERS.md").read_text("utf-8")
    table = text[text.index("## Dependencies") :]
    for requirement in wanted:
        assert ">=" in requirement or "[" in requirement, requirement
        assert re.split(r"[>=\[]", requirement)[0] in table, requirement
