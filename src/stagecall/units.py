"""Quantities and ranges: reading, converting, printing.

Inside the program a time is a whole number of milliseconds and everything else an SI float (temperatures in °C).
Documents write ``5 s``, ``3 min``, ``38 °F``, ``..6 s``, ``5 min..``, ``2..6 s`` and ``300 s ± 10 %``.
"""

from __future__ import annotations

import re
from decimal import Decimal
from functools import lru_cache
from typing import Literal, get_args

import msgspec

from stagecall.errors import QuantityError

Kind = Literal[
    "time", "volts", "amps", "ohms", "temperature", "difference", "power", "apparent_power", "pressure", "length",
    "airflow", "fraction", "count", "heat_capacity", "conductance", "flame_current", "capacitance",
]  # fmt: skip
KINDS: tuple[Kind, ...] = get_args(Kind)

_D = Decimal
_FAHRENHEIT_DEGREE = _D(5) / _D(9)
_BTU = _D("1055.05585262")

# unit -> {kind: (scale, offset)}; SI value = number * scale + offset
_TEMPERATURE_F = {
    "temperature": (_FAHRENHEIT_DEGREE, -32 * _FAHRENHEIT_DEGREE),
    "difference": (_FAHRENHEIT_DEGREE, _D(0)),
}
_TEMPERATURE_C = {"temperature": (_D(1), _D(0)), "difference": (_D(1), _D(0))}


def _only(kind: str, scale: str | Decimal) -> dict[str, tuple[Decimal, Decimal]]:
    return {kind: (_D(scale), _D(0))}


_UNITS: dict[str, dict[str, tuple[Decimal, Decimal]]] = {
    "ms": _only("time", "1"), "s": _only("time", "1000"), "min": _only("time", "60000"), "h": _only("time", "3600000"),
    "V": _only("volts", "1"), "mV": _only("volts", "0.001"),
    "A": _only("amps", "1"), "mA": _only("amps", "0.001"),
    "µA": _only("flame_current", "1"), "uA": _only("flame_current", "1"),
    "ohm": _only("ohms", "1"), "kohm": _only("ohms", "1000"), "Ω": _only("ohms", "1"),
    "°F": _TEMPERATURE_F, "F": _TEMPERATURE_F, "°C": _TEMPERATURE_C, "C": _TEMPERATURE_C,
    "W": _only("power", "1"), "kW": _only("power", "1000"),
    "Btu/h": _only("power", _BTU / 3600), "kBtu/h": _only("power", _BTU * 1000 / 3600),
    "ton": _only("power", _BTU * 12000 / 3600),
    "VA": _only("apparent_power", "1"),
    "Pa": _only("pressure", "1"), "kPa": _only("pressure", "1000"),
    "in.w.c.": _only("pressure", "249.08891"), "psi": _only("pressure", "6894.757293168"),
    "m": _only("length", "1"), "ft": _only("length", "0.3048"),
    "CFM": _only("airflow", "0.000471947443"), "m³/s": _only("airflow", "1"),
    "%": _only("fraction", "0.01"),
    "": {"count": (_D(1), _D(0)), "fraction": (_D(1), _D(0))},
    "kBtu/°F": _only("heat_capacity", _BTU * 1000 / _FAHRENHEIT_DEGREE),
    "Btu/h °F": _only("conductance", _BTU / 3600 / _FAHRENHEIT_DEGREE),
    "J/K": _only("heat_capacity", "1"), "W/K": _only("conductance", "1"),
    "µF": _only("capacitance", "0.000001"), "uF": _only("capacitance", "0.000001"),
}  # fmt: skip

_NUMBER = r"[+-]?\d+(?:\.\d+)?"
_QUANTITY = re.compile(rf"^({_NUMBER})(?:\s*(\S.*))?$")
_SPREAD = re.compile(rf"^(?:({_NUMBER})\s*([^\d\s.+-].*?)?)?\s*\.\.\s*({_NUMBER})?(?:\s*([^\d\s.+-].*))?$")
_TOLERANCE = re.compile(rf"^({_NUMBER})(?:\s*([^\d\s±+].*?))?\s*(?:±|\+/-)\s*({_NUMBER})(?:\s*(\S.*))?$")


def _number(text: str) -> float:
    return float(text)


