"""Parameters of parts: how a kind declares them, how a document's values become SI, how a healthy machine is drawn.

A kind declares a :class:`Parameters` struct; each field is annotated with its kind of unit (``Volts``, ``Time`` …) or
with the words it allows (``Literal["free", "welded"]``). A field with a default may be left out of a profile.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from functools import cache
from typing import Annotated, Any, Literal, NamedTuple, get_args, get_origin, get_type_hints

import msgspec

from stagecall.errors import QuantityError, UsageError
from stagecall.model.equipment import Parameter, Value
from stagecall.model.system import Figure
from stagecall.points import nearest
from stagecall.units import Kind, Quantity, Spread, parse_quantity

Time = Annotated[int, "time"]
"""Whole milliseconds."""
Volts = Annotated[float, "volts"]
Amps = Annotated[float, "amps"]
Ohms = Annotated[float, "ohms"]
Temperature = Annotated[float, "temperature"]
"""°C."""
Difference = Annotated[float, "difference"]
"""Kelvin."""
Power = Annotated[float, "power"]
VoltAmperes = Annotated[float, "apparent_power"]
Pressure = Annotated[float, "pressure"]
"""Pascal; of a refrigerant above the atmosphere's."""
Length = Annotated[float, "length"]
Airflow = Annotated[float, "airflow"]
"""Cubic metres a second."""
Share = Annotated[float, "fraction"]
Count = Annotated[float, "count"]
HeatCapacity = Annotated[float, "heat_capacity"]
Conductance = Annotated[float, "conductance"]
Capacitance = Annotated[float, "capacitance"]
"""Farad."""
FlameCurrent = Annotated[float, "flame_current"]
"""Microamps."""

Setting = int | float | str
"""A parameter's value inside the plant."""


class Between(NamedTuple):
    """A healthy machine's value lies anywhere between these, ends included."""

    low: float
    high: float


class OneOf(NamedTuple):
    """A healthy machine's value is one of these."""

    values: tuple[Setting, ...]


Span = Between | OneOf


class Parameters(msgspec.Struct, frozen=True, kw_only=True):
    """What a part of some kind is given."""


class Declared(msgspec.Struct, frozen=True):
    """One declared parameter: its kind of unit or its words, and whether a profile must give it."""

    kind: Kind | None
    words: tuple[str, ...] = ()
    needed: bool = True


@cache
def declared(takes: type[Parameters]) -> dict[str, Declared]:
    """The parameters that a kind takes."""
    found = {}
    hints = get_type_hints(takes, include_extras=True)
    for field in msgspec.structs.fields(takes):
        hint = hints[field.name]
        needed = field.default is msgspec.NODEFAULT
        if get_origin(hint) is Literal:
            found[field.name] = Declared(None, get_args(hint), needed)
        else:
            found[field.name] = Declared(get_args(hint)[1], (), needed)
    return found


_BELOW_ZERO: tuple[Kind, ...] = ("temperature", "difference", "pressure")
"""What may be below zero; nothing else of a part can be."""


def to_si(value: Value, takes: Declared, where: str) -> Setting:
    """A document's value in SI, or its word.

    Raises:
        UsageError: another kind of unit, or a word that is not among the allowed ones.
    """
    if takes.kind is None:
        if isinstance(value, str) and value in takes.words:
            return value
        raise UsageError(f"{where}: '{value}' is not one of {', '.join(takes.words)}")
    try:
        found = (parse_quantity(value) if isinstance(value, str) else value).to(takes.kind)
    except QuantityError as error:
        raise UsageError(f"{where}: {error}") from None
    if found < 0 and takes.kind not in _BELOW_ZERO:
        raise UsageError(f"{where}: {value} is below zero")
    return found


def typical_and_span(parameter: Parameter, takes: Declared, figure: Figure | None, where: str) -> tuple[Setting, Span]:
    """The typical value and what a healthy machine is drawn from; a maker's figure takes the place of both.

    Raises:
        UsageError: a value of the wrong kind, or a range with an open end.
    """
    if figure is not None:
        value = to_si(figure.value, takes, where)
        return value, _around(value, figure.tolerance, takes, where)
    typical = to_si(parameter.typical, takes, where)
    match parameter.range:
        case None:
            return typical, OneOf((typical,))
        case Spread() as spread if takes.kind is not None:
            ends = spread.to(takes.kind)
            if ends.low is None or ends.high is None:
                raise UsageError(f"{where}: the range {spread} needs both ends")
            return typical, Between(ends.low, ends.high)
        case tuple() as words:
            return typical, OneOf(tuple(to_si(word, takes, where) for word in words))
        case spread:
            raise UsageError(f"{where}: '{spread}' is a range of numbers; write some of {', '.join(takes.words)}")


def _around(value: Setting, tolerance: Quantity | None, takes: Declared, where: str) -> Span:
    if tolerance is None or isinstance(value, str) or takes.kind is None:
        return OneOf((value,))
    if tolerance.unit == "%":
        off = abs(value) * tolerance.number / 100
    else:
        kind: Kind = "difference" if takes.kind == "temperature" else takes.kind
        off = float(to_si(tolerance, Declared(kind), where))
    return Between(value - off, value + off)


def draw(span: Span, takes: Declared, stream: str) -> Setting:
    """One value, uniform over *span*; *stream* (seed, part and parameter) decides it and nothing else does."""
    if isinstance(span, OneOf) and len(span.values) == 1:
        return span.values[0]
    digest = hashlib.blake2b(stream.encode(), digest_size=8).digest()
    share = int.from_bytes(digest, "big") / 2**64
    if isinstance(span, OneOf):
        return span.values[int(share * len(span.values))]
    value = span.low + share * (span.high - span.low)
    return round(value) if takes.kind == "time" else value


def unknown(name: str, known: Mapping[str, Any], where: str) -> UsageError:
    """The complaint about a name that is not known there."""
    near = nearest(name, tuple(known))
    hint = f"; did you mean '{near}'?" if near else f"; known: {', '.join(known)}"
    return UsageError(f"{where} has no '{name}'{hint}")
