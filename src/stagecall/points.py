"""The vocabulary: terminals that can be called, and points that can be observed.

A name in a document that is not here is a spelling mistake. Devices of which there may be several bear a number
(``strip_2``, ``zone_valve_1``).
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from difflib import get_close_matches
from typing import Literal, get_args

import msgspec

from stagecall.units import Kind

Sensed = Literal[
    "call_volts", "coil_volts", "contact", "load_volts", "amps", "flame_current", "air_temp", "pressure", "person"
]
SENSED: tuple[Sensed, ...] = get_args(Sensed)
SENSED_WORDS: dict[Sensed, str] = {
    "call_volts": "24 V on the wire",
    "coil_volts": "coil volts",
    "contact": "contact",
    "load_volts": "load volts",
    "amps": "amps",
    "flame_current": "flame current",
    "air_temp": "air probe",
    "pressure": "pressure",
    "person": "a person",
}

TERMINALS: tuple[str, ...] = (
    "R", "Rc", "Rh", "C", "Y1", "Y2", "G", "W1", "W2", "W3", "O", "B", "E", "HUM", "DEHUM",
)  # fmt: skip
HOT: tuple[str, ...] = TERMINALS[:3]
CALLS: tuple[str, ...] = TERMINALS[4:]
TERMINAL_ALIASES = {"Y": "Y1", "W": "W1"}
COMPRESSOR_CALLS = frozenset({"Y1", "Y2"})
HEAT_CALLS = frozenset({"W1", "W2", "W3", "E"})

ON_OFF = ("on", "off")
SWITCH = ("closed", "open")
CHATTER = "chatter"


class Point(msgspec.Struct, frozen=True):
    """Something that can be observed: its states, or the kind of quantity it is."""

    name: str
    meaning: str
    states: tuple[str, ...] = ()
    quantity: Kind | None = None


def _table() -> dict[str, Point]:
    on_off = {
        "compressor": "the compressor runs",
        "contactor": "the compressor contactor is energised",
        "outdoor_fan": "the outdoor fan runs",
        "blower": "the indoor blower runs",
        "inducer": "the draft inducer runs",
        "ignitor": "the hot-surface ignitor is powered",
        "gas_valve": "the gas valve is energised",
        "flame": "flame is proved",
        "gas_valve_high": "the gas valve's second stage is energised",
        "compressor_high": "the compressor's second stage is energised",
        "defrost": "the outdoor unit defrosts",
        "aux_heat": "auxiliary heat is energised",
        "strip": "the heating strip is energised",
        "circulator": "the circulator runs",
        "boiler": "the boiler burner control is called",
        "burner": "the burner runs",
        "zone_valve": "the zone valve is energised",
        "humidifier": "the humidifier is energised",
        "dehumidify": "dehumidify is called",
        "crankcase_heater": "the compressor heater is powered",
        "fresh_air": "the fresh-air damper is energised",
        "leak_alarm": "the refrigerant leak board is in alarm",
        "alarm": "an alarm contact is made",
    }
    switches = {
        "pressure_switch": "the draft pressure switch",
        "limit": "the high limit switch",
        "rollout": "the flame roll-out switch",
        "pressure_switch_high": "the draft pressure switch of high fire",
        "flame_rod": "the flame rod's lead",
        "defrost_sensor_clip": "the clip that holds the defrost sensor on the coil",
        "phase_monitor": "the phase monitor's contact",
        "high_pressure": "the refrigerant high-pressure switch",
        "low_pressure": "the refrigerant low-pressure switch",
        "float_switch": "the condensate float switch",
        "door_switch": "the blower door switch",
        "end_switch": "the zone valve's end switch",
        "low_water": "the low-water cutoff",
        "aquastat": "the boiler aquastat",
        "damper": "the zone damper",
        "smoke_detector": "the duct smoke detector",
        "leak_sensor": "the refrigerant leak sensor's lead",
        "flame_detector": "the oil burner's flame detector",
    }
    quantities: dict[str, tuple[str, Kind]] = {
        "supply_air": ("supply air temperature", "temperature"),
        "return_air": ("return air temperature", "temperature"),
        "outdoor_air": ("outdoor air temperature", "temperature"),
        "room_air": ("room air temperature", "temperature"),
        "outdoor_coil": ("outdoor coil temperature", "temperature"),
        "boiler_water": ("boiler water temperature", "temperature"),
        "air_split": ("supply less return air temperature", "difference"),
        "control_voltage": ("voltage from R to C", "volts"),
        "machine_voltage": ("voltage from R to C at the machine's own transformer", "volts"),
        "thermostat_voltage": ("voltage from R to C at the thermostat's end of the cable", "volts"),
        "line_voltage": ("line voltage at the transformer", "volts"),
        "control_current": ("current from the control transformer", "amps"),
        "flame_current": ("flame current", "flame_current"),
        "compressor_amps": ("current of the compressor", "amps"),
        "outdoor_fan_amps": ("current of the outdoor fan", "amps"),
        "strip_amps": ("current of the heating strip", "amps"),
        "blower_amps": ("current of the indoor blower", "amps"),
        "compressor_capacitor": ("capacitance of the run capacitor's compressor section", "capacitance"),
        "fan_capacitor": ("capacitance of the run capacitor's fan section", "capacitance"),
    }
    table = {name: Point(name, meaning, ON_OFF) for name, meaning in on_off.items()}
    table |= {name: Point(name, meaning, SWITCH) for name, meaning in switches.items()}
    table |= {name: Point(name, meaning, (), kind) for name, (meaning, kind) in quantities.items()}
    table["reversing_valve"] = Point("reversing_valve", "what the reversing valve is set for", ("cool", "heat"))
    table |= {
        f"wire_{call}": Point(f"wire_{call}", f"24 V arrives on the {call} wire", ON_OFF) for call in ("R", *CALLS)
    }
    return table


POINTS: dict[str, Point] = _table()
NUMBERED = frozenset({
    "strip", "strip_amps", "zone_valve", "end_switch", "damper", "circulator", "contactor", "compressor", "transformer",
    "humidifier",
})  # fmt: skip
_NUMBER = re.compile(r"_(\d+)$")


def point(name: str) -> Point | None:
    """The point of that name, or None where the vocabulary has none."""
    if (known := POINTS.get(name)) is not None:
        return known
    match = _NUMBER.search(name)
    if match is None:
        return None
    base = name[: match.start()]
    known = POINTS.get(base)
    if known is None or base not in NUMBERED:
        return None
    return msgspec.structs.replace(known, name=name)


def at_rest(name: str) -> str | None:
    """The state of a point where nothing runs and no switch has opened; None where it has no such state."""
    known = point(name)
    if known is None:
        return None
    return next((state for state in ("off", "closed") if state in known.states), None)


def kind_of(name: str) -> Kind:
    """What a point that is read measures; ``count`` for any other."""
    known = point(name)
    return known.quantity if known is not None and known.quantity is not None else "count"


def terminal(name: str) -> str | None:
    """The full name of a terminal (``Y`` is Y1), or None."""
    full = TERMINAL_ALIASES.get(name, name)
    return full if full in TERMINALS else None


def with_article(word: str) -> str:
    """``a relay``, ``an ignitor``."""
    return f"{'an' if word[:1] in 'aeiou' else 'a'} {word}"


def nearest(word: str, known: Iterator[str] | tuple[str, ...] | list[str]) -> str | None:
    """The known word most like *word*, for a complaint that helps."""
    found = get_close_matches(word, list(known), n=1, cutoff=0.5)
    return found[0] if found else None
