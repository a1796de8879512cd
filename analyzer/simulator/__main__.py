"""Write the sample logs: ``python -m analyzer.simulator FOLDER``."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from analyzer.simulator.club import write_club


def main(arguments: list[str] | None = None) -> int:
    """Write the invented club's logs into the folder named; gives the exit status."""
    parser = argparse.ArgumentParser(prog="python -m analyzer.simulator", description=write_club.__doc__)
    parser.add_argument("folder", type=Path, help="where the logs, fleet.toml and README.md go")
    folder: Path = parser.parse_args(arguments).folder
    try:
        paths = write_club(folder)
    except OSError as error:
        sys.stderr.write(f"Cannot write the sample logs to {folder}: {error.strerror}. Name another folder.\n")
        return 1
    for path in paths:
        sys.stdout.write(f"{path}  {path.stat().st_size:,} bytes\n")
    return 0


if __name__ == "__main__":
    sys.exit(main())
