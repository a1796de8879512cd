"""Renew the snapshots: ``python -m tests.snapshots numbers words``, or one of the two.

Words change in commits of words; a number that changes is named with its reason in its commit.
"""

from __future__ import annotations

import argparse
import tempfile
from pathlib import Path

from tests.snapshots.taken import HELD, documents, parted, written

PARTS = ("numbers", "words")


def renew(parts: list[str]) -> None:
    """Take every document anew and write the parts named; what is held and no more taken goes."""
    for part in parts:
        (HELD / part).mkdir(parents=True, exist_ok=True)
        for file in (HELD / part).glob("*.json"):
            file.unlink()
    with tempfile.TemporaryDirectory() as folder:
        for name, document in documents(Path(folder)):
            for part, told in zip(PARTS, parted(document), strict=True):
                if part in parts:
                    (HELD / part / f"{name}.json").write_text(written(told), "utf-8")
            print(name)


if __name__ == "__main__":
    parser = argparse.ArgumentParser(prog="python -m tests.snapshots", description="Renew the snapshots.")
    parser.add_argument("parts", nargs="+", choices=PARTS)
    renew(parser.parse_args().parts)
