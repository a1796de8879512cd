"""Lists every library that is installed with its version and licence, as its own metadata tell it."""

from __future__ import annotations

from importlib.metadata import Distribution, distributions


def licence_of(one: Distribution) -> str:
    """The licence: its SPDX expression, else its classifiers, else the first line of its own words."""
    told = one.metadata
    if expression := told.get("License-Expression"):
        return expression
    classified = [
        line.rsplit(" :: ", 1)[-1] for line in told.get_all("Classifier") or [] if line.startswith("License ::")
    ]
    if classified:
        return ", ".join(classified)
    return (told.get("License") or "not told").strip().splitlines()[0][:80]


if __name__ == "__main__":
    found = {one.metadata["Name"]: (one.version, licence_of(one)) for one in distributions()}
    for name in sorted(found, key=str.lower):
        print(f"{name:<28} {found[name][0]:<18} {found[name][1]}")
