"""The modelled rig: the plant seen through a kit, never the model's truth.

What it does not model: a kit that is wired wrongly, and noise on an input. A pulse shorter than a kit's blind time is
missed with the chance that its length leaves.
"""

from __future__ import annotations

import math
from bisect import insort
from collections.abc import Callable, Mapping, Sequence
from random import Random
from typing import TYPE_CHECKING, Any, Literal

import msgspec

from stagecall.model.event import Call, Edge, Event, PointBounds, Power, Reading, Snapshot, SourceBounds, Switch
from stagecall.model.fault import AppliedFault
from stagecall.model.kit import Kit, Sight
from stagecall.plant import Plant, blueprint, build
from stagecall.points import Sensed, point
from stagecall.rigs.contract import Batch, Move, Rig
from stagecall.rigs.sight import call_width, point_bounds, row_of
from stagecall.units import Kind

if TYPE_CHECKING:
    from stagecall.rigs.registry import Opener, RigSpec

_THRESHOLD_KIND: dict[Sensed, Kind] = {"amps": "amps", "flame_current": "flame_current"}


class _Held(msgspec.Struct, order=True, gc=False):
    """An event that is not due yet."""

    t: int
    order: int
    happened: int
    ready: int
    event: Event


class _Probe(msgspec.Struct):
    """A quantity that is being read: the sensor's lagging value and its own small error."""

    true: Callable[[], float]
    every: int
    lag: float
    error: float
    due: int
    value: float
    read_at: int


class _Rows(msgspec.Struct, frozen=True):
    """A kit's rows that this system has points for, ready for use."""

    bounds: SourceBounds
    states: tuple[tuple[str, Sensed, float | None], ...]
    readings: Mapping[str, tuple[int, float]]
    """Of each quantity: how often it is read and how long its sensor takes, ms."""


def see(kit: Kit, points: Mapping[str, Mapping[Sensed, object]]) -> _Rows:
    """What this kit sees of a system's *points*; reusable from run to run."""
    bounds: dict[str, PointBounds] = {}
    states: list[tuple[str, Sensed, float | None]] = []
    readings: dict[str, tuple[int, float]] = {}
    for name, means in points.items():
        sight, known = row_of(kit, name), point(name)
        if sight is None or known is None or (by := _told_by(sight.sensed, means)) is None:
            continue
        bounds[name] = point_bounds(name, sight)
        if known.quantity is None:
            unit = _THRESHOLD_KIND.get(by, "volts")
            threshold = None if sight.threshold is None else sight.threshold.to(unit)
            states.append((name, by, threshold))
        else:
            readings[name] = _pace(sight)
    return _Rows(
        SourceBounds(makes_calls=kit.makes_calls, points=bounds, call_width=call_width(kit)), tuple(states), readings
    )


def _pace(sight: Sight) -> tuple[int, float]:
    every = int(sight.every.to("time")) if sight.every else 1000
    return every, sight.lag.to("time") if sight.lag else 0.0


_HEARD_AND_SEEN: tuple[Sensed, ...] = ("person", "amps", "flame_current", "contact")
"""What tells a person of the model: a motor that draws current is heard, a flame or a glow is seen, a contactor clicks.

A compressor that only hums at its locked rotor is heard as well, and taken for one that runs.
"""


def _told_by(sensed: Sensed, means: Mapping[Sensed, object]) -> Sensed | None:
    """The means by which the model has what a kit senses; None where it has none."""
    if sensed != "person":
        return sensed if sensed in means else None
    return next((by for by in _HEARD_AND_SEEN if by in means), None)


