"""``taper explain``: what a measure, finding, phase, trend, formula or threshold means and how it comes about."""

from __future__ import annotations

import argparse
import sys

from analyzer.commands.logs import READ, usage
from analyzer.commands.print_json import print_json

EPILOG = """\
Names are those of the JSON results; the titles that reports show are understood as well.

  taper explain                            every name there is
  taper explain regulated_voltage          one measure: its rows, formula, interval, and when it is not measurable
  taper explain "Slow recharge"            one finding: its rule, innocent explanations, causes and ground checks
  taper explain never_settles endurance    a threshold with its value and source, and a measure
  taper explain --json                     the whole reference as one document

What a name explains can be corrected, for every flight and page at once, in a file corrections.toml beside the
records (kept there by taper rebuild --limits FILE) or for one call by taper review --limits FILE:

  [limits]
  low_voltage = 12.8                             both systems
  overvoltage = { at_14 = 15.5, at_28 = 31.0 }
  [causes.brushes]
  alternator_offline = 2.0                       a cause's weight to begin with
  [header_words]
  current = ["ladamp"]                           one more word for it in a recorder's header
  [pilots_words]
  light = ["telltale"]                           one more way in which pilots write it

The exit status is 0 when every name was found; 2 when one is not known, with the names that are close to it."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Arguments of the subcommand."""
    parser.add_argument("names", nargs="*", metavar="NAME", help="what to explain; lists every name when none is given")
    parser.add_argument("--json", action="store_true", help="print one JSON document and nothing else")


def run(arguments: argparse.Namespace) -> int:
    """Explain; the exit status."""
    from analyzer.reports.reference import CONTRACT, find_topics, near_names, reference
    from analyzer.reports.reference_text import contents_text, topics_text
    from analyzer.reports.text import Style

    topics = []
    for name in arguments.names:
        found = find_topics(name)
        if not found:
            near = near_names(name)
            hint = f"close to it: {', '.join(near)}" if near else "'taper explain' lists every name"
            return usage(f"nothing is called '{name}'; {hint}")
        topics += [topic for topic in found if topic not in topics]
    if arguments.json:
        document = {"contract": CONTRACT, "topics": topics} if topics else reference()
        print_json(document)
    else:
        style = Style.of(sys.stdout)
        sys.stdout.write(topics_text(topics, style) if topics else contents_text(style))
    return READ
