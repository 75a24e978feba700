"""Events with a board's stamps, put onto the run's clock and given out once they are settled."""

from __future__ import annotations

import math
from bisect import insort

import msgspec

from stagecall.model.event import Call, Edge, Event, Gap, Power, Switch
from stagecall.rigs.device_clock import DeviceClock

ROUNDING_US = 3_000
"""Ends are told in whole ms, outwards."""


class _Stamped(msgspec.Struct, frozen=True):
    """A change that lies between two of the board's times (µs), and is told ``least`` ms earlier than that.

    ``width``: what has been promised of its interval, ms.
    """

    event: Call | Edge | Power | Switch
    low: int
    high: int
    least: int
    width: int


class _Held(msgspec.Struct, order=True):
    t: int
    order: int
    event: Event


class Timeline:
    """The run's clock is the host's, in ms since ``zero``, its microseconds at the first poll.

    ``room``: how exactly the clocks must be known, µs, so that no event is told less exactly than has been promised.
    While they are known worse, nothing is told and nothing settles.
    """

    def __init__(self, clock: DeviceClock, device: int, room: float) -> None:
        self._clock, self._room = clock, room
        self.zero = math.ceil(clock.latest(device))
        self.settled = 0
        """ms: nothing will be told any more at or before it."""
        self._stamped: list[_Stamped] = []
        self._held: list[_Held] = []
        self._count = 0

    def gate(self, device: int, sent: int, came: int) -> bool:
        """One more reading of the board's clock; False where it contradicts the others."""
        return self._clock.gate(device, sent, came)

    def start_anew(self, device: int, sent: int, came: int) -> None:
        """The board's clock has begun again; what it had stamped before is told as it is known."""
        self._tell()
        self._clock = DeviceClock(device, sent, came)

    def ms(self, device: int) -> int:
        """The run's time at which the board's clock has read that for certain."""
        return self._ms(self._clock.latest(device))

    def _ms(self, host: float) -> int:
        return math.ceil((host - self.zero) / 1000)

    def stamp(self, event: Call | Edge | Power | Switch, low: int, high: int, *, width: int, least: int = 0) -> None:
        """Take in a change that happened between the board's times *low* and *high*, less *least* ms."""
        self._stamped.append(_Stamped(event, low, high, least, width))

    def hold(self, event: Event) -> None:
        """Keep an event until it is settled; nothing is told at or before what was settled already."""
        event.t = max(event.t, self.settled + 1)
        self._count += 1
        insort(self._held, _Held(event.t, self._count, event))

    def break_off(self, device: int, because: str) -> int:
        """From the board's time *device* on nothing is known until a snapshot; gives the moment for it."""
        self._tell()
        t = max(self.ms(device), self.settled + 1, self._held[-1].t if self._held else 0)
        self.hold(Gap(t=t, e=self.settled + 1, because=because))
        return t

    def settle(self, device: int, slack: int) -> bool:
        """The board has told all up to its time *device*; *slack* ms earlier than that is settled.

        False where the clocks are not known well enough.
        """
        if self._clock.span > self._room:
            return False
        self._tell()
        self.settled = max(self.settled, self._ms(self._clock.earliest(device)) - 1 - slack)
        return True

    @property
    def span(self) -> float:
        """How exactly the clocks are known now, µs."""
        return self._clock.span

    @property
    def drift(self) -> tuple[float, float]:
        """How much faster the host's clock runs than the board's: at least, at most; a share of 1."""
        return self._clock.drift

    def _tell(self) -> None:
        stamped, self._stamped = self._stamped, []
        for one in stamped:
            t = self._ms(self._clock.latest(one.high)) - one.least
            e = max(self._ms(self._clock.earliest(one.low)) - 1 - one.least, t - one.width)
            one.event.t, one.event.e = t, max(0, min(e, t))
            self.hold(one.event)

    def due(self) -> list[Event]:
        """The events that have settled since the last look, in order."""
        events: list[Event] = []
        while self._held and self._held[0].t <= self.settled:
            events.append(self._held.pop(0).event)
        return events

    def give_up(self) -> None:
        """Nothing more will come: what is known is settled as it is."""
        self._tell()
        if self._held:
            self.settled = max(self.settled, self._held[-1].t)

    @property
    def empty(self) -> bool:
        """Nothing waits to be told."""
        return not self._held and not self._stamped