class SimulatedRig(Rig):
    """Runs a plant and reports what the kit can see of it."""

    name = "simulated"
    tested_on = "model"
    runs_ahead = True

    def __init__(self, plant: Plant, rows: _Rows, seed: int = 0) -> None:
        super().__init__()
        self.plant = plant
        self.bounds = rows.bounds
        self._readings = rows.readings
        self._draw = Random(seed).random
        self._held: list[_Held] = []
        self._count = 0
        self._probes: dict[str, _Probe] = {}
        self._read_next: float = math.inf
        """When the first of them is due, ms."""
        self._calls: set[str] = set()
        self._power: Literal["on", "off"] = "on"
        self._states: dict[str, str] = {}
        for name, sensed, threshold in rows.states:
            self._states[name] = plant.watch(name, sensed, threshold, self._ear(name))
        plant.watch_calls(self._hear_call)
        plant.watch_power(self._hear_power)
        plant.watch_switches(self._hear_switch)

    @property
    def now(self) -> int:
        """Model time, ms."""
        return self.plant.now

    def _ear(self, name: str) -> Callable[[int, str], None]:
        bounds = self.bounds.points[name]
        late = {True: bounds.late_on, False: bounds.late_off}
        blind = bounds.blind

        def hear(ms: int, state: str) -> None:
            if blind and (before := self._last_held(name)) and ms - before.happened < self._draw() * blind:
                self._held.remove(before)
                return
            least, most = late[state not in ("off", "open")]
            t = ms + 1 + int(self._draw() * (most - least))
            self._hold(Edge(t=t, e=max(0, t - (most - least)), point=name, state=state), ms, ms + blind)

        return hear

    def _last_held(self, name: str) -> _Held | None:
        for held in reversed(self._held):
            if type(held.event) is Edge and held.event.point == name:
                return held
        return None

    def _hold(self, event: Event, happened: int, ready: int) -> None:
        self._count += 1
        insort(self._held, _Held(event.t, self._count, happened, max(ready, event.t), event))

    def _stamp(self, ms: int) -> tuple[int, int]:
        width = self.bounds.call_width
        t = ms + 1 + int(self._draw() * width)
        return max(0, t - width), t

    def _hear_call(self, ms: int, terminal: str, state: Any) -> None:
        e, t = self._stamp(ms)
        self._hold(Call(t=t, e=e, terminal=terminal, state=state), ms, ms)

    def _hear_power(self, ms: int, state: Any) -> None:
        e, t = self._stamp(ms)
        self._hold(Power(t=t, e=e, state=state), ms, ms)

    def _hear_switch(self, ms: int, name: str, state: Any) -> None:
        e, t = self._stamp(ms)
        self._hold(Switch(t=t, e=e, name=name, state=state), ms, ms)

    def _advance(self, until: int) -> Batch:
        plant = self.plant
        before = plant.now
        target: float = until
        if self._held:
            waiting = [held.ready for held in self._held if held.t <= until and held.ready > before]
            target = min(waiting, default=until)
        target = min(target, self._read_next)
        if target > before:
            plant.advance_to_change(int(target))
        now = plant.now
        if now >= self._read_next:
            self._read_all(now)
        if not self._held:
            return Batch([], now)
        settled = min(now, next((held.t - 1 for held in self._held if held.ready > now), now))
        events: list[Event] = []
        while self._held and self._held[0].t <= settled:
            event = self._held.pop(0).event
            self._remember(event)
            events.append(event)
        return Batch(events, settled)

    def _remember(self, event: Event) -> None:
        match event:
            case Edge():
                self._states[event.point] = event.state
            case Call():
                (self._calls.add if event.state == "on" else self._calls.discard)(event.terminal)
            case Power():
                self._power = event.state

    def snapshot(self) -> Snapshot:
        """What the kit sees now."""
        return Snapshot(t=self.now, calls=tuple(sorted(self._calls)), power=self._power, points=dict(self._states))

    def sample(self, points: frozenset[str]) -> None:
        """Read these quantities from now on."""
        self._probes = {
            name: self._probes.get(name) or self._new_probe(name) for name in sorted(points) if name in self._readings
        }
        self._read_next = min([probe.due for probe in self._probes.values()], default=math.inf)

    def _new_probe(self, name: str) -> _Probe:
        every, lag = self._readings[name]
        error = (2 * self._draw() - 1) * self.bounds.points[name].uncertainty
        true, now = self.plant.reader(name), self.now
        return _Probe(true, every, lag, error, due=now + every, value=true(), read_at=now)

    def _read_all(self, now: int) -> None:
        """Read what is due by now."""
        for name, probe in self._probes.items():
            if now >= probe.due:
                self._read(name, probe, now)
        self._read_next = min([probe.due for probe in self._probes.values()])

    def _read(self, name: str, probe: _Probe, now: int) -> None:
        share = 1.0 if not probe.lag else 1 - math.exp((probe.read_at - now) / probe.lag)
        probe.value += (probe.true() - probe.value) * share
        probe.read_at, probe.due = now, now + probe.every
        self._hold(Reading(t=now, point=name, value=float(f"{probe.value + probe.error:.7g}")), now, now)

    def _move(self, move: Move) -> None:
        if move.surroundings:
            self.plant.surroundings(move.surroundings)
        if move.open_switch is not None:
            self.plant.switch(move.open_switch, "open")
        if move.restore is not None:
            self.plant.switch(move.restore, "closed")
        if move.press is not None:
            self.plant.press(move.press)
        if move.power is not None:
            self.plant.power(move.power == "on")
        if move.calls is not None:
            self.plant.call(move.calls)
        if move.control is not None:
            self.plant.ask_control(move.control)

    def clear(self, what: str) -> None:
        """Play the person who resets what was locked out."""
        self.plant.clear(what)


def prepare(spec: RigSpec) -> Opener:
    """A model of this system, built once; each call gives a rig on a machine of its own, at rest and powered."""
    plan = blueprint(spec.system, spec.profiles)
    rows: _Rows | None = None

    def open_rig(seed: int, faults: Sequence[AppliedFault], *, drawn: bool) -> Rig:
        nonlocal rows
        plant = build(plan, seed=seed, faults=faults, draw=drawn)
        if rows is None:
            rows = see(spec.kit, plant.points())
        return SimulatedRig(plant, rows, seed)

    return open_rig
