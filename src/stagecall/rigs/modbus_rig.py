"""Off-the-shelf relay and input boards over Modbus RTU, by the few lines that a kit has for them.

Such a board stamps nothing. It is polled, and a change happened at some time between the last poll that did not show it
yet and the end of the one that did: intervals are wider than those of a board that stamps, and the bounds say so.
It has no minimum open time, exclusive pairs or readback of its own. Its watchdog has to open the relays when the host
is gone; a board without one makes calls to a mockup alone.
"""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from typing import Literal, Protocol

import msgspec

from stagecall.errors import RigLostError, UsageError
from stagecall.model.event import Call, Edge, Event, Gap, PointBounds, Power, Snapshot, Switch, TestedOn
from stagecall.model.kit import Board, Modbus
from stagecall.rigs.channels import Channels
from stagecall.rigs.clock import Clock
from stagecall.rigs.contract import Batch, Move, Rig

LOOK = 50
"""ms that one look lasts at most."""


class Wires(Protocol):
    """What is asked of a board; channels count from 1. Each raises RigLostError where it gets no answer."""

    def relay(self, number: int, *, closed: bool) -> None:
        """Move one relay."""

    def relays(self) -> Sequence[bool]:
        """Which are closed, relay 1 first."""

    def inputs(self) -> Sequence[bool]:
        """Which are live, input 1 first."""

    def guard(self) -> None:
        """Set the board's watchdog, where it has one."""

    def close(self) -> None:
        """Let go of the port."""


class ModbusRig(Rig):
    """Polls the inputs at the kit's pace; every request keeps the board's watchdog quiet."""

    name = "modbus"

    def __init__(self, wires: Wires, wanted: Channels, tested_on: TestedOn, clock: Clock) -> None:
        super().__init__()
        modbus = spoken_to(wanted.board)
        self._board, self._lamps = wanted.board, wanted.lamps
        self._relays = (*wanted.board.calls.values(), *wanted.held)
        self.tested_on, self._wires, self._clock = tested_on, wires, clock
        self._every = int(modbus.every.to("time"))
        self._operate = int(modbus.operate.to("time"))
        self._slack = self._every + int(modbus.answer.to("time"))
        points = {name: _polled(one, self._slack) for name, one in wanted.bounds.points.items()}
        self.bounds = msgspec.structs.replace(wanted.bounds, points=points, call_width=self._slack + self._operate)
        self._began = clock.monotonic_ms()
        self._stamped = 0
        self._coming: list[Event] = []
        self._calls: frozenset[str] = frozenset()
        self._power: Literal["on", "off"] = "on"
        wires.guard()
        for number in self._board.calls.values():
            self._set(number, closed=False)
        for number in wanted.held:
            self._set(number, closed=True)
        self._asked = self.now
        self._states = self._read()

    @property
    def now(self) -> int:
        """The host's clock, ms since the rig was opened."""
        return self._clock.monotonic_ms() - self._began

    def _stamp(self) -> int:
        """A moment that is over, later than any that was stamped before."""
        self._stamped = max(self.now, self._stamped) + 1
        return self._stamped

    def _read(self) -> dict[str, str]:
        live = self._wires.inputs()
        return {lamp.point: lamp.live if live[number - 1] else lamp.dead for number, lamp in self._lamps.items()}

    def _advance(self, until: int) -> Batch:  # noqa: ARG002 - it is polled at its own pace, whoever waits for what
        due = self._asked + self._every
        self._clock.sleep_ms(min(due - self.now, LOOK))
        if self.now >= due:
            self._look()
        events, self._coming = self._coming, []
        return Batch(events, self._stamped)

    def _look(self) -> None:
        """Read the inputs and take down what changed since the last look."""
        before, self._asked = self._asked, self.now
        states = self._read()
        t = self._stamp()
        if t - before > self._slack:
            self._coming += [Gap(t=t, e=before, because="the inputs were polled too late"), self._seen(t, states)]
        else:
            self._coming += [
                Edge(t=t, e=self._earliest(name, state, before), point=name, state=state)
                for name, state in states.items()
                if state != self._states[name]
            ]
        self._states = states

    def _earliest(self, name: str, state: str, before: int) -> int:
        """When a change can have happened that the poll at *before* did not show yet: the input itself lags."""
        bounds = self.bounds.points[name]
        late = bounds.late_off if state in ("off", "open") else bounds.late_on
        return max(0, before - (late[1] - self._slack))

    def _seen(self, t: int, states: dict[str, str]) -> Snapshot:
        return Snapshot(t=t, calls=tuple(sorted(self._calls)), power=self._power, points=dict(states))

    def snapshot(self) -> Snapshot:
        """What the last poll showed."""
        return self._seen(self._stamped, self._states)

    def _move(self, move: Move) -> None:
        board = self._board
        if (name := move.open_switch) is not None:
            self._turn(board.opens[name], Switch(name=name, state="open"), closed=False)
        if (name := move.restore) is not None:
            self._turn(board.opens[name], Switch(name=name, state="closed"), closed=True)
        if move.power is not None and board.power is not None:
            self._power = move.power
            self._turn(board.power, Power(state=move.power), closed=move.power == "on")
        if move.calls is not None:
            dropped, added, self._calls = self._calls - move.calls, move.calls - self._calls, move.calls
            for name in sorted(dropped):
                self._turn(board.calls[name], Call(terminal=name, state="off"), closed=False)
            for name in sorted(added):
                self._turn(board.calls[name], Call(terminal=name, state="on"), closed=True)

    def _turn(self, number: int, told: Call | Power | Switch, *, closed: bool) -> None:
        """Move one relay, see that it moved, and look at the inputs, so that they are not left alone for long."""
        told.e = self.now
        self._set(number, closed=closed)
        told.t = self._stamp()
        self._coming.append(told)
        self._look()

    def _set(self, number: int, *, closed: bool) -> None:
        self._wires.relay(number, closed=closed)
        self._clock.sleep_ms(self._operate)
        if self._wires.relays()[number - 1] != closed:
            raise RigLostError(f"relay {number} was told to {'close' if closed else 'open'} and did not")

    def close(self) -> None:
        """All calls off, then all that was held; then the port is let go."""
        with suppress(RigLostError):
            for number in self._relays:
                self._wires.relay(number, closed=False)
        self._wires.close()


def spoken_to(board: Board) -> Modbus:
    """How a kit's board is spoken to.

    Raises:
        UsageError: the kit does not say it.
    """
    if board.modbus is None:
        raise UsageError("this kit's board is none over Modbus: 'board' has no 'modbus'")
    return board.modbus


def _polled(bounds: PointBounds, slack: int) -> PointBounds:
    """What an input promises, seen by somebody who looks now and then."""
    return msgspec.structs.replace(
        bounds,
        late_on=(0, bounds.late_on[1] + slack),
        late_off=(0, bounds.late_off[1] + slack),
        blind=bounds.blind + slack,
    )
