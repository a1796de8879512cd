"""Words of the command line stand on no page, in no e-mail and on no sheet."""

from __future__ import annotations

import ast
import shutil
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path

from analyzer.records.store import open_records
from analyzer.reports.digest_html import digest_html
from analyzer.reports.digest_text import digest_text
from analyzer.reports.plainly import plainly
from analyzer.service.collect_digest import collect_digest
from tests.dashboards.command_words import COMMAND_WORDS
from tests.dashboards.unseen import shown_in_reference, unseen

ROOT = Path(__file__).resolve().parents[2]
#: What prints to a terminal alone: the command line's own text, and what is said where a server is started.
OF_THE_TERMINAL = (
    "analyzer/commands/", "analyzer/cli.py", "analyzer/simulator/", "analyzer/corrections_file.py",
    "analyzer/reports/text.py", "analyzer/reports/plainly.py", "analyzer/reports/sheets/writing.py",
    "analyzer/service/recipients.py", "analyzer/records/checking.py", "analyzer/records/backup.py",
    "analyzer/records/place.py", "analyzer/cluster/",
    *(f"analyzer/reports/{name}_text.py" for name in ("fleet", "flight", "reference", "squawk", "trend", "due")),
    "dashboards/serving.py", "dashboards/tls.py", "dashboards/below.py", "dashboards/grid.py",
)  # fmt: skip


def told() -> Iterator[tuple[str, str]]:
    """Every text of the program that may reach a page, a mail or a sheet, with its file; no docstring."""
    for folder in ("analyzer", "dashboards"):
        for file in sorted((ROOT / folder).rglob("*.py")):
            name = str(file.relative_to(ROOT))
            if name.startswith(OF_THE_TERMINAL):
                continue
            tree = ast.parse(file.read_text("utf-8"))
            lone = {id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr)}
            inside = {
                id(part) for node in ast.walk(tree) if isinstance(node, ast.JoinedStr) for part in ast.walk(node)
            } - {id(node) for node in ast.walk(tree) if isinstance(node, ast.JoinedStr)}
            for node in ast.walk(tree):
                if id(node) in lone or id(node) in inside:
                    continue
                if isinstance(node, ast.JoinedStr):
                    parts = [str(one.value) if isinstance(one, ast.Constant) else "NAME" for one in node.values]
                    yield name, "".join(parts)
                elif isinstance(node, ast.Constant) and isinstance(node.value, str):
                    yield name, node.value


def test_every_sentence_that_names_a_command_is_said_otherwise_to_who_has_none() -> None:
    texts = list(told())
    assert sum(COMMAND_WORDS.search(text) is not None for _, text in texts) > 10, (
        "the sweep sees sentences that need it"
    )
    assert [(name, text) for name, text in texts if COMMAND_WORDS.search(plainly(text))] == []


def test_a_sentence_keeps_its_sense() -> None:
    says = "it has 'Speed'; name one with --map bus_voltage=COLUMN or --map ammeter_current=COLUMN."
    assert plainly(says) == "it has 'Speed'; name one on the page Import, under Details."
    assert plainly("no taper to measure") == "no taper to measure"


#: Those that are walked in ``test_questions.py`` to be measured at every size, and the page to sign in, are read there.
PAGES = (
    "/?days=30", "/digest?since=2026-05-01", "/aircraft/N0NONE", "/flight/999999", "/squawk",
    "/squawk?tail=N037LF&words=blue", "/logs", "/logs?tail=N012LF", "/settings?tail=N012LF", "/changes", "/reference",
    "/due?tail=N012LF",
)  # fmt: skip


def test_no_page_speaks_of_the_command_line(pages: str) -> None:
    shown = {path: unseen(pages, path) for path in PAGES}
    shown["/reference#slow_recharge"] = shown_in_reference(pages, "/reference#slow_recharge")
    for path, page in shown.items():
        assert len(page.words) > 200, path
        assert COMMAND_WORDS.findall(page.words) == [], path


def test_no_digest_speaks_of_the_command_line(demo: Path, tmp_path: Path) -> None:
    """Nor does a sheet, which is read in ``test_questions.py``, where each is made."""
    shutil.copytree(demo, tmp_path / "records")
    with open_records(tmp_path / "records") as store:
        for since in (None, datetime(2026, 5, 1)):
            digest = collect_digest(store, since, datetime(2026, 9, 20))
            for text in (digest_html(digest), digest_text(digest)):
                assert len(text) > 500
                assert COMMAND_WORDS.findall(text) == []
