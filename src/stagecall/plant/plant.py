"""A running model of one installation."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any, Literal, cast

import simpy

from stagecall.errors import UsageError
from stagecall.model.asking import ControlAsk
from stagecall.model.equipment import Value
from stagecall.model.fault import AppliedFault
from stagecall.plant.air import Air, House
from stagecall.plant.blueprint import Blueprint
from stagecall.plant.control import Calls, ControlParameters
from stagecall.plant.electric import Electric
from stagecall.plant.loose import Loose, is_loose
from stagecall.plant.parameters import unknown
from stagecall.plant.part import Bench
from stagecall.plant.points import Where
from stagecall.plant.reversing import ReversingValve
from stagecall.plant.signals import Signal
from stagecall.plant.supply import Transformer
from stagecall.plant.switches import SafetySwitch
from stagecall.plant.thermostat import Thermostat, ThermostatParameters
from stagecall.points import Sensed, kind_of, point

THRESHOLDS: dict[Sensed, float] = {
    "call_volts": 12.0, "coil_volts": 12.0, "contact": 12.0, "load_volts": 12.0, "amps": 0.1, "flame_current": 0.5,
}  # fmt: skip
"""From what volts, amps or microamps a point reads as on where the watcher sets no threshold of its own."""
_PART_SIGNAL: dict[Sensed, str] = {
    "contact": "closed", "load_volts": "fed", "amps": "amps", "flame_current": "flame_current",
}  # fmt: skip
SURROUNDINGS = ("outdoor_air", "room_air", "line_voltage")
_TYPICAL_ROOM, _TYPICAL_OUTDOOR = 21.0, 21.0
_ROUNDS_TO_REST = 20
"""Coils that feed coils come to rest in a few rounds; what chatters for ever does so in the run, not before it."""

Heard = Callable[[int, str], None]
"""Is told the moment and the state."""
NamedHeard = Callable[[int, str, str], None]
"""Is told the moment, the terminal or switch, and the state."""


class Clockwork(simpy.Environment):
    """An environment that can stand at a moment at which nothing happens."""

    def stand_at(self, moment: int) -> None:
        """Let time pass to that moment, ms; nothing is due up to it, and time never runs back."""
        self._now = max(self._now, moment)


class Plant:
    """One run of a model: powered and rested when it begins. Made by :func:`build`."""

    def __init__(
        self,
        blueprint: Blueprint,
        *,
        seed: int,
        faults: Sequence[AppliedFault],
        draw: bool,
        settings: Mapping[str, Value],
    ) -> None:
        self._blueprint = blueprint
        wire_faults = [applied for applied in faults if applied.fault.in_wiring]
        parameters, site = blueprint.parameters(seed=seed, drawn=draw, settings=settings, faults=faults)
        control = cast("ControlParameters", site["control"])
        wiring = blueprint.wiring(parameters, control, wire_faults)
        env = self._env = Clockwork()
        self._electric = Electric(env, wiring)
        set_up = {name: value.to(kind_of(name)) for name, value in blueprint.system.surroundings.items()}
        self._air = Air(
            env,
            cast("House", site["house"]),
            room=set_up.get("room_air", _TYPICAL_ROOM),
            outdoor=set_up.get("outdoor_air", _TYPICAL_OUTDOOR),
        )
        self._calls = Calls(env, self._electric, blueprint.system.control, control, seed)
        bench = Bench(env, self._electric, self._air, blueprint.joined, blueprint.probes, seed)
        self._parts = bench.parts
        for name, fitting in blueprint.fittings.items():
            bench.parts[name] = fitting.kind(bench, name, parameters[name])
        self._thermostat: Thermostat | None = None
        self._thermostat_set = cast("ThermostatParameters", site["thermostat"])
        self._power_heard: list[Heard] = []
        self._switch_heard: list[NamedHeard] = []
        self._heard = False
        loose = [Loose(env, self._electric, applied.target, seed) for applied in wire_faults if is_loose(applied)]
        self._come_to_rest()
        for conductor in loose:
            conductor.begin()

    def _come_to_rest(self) -> None:
        parts = self._parts.values()
        for part in parts:
            part.connect()
        for part in parts:
            part.rest()
        for _ in range(_ROUNDS_TO_REST):
            if not self._electric.settle():
                break
            for part in parts:
                part.adopt()
        for part in parts:
            part.begin()

    @property
    def now(self) -> int:
        """Ms since the plant began."""
        return int(self._env.now)

    def advance(self, until: int) -> None:
        """Run the model up to and with that millisecond."""
        env = self._env
        while env.peek() <= until:
            env.step()
        env.stand_at(until)

    def advance_to_change(self, until: int) -> None:
        """The same, but stop after the first millisecond in which a listener was called."""
        env = self._env
        self._heard = False
        while (due := env.peek()) <= until:
            if self._heard and due > env.now:
                return
            env.step()
        if not self._heard:
            env.stand_at(until)

    def call(self, calls: frozenset[str]) -> None:
        """Let the control's contacts make exactly these calls.

        Raises:
            UsageError: a terminal that the control has not.
        """
        self._calls.ask(calls)

    def ask_control(self, ask: ControlAsk) -> None:
        """Set the installed thermostat, which then calls on its own."""
        if self._thermostat is None:
            valve = self._blueprint.system.control.valve
            known = None if valve == "unknown" else valve
            self._thermostat = Thermostat(self._env, self._air, self._calls, self._thermostat_set, known)
        self._thermostat.ask(ask)

    def power(self, on: bool) -> None:
        """Switch the disconnect of every 24 V transformer."""
        for part in self._parts.values():
            if isinstance(part, Transformer):
                part.power(on=on)
        self._tell(self._power_heard, "on" if on else "off")

    def switch(self, name: str, state: Literal["open", "closed"]) -> None:
        """Open a safety switch on purpose, or restore it.

        Raises:
            UsageError: no machine of the system has a switch of that name that may be opened.
        """
        may = {
            switch: f"{machine}.{part}"
            for machine, profile in self._blueprint.profiles.items()
            for switch, part in profile.switches.items()
        }
        if name not in may:
            raise unknown(name, may, f"system {self._blueprint.system.system}: the list of switches to open")
        part = self._parts[may[name]]
        assert isinstance(part, SafetySwitch)  # noqa: S101 - the blueprint has seen to it
        part.lift(lifted=state == "open")
        for heard in self._switch_heard:
            self._heard = True
            heard(self.now, name, state)

    def press(self, what: str) -> None:
        """Join a board's test pins as its maker says: ``defrost_test``.

        Raises:
            UsageError: nothing on this system has that test.
        """
        if not any(part.press(what) for part in self._parts.values()):
            raise UsageError(f"nothing on system {self._blueprint.system.system} has a test called '{what}'")

    def surroundings(self, values: Mapping[str, float]) -> None:
        """Set ``outdoor_air`` and ``room_air``, in °C, and the ``line_voltage`` at every transformer, in volts.

        Raises:
            UsageError: another name.
        """
        if others := [name for name in values if name not in SURROUNDINGS]:
            raise unknown(others[0], dict.fromkeys(SURROUNDINGS), "the model's surroundings")
        if "line_voltage" in values:
            for part in self._parts.values():
                if isinstance(part, Transformer):
                    part.feed(values["line_voltage"])
        self._air.set_surroundings(room=values.get("room_air"), outdoor=values.get("outdoor_air"))

    def clear(self, what: str) -> None:
        """What a person resets: ``ignition_lockout``, ``pressure_lockout``, ``limit_lockout``, ``fuse``.

        Raises:
            UsageError: nothing on this system can be reset by that name.
        """
        word = what.replace("-", "_").replace(" ", "_")
        cleared = [part.clear(word) for part in self._parts.values()]
        if not any(cleared):
            raise UsageError(f"nothing on system {self._blueprint.system.system} can be reset by the name '{what}'")

    def points(self) -> Mapping[str, Mapping[Sensed, Where]]:
        """Every point of this system and the means by which it can be sensed."""
        return self._blueprint.places

    def watch(self, name: str, sensed: Sensed, threshold: float | None, heard: Heard) -> str:
        """Tell every change of a point as sensed by that means; returns its state now.

        *threshold* is in volts, amps or microamps by the means; None: ``THRESHOLDS``.

        Raises:
            UsageError: the system has no such point, or it cannot be sensed by that means.
        """
        means = self._blueprint.places.get(name)
        if means is None:
            raise unknown(name, self._blueprint.places, f"system {self._blueprint.system.system}")
        known = point(name)
        if sensed not in means or known is None or len(known.states) != 2:
            raise UsageError(f"{name} cannot be watched by {sensed} on system {self._blueprint.system.system}")
        least = THRESHOLDS[sensed] if threshold is None else threshold
        signal = self._signal(means[sensed], sensed)
        on, off = known.states
        state = on if signal.value >= least else off

        def changed(value: float) -> None:
            nonlocal state
            new = on if value >= least else off
            if new != state:
                state = new
                self._heard = True
                heard(int(self._env.now), new)

        if isinstance(signal.value, bool):
            least = 1
            state = on if signal.value else off
        signal.listen(changed)
        return state

    def _signal(self, where: Where, sensed: Sensed) -> Signal[Any]:
        if where.node is not None:
            return self._electric.levels[self._blueprint.probes[where.key]]
        part = self._parts[where.part or ""]
        if isinstance(part, ReversingValve):
            return part.set_for_cool
        if sensed == "coil_volts":
            return part.level("coil")
        signal: Signal[Any] = getattr(part, _PART_SIGNAL[sensed])
        return signal

    def watch_calls(self, heard: NamedHeard) -> None:
        """Tell every move of a call's contact."""

        def moved(ms: int, terminal: str, state: str) -> None:
            self._heard = True
            heard(ms, terminal, state)

        self._calls.listen(moved)

    def watch_power(self, heard: Heard) -> None:
        """Tell when the 24 V supply goes on or off."""
        self._power_heard.append(heard)

    def watch_switches(self, heard: NamedHeard) -> None:
        """Tell when a switch is opened on purpose or restored."""
        self._switch_heard.append(heard)

    def _tell(self, listeners: list[Heard], state: str) -> None:
        for heard in listeners:
            self._heard = True
            heard(self.now, state)

    def read(self, name: str) -> float:
        """A quantity now, in SI (temperatures in °C, flame current in microamps).

        Raises:
            UsageError: the system has no such quantity.
        """
        return self.reader(name)()

    def reader(self, name: str) -> Callable[[], float]:
        """What reads that quantity, whenever it is called.

        Raises:
            UsageError: the system has no such quantity.
        """
        air = self._air
        match name:
            case "room_air" | "return_air":
                return air.room_now
            case "outdoor_air":
                return lambda: air.outdoor
            case "supply_air":
                return air.supply
            case "air_split":
                return lambda: air.supply() - air.room
        for sensed, where in self._blueprint.places.get(name, {}).items():
            part = self._parts.get(where.part or "")
            if part is not None and part.reading(name) is not None:
                return lambda: cast("float", part.reading(name))
            if where.node is not None or sensed in ("amps", "flame_current"):
                signal = self._signal(where, sensed)
                return lambda: float(signal.value)
        raise UsageError(f"system {self._blueprint.system.system} has nothing to read called '{name}'")


def build(
    blueprint: Blueprint,
    *,
    seed: int = 0,
    faults: Sequence[AppliedFault] = (),
    draw: bool = False,
    settings: Mapping[str, Value] = {},
) -> Plant:
    """A plant, powered and rested.

    Args:
        blueprint: the system's.
        seed: decides what is drawn, and what differs from one time to the next within the run.
        faults: what is wrong with it.
        draw: False: typical values (the maker's where the system gives them). True: a healthy machine, drawn.
        settings: ``equipment.part.parameter`` (or ``house.…``, ``control.…``) to a value.

    Raises:
        UsageError: a setting or fault for something that is not there.
    """
    return Plant(blueprint, seed=seed, faults=faults, draw=draw, settings=settings)