def _check_unit(unit: str, text: str) -> None:
    if unit not in _UNITS:
        known = ", ".join(u for u in _UNITS if u)
        raise QuantityError(f"'{unit}' in '{text}' is not a unit; known units: {known}")


@lru_cache(maxsize=1024)
def _convert(number: float, unit: str, kind: Kind) -> float:
    try:
        scale, offset = _UNITS[unit][kind]
    except KeyError:
        shown = f"{number:g} {unit}".strip()
        raise QuantityError(f"'{shown}' is not {KIND_WORDS[kind]}") from None
    value = _D(repr(number)) * scale + offset
    return int(value.to_integral_value()) if kind == "time" else float(value)


def units_of(kind: Kind | None) -> tuple[str, ...]:
    """The units that measure this kind (None: all units); the empty one is a plain number."""
    return tuple(unit for unit, measures in _UNITS.items() if kind is None or kind in measures)


class Quantity(msgspec.Struct, frozen=True):
    """A number with its unit, as written in a document."""

    number: float
    unit: str

    def to(self, kind: Kind) -> float:
        """The SI value (whole milliseconds for a time).

        Raises:
            QuantityError: the unit does not measure this *kind*.
        """
        return _convert(self.number, self.unit, kind)

    def __str__(self) -> str:
        return f"{self.number:g} {self.unit}".strip()


class Spread(msgspec.Struct, frozen=True):
    """A range with its unit, as written; an absent end is open."""

    low: float | None
    high: float | None
    unit: str

    def to(self, kind: Kind) -> Range:
        """The range in SI (whole milliseconds for a time)."""
        low = None if self.low is None else _convert(self.low, self.unit, kind)
        high = None if self.high is None else _convert(self.high, self.unit, kind)
        return Range(low, high)

    def __str__(self) -> str:
        low = "" if self.low is None else f"{self.low:g}"
        if self.high is None:
            return f"{low} {self.unit}".strip() + ".."
        return f"{low}..{self.high:g} {self.unit}".strip()


class Range(msgspec.Struct, frozen=True, array_like=True, gc=False):
    """An SI range, both ends inclusive; None is an open end. Of a time: whole milliseconds."""

    low: float | None = None
    high: float | None = None

    def __contains__(self, value: float) -> bool:
        return (self.low is None or value >= self.low) and (self.high is None or value <= self.high)


KIND_WORDS: dict[Kind, str] = {
    "time": "a time (such as 5 s, 3 min, 1 h)",
    "volts": "a voltage (such as 24 V)",
    "amps": "a current (such as 0.5 A)",
    "ohms": "a resistance (such as 200 ohm)",
    "temperature": "a temperature (such as 70 °F)",
    "difference": "a difference of temperatures (such as 20 °F)",
    "power": "a power (such as 5 kW, 60 kBtu/h, 3 ton)",
    "apparent_power": "an apparent power (such as 40 VA)",
    "pressure": "a pressure (such as 0.5 in.w.c., 400 psi)",
    "length": "a length (such as 50 ft)",
    "airflow": "an airflow (such as 1200 CFM)",
    "fraction": "a share (such as 15 %)",
    "count": "a plain number",
    "heat_capacity": "a heat capacity (such as 4 kBtu/°F)",
    "conductance": "a heat loss (such as 500 Btu/h °F)",
    "flame_current": "a flame current (such as 3 µA)",
    "capacitance": "a capacitance (such as 40 µF)",
}


def parse_quantity(text: str) -> Quantity:
    """Read ``5 s``.

    Raises:
        QuantityError: not a number with a known unit.
    """
    match = _QUANTITY.match(text.strip())
    if match is None:
        raise QuantityError(f"'{text}' is not a number with a unit")
    unit = match[2] or ""
    _check_unit(unit, text)
    return Quantity(_number(match[1]), unit)


