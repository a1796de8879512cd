"""Callbacks as nobody's browser sends them: each value of the kind that its callback is written for, and absurd."""

from __future__ import annotations

import inspect
import json
import random
from collections.abc import Callable, Iterator, Mapping, Sequence
from enum import Enum
from types import NoneType, UnionType
from typing import Annotated, Any, NotRequired, Union, get_args, get_origin, get_type_hints, is_typeddict

SMALL = (0, -1, 1, 2, 3, 50, 2**31, -(2**31), 2**49)
LARGE = (2**53, 2**63, 2**64, -(2**63), 10**30 * 86_400, 10**400)
NUMBERS = (*SMALL, 0.5, -0.0, 14, 28, 100, 1e-320, 1e12, 1e15, -1e15)
TOO_LARGE = (1e19, 1e200, 1e308, -1e308, *LARGE[:-1])
WORDS = (
    "", " ", "0", "1", "-1", "2", "1e308", "inf", "nan", "9" * 30, "٣", "²", "½", "1_0", "0x1", "00001", "+1", "1 ",
    "N012LF", "N047KT", "n012lf", "N0１2LF", "N999ZZ", "all", "new", "/", "//", "../../etc/passwd", "=1+1", "\u202e",
    "\ufeff", "\x01", "\r\n", "a\tb", "x" * 9_000, "é" * 300, "{}", "[]", "null", "{}.{}", "%00", "%s{0}", "0001-01-01",
    "9999-12-31", "2026-05-01", "2026-13-45", "2026-W01-1", "12:00", "24:00", "0001-01-01T00:00:00+23:59",
    "9999-12-31T23:59:59.999999", "2026-05-01T12:00:00Z", "2026-05-01 12:00:00", "regulated_voltage", "date", "hours",
    "temperature", "start", "bus_voltage", "landing_light", "pitot_heat", "caution", "fixed", "other",
    "battery_serviced", "ALT light came on",
)  # fmt: skip
OPEN = ("x", "N012LF", "regulated_voltage", "new", "worse", "overvoltage_trip", "9999-12-31", "{}", "", "bus_voltage")
OPEN_NUMBERS = (1, 2, -1, 2**49, 0.5)
ASKED = ("tail", "since", "a", "b", "night", "shed", "load", "days", "along", "measure", "words", "entry", "page")
PLACES = ("", "aircraft/", "flight/", "digest", "compare", "squawk", "entries", "due", "peers/", "changes", "nowhere/")
#: What a page sends, so that what is absurd beside it gets as far as it can.
USUAL: dict[str, Any] = {
    "aircraft-tail": "N012LF", "aircraft-shown": "regulated_voltage", "aircraft-along": "date",
    "flight-id": "1", "flow-at": 600.0, "flow-step": 1, "flight-window": {"width": 800.0},
    "plan-load": 10, "plan-capacity": 24, "plan-charge": 90, "plan-temperature": 20, "plan-condition": 80,
    "plan-night": ["landing_light"], "plan-shed": ["landing_light"],
    "plan-fixed": {
        "nominal": 14, "floor": None, "battery": None, "assumed": None, "load_more": 0.0, "held": {}, "night": [],
        "basis": {}, "own": {}, "known": {"condition": [0.8, 0.5, 1.0], "charge": [0.9, 0.8, 1.0]},
    },
    "fleet-days": 7, "digest-asked": "2026-05-01", "due-tail": "", "squawk-tail": "N012LF", "settings-tail": "N012LF",
    "entries-editing": "new", "entries-tail": "N012LF", "entries-day": "2026-05-01", "entries-time": "12:00",
    "entries-kind": "other", "entries-capacity": "", "entries-words": "oil", "bring-role": "bus_voltage",
    "load-amps": "3", "load-is": "essential_load", "logs-tail": "N012LF",
}  # fmt: skip


