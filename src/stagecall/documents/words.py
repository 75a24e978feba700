"""Which fields of the model hold words of the vocabulary, and which kind of quantity a field takes.

One table, so that a new field is one row. A field that is not here is free text, or any quantity.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from difflib import get_close_matches
from typing import NamedTuple, get_args

from stagecall import points, units
from stagecall.model import equipment, kit, sequence, system
from stagecall.model import map as recording_map

Word = Callable[[str], str]
"""Gives the word in its full form, or raises :class:`WordError`."""


class WordError(ValueError):
    """Not a word of the vocabulary; the message is the complaint."""


def unknown(text: str, what: str, known: Iterable[str]) -> str:
    """The complaint of an unknown word: ``'blowr' is not a point; did you mean 'blower'?``."""
    listed = sorted(known)
    if near := get_close_matches(text, listed, n=1, cutoff=0.65):
        return f"'{text}' is not {what}; did you mean '{near[0]}'?"
    if len(listed) <= 12:
        return f"'{text}' is not {what}; known: {', '.join(listed)}"
    return f"'{text}' is not {what}"


def point(text: str) -> str:
    """Any point."""
    if points.point(text) is None:
        raise WordError(unknown(text, "a point", points.POINTS))
    return text


def switch(text: str) -> str:
    """A point that is a switch."""
    known = points.point(text)
    if known is None:
        names = [name for name, one in points.POINTS.items() if one.states == points.SWITCH]
        raise WordError(unknown(text, "a switch", names))
    if known.states != points.SWITCH:
        raise WordError(f"'{text}' is a point, but not a switch")
    return text


def quantity(text: str) -> str:
    """A point that is read, not switched."""
    known = points.point(text)
    if known is None:
        names = [name for name, one in points.POINTS.items() if one.quantity is not None]
        raise WordError(unknown(text, "a quantity that can be read", names))
    if known.quantity is None:
        raise WordError(f"'{text}' has states, it is not a quantity that can be read")
    return text


def call(text: str) -> str:
    """A terminal that can be called."""
    full = points.terminal(text)
    if full not in points.CALLS:
        raise WordError(unknown(text, "a terminal that can be called", (*points.CALLS, *points.TERMINAL_ALIASES)))
    return full


def terminal(text: str) -> str:
    """Any terminal, as it is written."""
    if points.terminal(text) is None:
        raise WordError(unknown(text, "a terminal", (*points.TERMINALS, *points.TERMINAL_ALIASES)))
    return text


def equipment_kind(text: str) -> str:
    """A kind of machine."""
    known = get_args(equipment.EquipmentKind)
    if text not in known:
        raise WordError(unknown(text, "a kind of equipment", known))
    return text


FIGURES = (
    "upstage_time", "brown_out_return_delay",
    "compressor_minimum_off", "power_up_delay", "prepurge", "ignitor_warm_up", "flame_proving_time", "inter_purge",
    "post_purge", "draft_to_gas", "pressure_switch_proving_time", "limit_lockout_time", "heat_blower_on_delay",
    "heat_blower_off_delay", "compressor_amps", "outdoor_fan_amps", "blower_amps", "compressor_capacitor",
    "fan_capacitor", "temperature_rise",
    "cool_blower_on_delay", "cool_blower_off_delay", "fire_delay", "stored_heat_time", "circulator_off_delay",
    "motor_valve_time", "wax_valve_time", "valve_delay", "safety_time", "recycle_wait",
    "leak_blower_time", "damper_time", "damper_lead", "zone_purge_time",
    "defrost_interval", "defrost_time_limit",
    "heat_pump_rise", "heat_pump_low_rise", "heat_pump_split", "heat_pump_low_split", "heat_pump_amps",
)  # fmt: skip
"""Figures of makers by which systems, limits and parameters mean the same thing."""


def figure(text: str) -> str:
    """A maker's figure; one that nobody asks for would be a spelling mistake that moves nothing."""
    if text not in FIGURES:
        raise WordError(unknown(text, "a figure that anything here is moved by", FIGURES))
    return text


