"""A technician's hand mode: calls, switches and power moved one by one as they are typed, through the guard.

All of it is logged, and the monitors watch as ever; there is no sequence, so nothing but them is judged.
"""

from __future__ import annotations

from collections import deque

import msgspec

from stagecall import points
from stagecall.model.event import Refusal
from stagecall.rigs.contract import Move
from stagecall.rigs.guard import Circumstances, Clearance, Go
from stagecall.rigs.guard import Wait as GuardWait
from stagecall.run.ledger import Ledger
from stagecall.run.prepare import Prepared
from stagecall.run.session import ON_A_MODEL, Session
from stagecall.run.wants import Asking, Clear, Say, Script
from stagecall.units import show_time

LOOK_EVERY = 50
"""ms of equipment time between two looks at what was typed."""


def watched_alone(prepared: Prepared) -> Prepared:
    """The same without sequences: monitors watch, and none of them must have had something to see."""
    monitors = tuple(msgspec.structs.replace(one, must_run=False) for one in prepared.monitors)
    documents = tuple(one for one in prepared.documents if one.kind != "sequence")
    return msgspec.structs.replace(prepared, sequences=(), monitors=monitors, documents=documents)


class Exercise(Session):
    """What is typed moves: ``Y`` makes or drops that call, ``?`` tells what is live, ``q`` ends."""

    def __init__(self, prepared: Prepared, ledger: Ledger, *, here: Circumstances = ON_A_MODEL) -> None:
        super().__init__(prepared, ledger, attended=True, here=here)
        self._typed: deque[str] = deque()
        terminals = prepared.system.control.terminals
        self._calls_here = tuple(name for name in map(points.terminal, terminals) if name in points.CALLS)
        board = prepared.kit.board
        self._switches = tuple(board.opens if board is not None else _switches_of(prepared))
        self._breaks_power = board is None or board.power is not None

    def answer(self, value: str) -> bool:
        """A line was typed."""
        if not super().answer(value):
            self._typed.append(value)
        return True

    def _middle(self) -> Script:
        yield Say(self._keys())
        while True:
            while self._typed:
                if (yield from self._do(self._typed.popleft())):
                    return
            yield from self.once(self.settled + LOOK_EVERY)

    def _keys(self) -> str:
        keys = [f"{', '.join(self._calls_here)}: make or drop that call"]
        if self._switches:
            keys.append(f"open NAME, restore NAME: {', '.join(self._switches)}")
        if self._breaks_power:
            keys.append("power off, power on")
        return "\n".join(["Type, and Enter:", *keys, "?: what is live", "q: all off, and the end"])

    def _do(self, line: str) -> Asking:
        """Carry a line out; True where it ends the exercise."""
        match line.split():
            case ["q"]:
                return True
            case [] | ["?"]:
                yield Say(self._now())
            case ["power", "on" | "off" as state] if self._breaks_power:
                yield from self._try(Move(power=state))
            case ["open", name] if name in self._switches:
                yield from self._try(Move(open_switch=name))
            case ["restore", name] if name in self._switches:
                yield from self._try(Move(restore=name))
            case [name] if (call := points.terminal(name.upper()) or name) in self._calls_here:
                yield from self._try(Move(calls=self.calls ^ {call}))
            case _:
                yield Say(f"'{line}' moves nothing here.\n{self._keys()}")
        return False

    def _try(self, move: Move) -> Script:
        clearance: Clearance = yield Clear(move)
        if isinstance(clearance, Go):
            yield from self.change(move)
            return
        because = clearance.because
        if isinstance(clearance, GuardWait):
            because += f"; {show_time(clearance.until - self.settled)} are left"
        self.put(Refusal(t=self.settled, calls=tuple(sorted(move.calls or ())), because=because))

    def _now(self) -> str:
        calls = ", ".join(sorted(self.calls)) or "none"
        return f"Calls: {calls}. {'; '.join(self.seen.told()) or 'Nothing else is seen.'}"


def _switches_of(prepared: Prepared) -> list[str]:
    return sorted({name for profile in prepared.profiles.values() for name in profile.switches})