class Forger:
    """Draws bodies of callbacks from a seed."""

    def __init__(self, seed: int) -> None:
        self.draw = random.Random(seed)

    def bodies(self, output: str, known: Mapping[str, Any], many: int) -> Iterator[bytes]:
        """So many bodies of one callback, as Dash keeps it."""
        for _ in range(many):
            yield json.dumps(self._body(output, known)).encode()

    def _body(self, output: str, known: Mapping[str, Any]) -> dict[str, Any]:
        asked = [*known["inputs"], *known["state"]]
        opened = self.draw.choice(OPEN)
        named = {one["id"]: self._names(one["id"], opened) for one in asked}
        kinds = _kinds_of(known["callback"])
        given = [self._part(one, named[one["id"]], kind) for one, kind in zip(asked, kinds, strict=False)]
        inputs = given[: len(known["inputs"])]
        keys = output[2:-2].split("...") if output.startswith("..") else [output]
        outputs = [{"id": _filled(name, opened), "property": prop} for name, prop in (k.rsplit(".", 1) for k in keys)]
        return {
            "output": output, "outputs": outputs if output.startswith("..") else outputs[0],
            "inputs": inputs, "state": given[len(inputs) :], "changedPropIds": self._changed(inputs),
        }  # fmt: skip

    def _names(self, name: str, opened: str) -> Any:
        """The component that a callback names; of a pattern that names many, some."""
        if '["ALL"]' not in name:
            return _filled(name, opened)
        numbered = '"log"' in name or '"entry"' in name
        return [
            _filled(name, self.draw.choice(OPEN_NUMBERS if numbered and self.draw.random() < 0.9 else OPEN))
            for _ in range(self.draw.randrange(4))
        ]

    def _part(self, one: Mapping[str, Any], names: Any, kind: Any) -> Any:
        if isinstance(names, list):
            within = (get_args(kind) or (Any,))[0]
            return [self._single(name, one["property"], within) for name in names]
        part = self._single(names, one["property"], kind)
        if one["id"] not in USUAL or self.draw.random() < 0.3:
            return part
        return part | {"value": self._changed_within(USUAL[one["id"]], kind)}

    def _changed_within(self, usual: Any, kind: Any) -> Any:
        """What a page sends; of many parts one is absurd."""
        if not is_typeddict(kind) or self.draw.random() < 0.2:
            return usual
        hints = get_type_hints(kind, include_extras=True)
        name = self.draw.choice(list(hints))
        return usual | {name: self.value(hints[name])}

    def _single(self, name: Any, prop: str, kind: Any) -> dict[str, Any]:
        if prop == "id":
            value = name
        elif prop == "pathname":
            value = f"/{self.draw.choice(PLACES)}{self.draw.choice(('', '1', *WORDS))}"
        elif prop == "search":
            value = "?" + "&".join(f"{self.draw.choice(ASKED)}={self.draw.choice(WORDS)}" for _ in range(3))
        else:
            value = self.value(kind)
        return {"id": name, "property": prop, "value": value}

    def _changed(self, inputs: Sequence[Any]) -> list[str]:
        """One of the inputs, as that which changed."""
        some = [part for one in inputs for part in (one if isinstance(one, list) else [one])]
        if not some:
            return []
        part = self.draw.choice(some)
        plain = isinstance(part["id"], str)
        name = part["id"] if plain else json.dumps(part["id"], separators=(",", ":"), sort_keys=True)
        return [f"{name}.{part['property']}"]

    def value(self, kind: Any) -> Any:
        """A value of a kind that a hint tells, as absurd as that allows."""
        origin, within = get_origin(kind), get_args(kind)
        if origin is NotRequired:
            return self.value(within[0])
        if origin is Annotated:
            return self._that_holds(within[0], within[1:])
        if origin in (Union, UnionType):
            return self.value(self.draw.choice(within))
        if is_typeddict(kind):
            return self._parts(get_type_hints(kind, include_extras=True))
        if origin is tuple:
            return [self.value(one) for one in within]
        if origin is list:
            return [self.value(within[0]) for _ in range(self.draw.randrange(4))]
        if origin is dict:
            return {self.draw.choice(WORDS): self.value(within[1]) for _ in range(self.draw.randrange(4))}
        return self._of_one(kind)

    def _that_holds(self, kind: Any, rules: Sequence[Callable[[Any], bool]]) -> Any:
        """Mostly a value of which what stands behind its kind holds, else any of the kind."""
        value = self.value(kind)
        for _ in range(40):
            if all(holds(value) for holds in rules) or self.draw.random() < 0.02:
                return value
            value = self.value(kind)
        return value

    def _parts(self, hints: Mapping[str, Any]) -> dict[str, Any]:
        return {
            name: self.value(kind)
            for name, kind in hints.items()
            if get_origin(kind) is not NotRequired or self.draw.random() < 0.7
        }

    def _of_one(self, kind: Any) -> Any:
        """A value that holds no others."""
        rare = self.draw.random() < 0.1
        if kind in (None, NoneType):
            return None
        if kind is bool:
            return self.draw.random() < 0.5
        if kind is int:
            return self.draw.choice(LARGE if rare else SMALL)
        if kind is float:
            return self.draw.choice(TOO_LARGE if rare else NUMBERS)
        if kind is str:
            return self.draw.choice(WORDS)
        if isinstance(kind, type) and issubclass(kind, Enum):
            return self.draw.choice(list(kind)).value
        return self.value(self.draw.choice((int, float, str, bool, None, list[str], list[int], dict[str, float])))


def _kinds_of(callback: Callable[..., Any]) -> list[Any]:
    """The kinds of a callback's parameters; anything where none are told."""
    function = inspect.unwrap(callback)
    hints = get_type_hints(function, include_extras=True)
    return [hints.get(name, Any) for name in inspect.signature(function).parameters]


def _filled(name: str, opened: Any) -> Any:
    """A component's id with what is open in it."""
    if not name.startswith("{"):
        return name
    return {key: opened if isinstance(value, list) else value for key, value in json.loads(name).items()}
