"""A modelled installation wired to a simulated board, in lock-step: one virtual time for processor and plant.

The plant's own 24 V nodes feed the board's inputs with half-waves of their volts and phase; current switches feed
theirs from the transformer; the board's relays make the calls, lie in the switches and in the 24 V. Nothing else passes
between them.
"""

from __future__ import annotations

import cmath
from collections.abc import Callable
from functools import partial
from math import ceil, exp, pi
from random import Random

from simulated_board import CYCLES_PER_MS, Bench

from stagecall.model.kit import Kit, Sight
from stagecall.model.kit import Probe as Thermistor
from stagecall.plant import Plant
from stagecall.plant.electric import Probe
from stagecall.points import Sensed
from stagecall.rigs.sight import point_bounds, row_of

RELAY_OPERATES_MS = 7
"""Of the relays in switches and in the 24 V; the control's contacts in the plant have times of their own."""
BOARD_SEES_MS = 5
"""What the board itself adds to a current switch's delay, at most."""
THRESHOLD = 10.0
"""Instantaneous volts from which an input conducts."""
CURRENTS: tuple[Sensed, ...] = ("amps", "load_volts", "flame_current")
"""What a dry contact of its own tells the board."""
ZERO_CELSIUS = 273.15
PROBES_EVERY_MS = 1_000
POWER = "24 V"
TRANSFORMER = 26.0
"""Volts before the relay in the control's 24 V, lightly loaded: what current switches pass on."""


class Mockup:
    """What hangs on a board: *plant* by *kit*. The plant's time 0 is the board's now.

    ``crystal``: how fast the board's clock runs against true time, which is that of plant, mains and host.
    """

    def __init__(
        self, bench: Bench, plant: Plant, kit: Kit, *, frequency: float = 60, crystal: float = 1, seed: int = 0
    ) -> None:
        assert kit.board is not None
        self.bench, self.plant, self.board = bench, plant, kit.board
        self.half_waves = True
        self._frequency, self._dice = frequency / crystal, Random(seed)
        self._per_ms = CYCLES_PER_MS * crystal
        self._start = bench.cycle
        self._closed: set[int] = set()
        self._made: frozenset[str] = frozenset()
        self._soon: list[tuple[int, Callable[[], None]]] = []
        self._fed: dict[int, Probe | complex] = {}
        self._stale: set[int] = set()
        self._probes_due = 0
        self._holding = held_closed(kit, plant)
        for name in self._holding:
            hold(plant, name, closed=False)
        for name, channel in self.board.inputs.items():
            sight = row_of(kit, name)
            if sight is not None and sight.sensed in plant.points().get(name, {}):
                self._wire(name, channel - 1, sight)
                bench.switch(channel - 1, bench.cycle, closed=True)
        self._settle()

    # --- time ---

    @property
    def us(self) -> int:
        """Since the start."""
        return int((self.bench.cycle - self._start) * 1000 / self._per_ms)

    @property
    def ms(self) -> int:
        """The plant's millisecond in which the board is."""
        return int((self.bench.cycle - self._start) / self._per_ms)

    def run(self, us: int) -> bytes:
        """Let so much time pass, or as much as it takes until bytes have come from the board."""
        until = self.bench.cycle + ceil(us * self._per_ms / 1000)
        while self.bench.cycle < until:
            due = min([self.plant._env.peek(), self._probes_due, *(ms for ms, _ in self._soon)])
            moves, came = self.bench.step(min(until, self._cycle(due)))
            self._settle()
            if moves:
                before = set(self._closed)
                for _, relay, closed in moves:
                    (self._closed.add if closed else self._closed.discard)(relay + 1)
                self._relays_moved(before)
            if came:
                return came
        return b""

    def run_for(self, ms: int) -> None:
        """Let so much time pass, whatever the board says."""
        until = self.us + ms * 1000
        while self.us < until:
            self.run(until - self.us)

    def _cycle(self, ms: float) -> int:
        return max(self.bench.cycle + 1, self._start + ceil(min(ms, 1e12) * self._per_ms))

    def _settle(self) -> None:
        """Bring the plant to the board's now, and what the board sees to the plant's."""
        now = self.ms
        for due in [one for one in self._soon if one[0] <= now]:
            self._soon.remove(due)
            self.plant.advance(max(self.plant.now, due[0]))
            due[1]()
        self.plant.advance(now)
        for channel in sorted(self._stale):
            volts = self._volts(channel)
            self.bench.mains(
                channel,
                frequency=self._frequency,
                phase=cmath.phase(volts) / (2 * pi) % 1,
                volts=abs(volts),
                threshold=THRESHOLD,
            )
        self._stale.clear()
        if now >= self._probes_due:
            self._probes_due = now + PROBES_EVERY_MS
            for name, probe in self.board.probes.items():
                if name in self.plant.points():
                    self.bench.analog(probe.analog - 1, millivolts(probe, self.plant.read(name)))

    # --- from the board ---

    def _relays_moved(self, before: set[int]) -> None:
        master = len(self.bench.part.relays) + 1 in self._closed
        known = self.plant._calls.terminals
        made = frozenset(
            call for call, relay in self.board.calls.items() if master and relay in self._closed and call in known
        )
        if made != self._made:
            self._made = made
            self.plant.call(made)
        for name, relay in self._holding.items():
            if relay in before ^ self._closed:
                act = partial(hold, self.plant, name, closed=relay in self._closed)
                self._soon.append((self.ms + RELAY_OPERATES_MS, act))

    # --- to the board ---

    def _wire(self, name: str, channel: int, sight: Sight) -> None:
        where = self.plant.points()[name][sight.sensed]
        if sight.sensed in CURRENTS:
            self._current_switch(name, channel, sight)
        elif where.node is not None:
            self._fed[channel] = Probe(where.node, f"{where.equipment}.C")
            self._hear(name, channel, sight.sensed)
        else:
            part = self.plant._parts[where.part or ""]
            self._fed[channel] = part.probes(part.name)["coil"]
            self._hear(name, channel, sight.sensed)
        self._stale.add(channel)

    def _hear(self, name: str, channel: int, sensed: Sensed) -> None:
        signal = self.plant._signal(self.plant.points()[name][sensed], sensed)
        signal.listen(lambda _: self._stale.add(channel))

    def _current_switch(self, name: str, channel: int, sight: Sight) -> None:
        """A dry contact that follows the current late, by the kit's own figures, and passes 24 V on."""
        bounds = point_bounds(name, sight)
        threshold = None if sight.threshold is None else sight.threshold.to("amps")

        def act(*, on: bool) -> None:
            self._fed[channel] = TRANSFORMER if on else 0
            self._stale.add(channel)

        def heard(ms: int, state: str) -> None:
            least, most = bounds.late_on if state == "on" else bounds.late_off
            late = least + self._dice.random() * max(0, most - BOARD_SEES_MS - least)
            self._soon.append((ms + round(late), partial(act, on=state == "on")))

        act(on=self.plant.watch(name, sight.sensed, threshold, heard) == "on")

    def _volts(self, channel: int) -> complex:
        fed, electric = self._fed[channel], self.plant._electric
        if not self.half_waves:
            return 0
        if not isinstance(fed, Probe):
            return fed
        return electric._wiring.network.solve(electric._state).volts_phasor(fed.a, fed.b)


