"""A modelled mockup behind an off-the-shelf board, in virtual time: what a request asks is answered from the plant."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime
from functools import partial

from stagecall.documents import Library
from stagecall.errors import RigLostError
from stagecall.plant import Plant, blueprint, build
from stagecall.rigs.channels import Channels, channels
from stagecall.rigs.clock import HandClock
from stagecall.rigs.modbus_rig import ModbusRig

SYSTEM, KIT = "trainer-mockup", "bench-modbus-8"
ANSWER_MS = 30
RELAYS = INPUTS = 8


class PolledPlant:
    """Relays close the plant's calls and lie in its switches; inputs see its points as the kit's rows say."""

    def __init__(self, plant: Plant, wanted: Channels, clock: HandClock) -> None:
        self._plant, self._clock = plant, clock
        self._board = wanted.board
        self.closed = [False] * RELAYS
        self.live = [False] * INPUTS
        self.guarded = self.let_go = False
        self.moves: list[tuple[int, int, bool]] = []
        """Every relay that moved: when (ms), which, whether it closed."""
        self.answers_until: int | None = None
        library = Library()
        rows = library.load("kit", KIT).document.points
        for number, lamp in wanted.lamps.items():
            row = rows[lamp.point]
            kind = "amps" if row.sensed == "amps" else "volts"
            threshold = row.threshold.to(kind) if row.threshold else None
            hear = partial(self._hear, number - 1, lamp.live)
            hear(0, plant.watch(lamp.point, row.sensed, threshold, hear))

    def _hear(self, index: int, live: str, _: int, state: str) -> None:
        self.live[index] = state == live

    def _answer(self) -> None:
        self._clock.sleep_ms(ANSWER_MS)
        now = self._clock.monotonic_ms()
        if self.answers_until is not None and now > self.answers_until:
            raise RigLostError("the board gives no answer")
        self._plant.advance(now)

    def relay(self, number: int, *, closed: bool) -> None:
        self._answer()
        if self.closed[number - 1] == closed:
            return
        self.closed[number - 1] = closed
        self.moves.append((self._clock.monotonic_ms(), number, closed))
        calls = {name for name, relay in self._board.calls.items() if self.closed[relay - 1]}
        self._plant.call(frozenset(calls))
        for name, relay in self._board.opens.items():
            if relay == number:
                self._plant.switch(name, "closed" if closed else "open")
        if number == self._board.power:
            self._plant.power(closed)

    def relays(self) -> Sequence[bool]:
        self._answer()
        return self.closed

    def inputs(self) -> Sequence[bool]:
        self._answer()
        return self.live

    def guard(self) -> None:
        self.guarded = True

    def close(self) -> None:
        self.let_go = True


def polled_mockup() -> tuple[ModbusRig, PolledPlant, HandClock]:
    """A rig, what is behind it, and the clock of both."""
    library = Library()
    system = library.load("system", SYSTEM).document
    plant = build(blueprint(system, library.profiles(system)), seed=0)
    wanted = channels(library.load("kit", KIT).document, system.control.valve)
    clock = HandClock(datetime(2026, 1, 1, tzinfo=UTC))
    behind = PolledPlant(plant, wanted, clock)
    behind.closed = [number in wanted.held for number in range(1, RELAYS + 1)]
    return ModbusRig(behind, wanted, "bench", clock), behind, clock
