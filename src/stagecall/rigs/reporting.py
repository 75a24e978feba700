"""What a person reports, read from the line they typed: a state that came, or a reading with its unit."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

import msgspec

from stagecall.errors import QuantityError
from stagecall.model.event import PointBounds
from stagecall.model.sequence import Condition
from stagecall.points import kind_of, nearest, point
from stagecall.units import KIND_WORDS, parse_quantity

_READING = re.compile(r"^(?P<name>.*?)\s*(?P<value>[+-]?\d+(?:[.,]\d+)?\s*(?P<unit>\D*))$")


class Measured(msgspec.Struct, frozen=True):
    """A reading in SI."""

    point: str
    value: float


class Unclear(msgspec.Struct, frozen=True):
    """Why the line cannot be taken, in one sentence."""

    because: str


def understand(
    text: str, seen: Mapping[str, PointBounds], listed: Sequence[Condition], due: Sequence[str]
) -> Condition | Measured | Unclear:
    """Read a line. *listed*: what its numbers stand for, from 1; *due*: quantities to be read, the first one next."""
    words = text.replace("_", " ").split()
    if text.isdecimal() and 1 <= int(text) <= len(listed):
        return listed[int(text) - 1]
    if words and words[-1].lower() in {"on", "off", "open", "closed", "heat", "cool"}:
        return _state(" ".join(words[:-1]).lower(), words[-1].lower(), seen)
    if (match := _READING.match(text)) is not None and (due or match["name"]):
        return _measured(match, seen, due)
    if text.isdecimal():
        return Unclear(f"there is no number {text} in the list")
    example = next((str(one) for one in listed), "blower off")
    return Unclear(f"'{text}' is not understood; type what you see, such as {example}")


def _state(said: str, state: str, seen: Mapping[str, PointBounds]) -> Condition | Unclear:
    names = {name.replace("_", " "): name for name in seen if _states(name)}
    if said not in names:
        near = nearest(said, list(names))
        return Unclear(f"'{said}' is nothing that is looked at here" + (f"; did you mean '{near}'?" if near else ""))
    name = names[said]
    if state not in _states(name):
        return Unclear(f"{said} is {' or '.join(_states(name))}, not {state}")
    return Condition(name, state)


def _states(name: str) -> tuple[str, ...]:
    known = point(name)
    return () if known is None else known.states


def _measured(match: re.Match[str], seen: Mapping[str, PointBounds], due: Sequence[str]) -> Measured | Unclear:
    said = match["name"].replace("_", " ").lower()
    quantities = {name.replace("_", " "): name for name in seen if not _states(name)}
    if said and said not in quantities:
        near = nearest(said, list(quantities))
        return Unclear(f"'{said}' is nothing that is read here" + (f"; did you mean '{near}'?" if near else ""))
    name = quantities[said] if said else due[0]
    kind = kind_of(name)
    if not match["unit"].strip():
        return Unclear(f"{match['value']} needs its unit: {name.replace('_', ' ')} is {KIND_WORDS[kind]}")
    try:
        quantity = parse_quantity(match["value"].replace(",", "."))
        return Measured(name, quantity.to(kind))
    except QuantityError as error:
        return Unclear(str(error))