def held_closed(kit: Kit, plant: Plant) -> dict[str, int]:
    """The relays in this plant's switches and in its 24 V, by what they lie in."""
    assert kit.board is not None
    switches = {name for profile in plant._blueprint.profiles.values() for name in profile.switches}
    holding = {name: relay for name, relay in kit.board.opens.items() if name in switches}
    return holding if kit.board.power is None else {**holding, POWER: kit.board.power}


def hold(plant: Plant, name: str, *, closed: bool) -> None:
    """What such a relay does."""
    if name == POWER:
        plant.power(on=closed)
    else:
        plant.switch(name, "closed" if closed else "open")


def millivolts(probe: Thermistor, celsius: float) -> int:
    """What a divider of 10 kilohm to 5 V and a thermistor of 10 kilohm at 25 °C to ground gives."""
    ohms = 10_000 * exp(probe.beta * (1 / (celsius + ZERO_CELSIUS) - 1 / (25 + ZERO_CELSIUS)))
    return round(5_000 * ohms / (ohms + 10_000))


class LockstepLink:
    """The board's line in the mockup's time: waiting for bytes is what lets it pass."""

    name = "simulated board"

    def __init__(self, mockup: Mockup) -> None:
        self._mockup = mockup

    def now_us(self) -> int:
        """The host's clock: the mockup's."""
        return self._mockup.us

    def send(self, data: bytes) -> None:
        """Put it on the wire; the bytes go one after the other."""
        self._mockup.bench.send(data)

    def receive(self, wait_us: int) -> bytes:
        """What comes first, or nothing."""
        return self._mockup.run(wait_us)

    def close(self) -> None:
        """A line of one's own needs no letting go."""
