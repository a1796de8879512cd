"""``taper settings``: what is known of an aircraft beforehand, shown and changed."""

from __future__ import annotations

import argparse
import sys
from typing import TYPE_CHECKING

from analyzer.commands.logs import READ, usage
from analyzer.commands.print_json import print_json
from analyzer.commands.records import add_records_argument, open_named, renew_reviews, unusable

if TYPE_CHECKING:
    from analyzer.aircraft import Setting
    from analyzer.records.store import Store

EPILOG = """\
  taper settings N047KT                                    what is set, and what may be
  taper settings N047KT battery_capacity=26 ammeter=battery
  taper settings N047KT regulated_voltage=13.6-14.3
  taper settings N047KT battery_fitted=2024-05-02 alternator_fitted=2023-11-20 alternator_hours=120
  taper settings N047KT battery_capacity=                  nothing takes it away

They stand in fleet.toml beside the records. Flights of the aircraft are judged anew by them at once.
When battery and alternator were fitted judges no flight; it tells when they are due: taper due."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Arguments of the subcommand."""
    parser.add_argument("tail", metavar="TAIL")
    parser.add_argument("settings", nargs="*", metavar="KEY=VALUE", help="what to set; KEY= takes it away")
    parser.add_argument("--json", action="store_true", help="print one JSON document and nothing else")
    add_records_argument(parser)


def run(arguments: argparse.Namespace) -> int:
    """Show an aircraft's settings, or change some; the exit status."""
    from analyzer.aircraft import FleetFileError, TailError
    from analyzer.records.problems import RecordsError
    from analyzer.service.aircraft_settings import SettingsError

    try:
        given = dict(_given(text) for text in arguments.settings)
        with open_named(arguments) as store:
            return _run(arguments, store, given)
    except (SettingsError, TailError, FleetFileError) as problem:
        return usage(str(problem))
    except RecordsError as problem:
        return unusable(problem)


def _given(text: str) -> tuple[str, Setting]:
    from analyzer.service.aircraft_settings import SettingsError, setting_from

    key, equals, value = text.partition("=")
    if not equals:
        raise SettingsError(text[:30], "say KEY=VALUE, such as battery_capacity=26")
    return key.strip().lower(), setting_from(key.strip().lower(), value)


def _run(arguments: argparse.Namespace, store: Store, given: dict[str, Setting]) -> int:
    from analyzer.phrases import not_kept_yet
    from analyzer.records.histories import fleet_kept
    from analyzer.records.latest import tail_names
    from analyzer.reports.setting_words import SETTING_WORDS, setting_words
    from analyzer.service.aircraft_settings import keep_settings, settings_of

    changed = keep_settings(store, arguments.tail, given)
    for key, value in changed.after.items():
        was, now = setting_words(key, changed.before[key]), setting_words(key, value)
        sys.stderr.write(f"{changed.tail}: {SETTING_WORDS[key].label}: {now} (was: {was})\n")
    if given and not changed.after:
        sys.stderr.write(f"{changed.tail}: all of that is set already.\n")
    if changed.tail not in (kept := tail_names(store)):
        sys.stderr.write(not_kept_yet(changed.tail, kept) + "\n")
    elif changed.after:
        renew_reviews(store, [changed.tail])
    if given and not arguments.json:
        return READ
    found = settings_of(fleet_kept(store).of(changed.tail))
    if arguments.json:
        told = {"contract": 1, "tail": changed.tail, "settings": found}
        print_json(told, default=str)
        return READ
    for key, value in found.items():
        label = SETTING_WORDS[key].label
        sys.stdout.write(f"{key:<18}  {label:<30}  {setting_words(key, value)}\n")
    return READ