def parse_spread(text: str) -> Spread:
    """Read ``..6 s``, ``5 min..``, ``2..6 s``, ``300 s ± 10 %`` or a single ``5 s`` (both ends equal).

    Raises:
        QuantityError: not a range with a known unit, or its ends are the wrong way round.
    """
    stripped = text.strip()
    if match := _TOLERANCE.match(stripped):
        unit = match[2] or ""
        off_unit = match[4] or unit
        _check_unit(unit, text)
        _check_unit(off_unit, text)
        middle, off = _number(match[1]), _number(match[3])
        if off_unit == "%":
            off = abs(middle) * off / 100
        elif off_unit != unit:
            raise QuantityError(f"'{text}': write the tolerance in {unit or 'the same unit'} or in %")
        return Spread(middle - off, middle + off, unit)
    if match := _SPREAD.match(stripped):
        low = None if match[1] is None else _number(match[1])
        high = None if match[3] is None else _number(match[3])
        unit = match[4] or match[2] or ""
        _check_unit(unit, text)
        if match[2] and match[2] != unit:
            raise QuantityError(f"'{text}': write both ends in {unit}")
        if low is None and high is None:
            raise QuantityError(f"'{text}' has neither a lower nor an upper end")
        if low is not None and high is not None and low > high:
            raise QuantityError(f"'{text}' has its ends the wrong way round")
        return Spread(low, high, unit)
    try:
        single = parse_quantity(stripped)
    except QuantityError:
        raise QuantityError(f"'{text}' is not a range (such as ..6 s, 5 min.., 2..6 s, 300 s ± 10 %)") from None
    return Spread(single.number, single.number, single.unit)


def show_time(ms: float) -> str:
    """A time the way a technician says it: ``35 ms``, ``4.2 s``, ``3 min``, ``5:02 min``, ``1:00:00 h``."""
    sign, ms = ("-", -ms) if ms < 0 else ("", ms)
    whole = round(ms)
    if whole < 1000:
        return f"{sign}{whole} ms"
    if whole < 60_000:
        return f"{sign}{whole / 1000:.10g} s"
    seconds, rest = divmod(whole, 1000)
    tail = f"{rest / 1000:.10g}"[1:] if rest else ""
    minutes, seconds = divmod(seconds, 60)
    if minutes < 60:
        return f"{sign}{minutes} min" if not seconds and not tail else f"{sign}{minutes}:{seconds:02d}{tail} min"
    hours, minutes = divmod(minutes, 60)
    return f"{sign}{hours}:{minutes:02d}:{seconds:02d}{tail} h"


_SHOWN: dict[Kind, tuple[str, float, float, int]] = {  # kind: unit, scale from SI, offset, decimals
    "volts": ("V", 1, 0, 1), "amps": ("A", 1, 0, 2), "ohms": ("ohm", 1, 0, 1),
    "temperature": ("°F", 1.8, 32, 1), "difference": ("°F", 1.8, 0, 1),
    "power": ("W", 1, 0, 0), "apparent_power": ("VA", 1, 0, 1), "pressure": ("in.w.c.", 1 / 249.08891, 0, 2),
    "length": ("ft", 1 / 0.3048, 0, 0), "airflow": ("CFM", 1 / 0.000471947443, 0, 0), "fraction": ("%", 100, 0, 0),
    "count": ("", 1, 0, 0), "heat_capacity": ("J/K", 1, 0, 0), "conductance": ("W/K", 1, 0, 1),
    "flame_current": ("µA", 1, 0, 1), "capacitance": ("µF", 1e6, 0, 1),
}  # fmt: skip


def shown_unit(kind: Kind) -> str:
    """The unit that values of *kind* are printed in."""
    return "ms" if kind == "time" else _SHOWN[kind][0]


def show(value: float, kind: Kind) -> str:
    """An SI value with its unit, for people."""
    if kind == "time":
        return show_time(value)
    unit, scale, offset, decimals = _SHOWN[kind]
    return f"{value * scale + offset:.{decimals}f} {unit}".strip()


def show_range(limit: Range, kind: Kind) -> str:
    """An SI range for people: ``within 6 s``, ``at least 3 min``, ``3 min to 8 min``, ``exactly 1``."""
    if limit.low == limit.high and limit.low is not None:
        return f"exactly {show(limit.low, kind)}"
    if not limit.low and limit.high is not None and kind == "time":
        return f"within {show(limit.high, kind)}"
    if limit.low is None:
        return f"at most {show(limit.high or 0.0, kind)}"
    if limit.high is None:
        return f"at least {show(limit.low, kind)}"
    return f"{show(limit.low, kind)} to {show(limit.high, kind)}"