class Rule(NamedTuple):
    """What a field's words and quantities must be.

    Of a table ``word`` holds for the keys; ``inside`` holds for its values, or with ``by_point`` the kind of quantity
    follows from the point that is the key.
    """

    word: Word | None = None
    kind: units.Kind | None = None
    by_point: bool = False
    inside: Rule | None = None


ANYTHING = Rule()
_TIME = Rule(kind="time")
_CALLS = Rule(word=call)
_POINTS = Rule(word=point)
_SWITCHES = Rule(word=switch)
_BY_POINT = Rule(word=quantity, by_point=True)

RULES: dict[tuple[type, str], Rule] = {
    (sequence.Needs, "calls"): _CALLS,
    (sequence.Needs, "points"): _POINTS,
    (sequence.Needs, "switches"): _SWITCHES,
    (sequence.Needs, "equipment"): Rule(word=equipment_kind),
    (sequence.AppliesIf, "point"): _POINTS,
    (sequence.AppliesIf, "no_point"): _POINTS,
    (sequence.AppliesIf, "call"): _CALLS,
    (sequence.Sequence, "conditions"): _BY_POINT,
    (sequence.Limit, "maker_data"): Rule(word=figure),
    (sequence.Step, "call"): _CALLS,
    (sequence.Step, "open_switch"): _SWITCHES,
    (sequence.Step, "restore"): _SWITCHES,
    (sequence.Step, "set"): _BY_POINT,
    (sequence.Step, "read"): Rule(word=quantity),
    (sequence.Step, "keep"): _TIME,
    (sequence.Turns, "within"): _TIME,
    (sequence.Turns, "usual"): _TIME,
    (sequence.Stays, "stays_for"): _TIME,
    (sequence.Stays, "stays_from"): _TIME,
    (sequence.Stays, "tolerate"): _TIME,
    (sequence.Order, "gaps"): _TIME,
    (sequence.Never, "tolerate"): _TIME,
    (sequence.Times, "count"): Rule(kind="count"),
    (sequence.Times, "per"): _TIME,
    (kit.Kit, "call_width"): _TIME,
    (kit.Kit, "points"): _POINTS,
    (kit.Board, "calls"): _CALLS,
    (kit.Board, "opens"): _SWITCHES,
    (kit.Board, "inputs"): _POINTS,
    (kit.Board, "probes"): Rule(word=quantity),
    (kit.Board, "compressor"): _CALLS,
    (kit.Board, "readback"): _CALLS,
    (kit.Board, "exclusive"): _CALLS,
    (kit.Modbus, "answer"): _TIME,
    (kit.Modbus, "operate"): _TIME,
    (kit.Modbus, "every"): _TIME,
    (kit.Sight, "on"): _TIME,
    (kit.Sight, "off"): _TIME,
    (kit.Sight, "blind"): _TIME,
    (kit.Sight, "every"): _TIME,
    (kit.Sight, "holds"): _TIME,
    (kit.Sight, "lag"): _TIME,
    (equipment.Parameter, "maker_data"): Rule(word=figure),
    (equipment.Equipment, "points"): _POINTS,
    (equipment.Equipment, "switches"): _SWITCHES,
    (equipment.Equipment, "energises"): Rule(word=call, inside=_POINTS),
    (system.Control, "terminals"): Rule(word=terminal),
    (system.Control, "jumpers"): Rule(word=terminal),
    (system.Control, "aux"): _CALLS,
    (system.Control, "emergency"): _CALLS,
    (system.Conductor, "length"): Rule(kind="length"),
    (system.System, "surroundings"): _BY_POINT,
    (system.System, "maker_data"): Rule(word=figure),
    (recording_map.Column, "call"): _CALLS,
    (recording_map.Column, "point"): _POINTS,
    (recording_map.Column, "holds"): _TIME,
    (recording_map.Time, "interval"): _TIME,
    (recording_map.Time, "gap"): _TIME,
}
