"""Run the command line as ``python -m analyzer``."""

import sys

from analyzer.cli import main

sys.exit(main())
