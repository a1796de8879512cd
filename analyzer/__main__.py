"""Run the command line as ``python -m analyzer``."""

from analyzer.cli import run_process

run_process()
