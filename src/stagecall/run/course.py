"""Where a run stands: what is settled and seen, which calls stand, and how it moves and waits.

Everything here is a piece of script: it yields wants and is sent the answers (see :mod:`stagecall.run.session`).
"""

from __future__ import annotations

from collections.abc import Callable, Generator
from typing import Any

from stagecall.errors import RigLostError
from stagecall.model.event import Answer, Event, Question, Refusal, Request, Settled, Wait
from stagecall.rigs.contract import Batch, Move
from stagecall.rigs.guard import Challenge, Clearance, Refuse
from stagecall.rigs.guard import Wait as GuardWait
from stagecall.run.ledger import Ledger
from stagecall.run.seen import Seen
from stagecall.run.wants import Act, Asking, Clear, CutShort, Listen, Poll, Say, Script, Want
from stagecall.units import show_time

SETTLED_EVERY = 30_000
GUARD_LIMIT = 90 * 60_000
"""Longer than the guard has reason to wait at one go: six starts an hour, and the longest minimum off after them."""


def meant(typed: str) -> str | None:
    """``yes`` or ``no``, whichever was meant; None where it is neither."""
    return {"yes": "yes", "y": "yes", "no": "no", "n": "no"}.get(typed.casefold())


class Course:
    """The run so far, and the pieces that every part of a script is made of."""

    def __init__(self, ledger: Ledger) -> None:
        self.ledger = ledger
        self.put = ledger.put
        self.settled = 0
        self.seen = Seen()
        self.calls: frozenset[str] = frozenset()
        self.power = "on"
        self.opened: set[str] = set()
        self.ever_opened: set[str] = set()
        self._next_mark = SETTLED_EVERY
        self._reply: list[str] | None = None
        """What the person typed since a question was put; None where none is open."""

    @property
    def makes_calls(self) -> bool:
        """Whether the source makes calls, or only witnesses them."""
        return self.ledger.header.source.makes_calls

    # -- moves --------------------------------------------------------------------------------------------------------

    def clearance(self, move: Move, challenge: Challenge | None = None) -> Script:
        """Wait as the guard says, or give the sequence up.

        What calls for something is given up too where the guard would be waited for without end, because what it waits
        for begins anew again and again.
        """
        said = ""
        limit = self.settled + GUARD_LIMIT
        while True:
            clearance: Clearance = yield Clear(move, challenge)
            match clearance:
                case GuardWait(because=because) if self.settled >= limit and (move.calls or frozenset()) - self.calls:
                    raise CutShort(f"the guard would not let it through within {show_time(GUARD_LIMIT)}: {because}")
                case GuardWait(until=until, because=because):
                    if because != said:
                        self.put(Wait(t=self.settled, until=until, because=because))
                        said = because
                    yield from self.poll(until)
                case Refuse(because=because):
                    self.put(Refusal(t=self.settled, calls=tuple(sorted(move.calls or ())), because=because))
                    raise CutShort(f"CALL REFUSED: {because}")
                case _:
                    return

    def change(self, move: Move) -> Script:
        """A move outside any step."""
        if move.empty:
            return
        yield from self.clearance(move)
        self.seen.expect(self.awaits(move), self.settled)
        self.put(request(move, self.settled))
        within: int = yield Act(move)
        yield from self.until_moved(within)

    def awaits(self, move: Move) -> dict[str, str]:
        """What this move will be seen to move (see ``StepMark.awaits``); from here on it counts as made."""
        awaits: dict[str, str] = {}
        if move.calls is not None:
            awaits |= dict.fromkeys(sorted(move.calls - self.calls), "on")
            awaits |= dict.fromkeys(sorted(self.calls - move.calls), "off")
            self.calls = move.calls
        if move.power is not None:
            awaits["power"] = move.power
            self.power = move.power
        if move.open_switch is not None:
            awaits[f"switch:{move.open_switch}"] = "open"
            self.opened.add(move.open_switch)
            self.ever_opened.add(move.open_switch)
        if move.restore is not None:
            awaits[f"switch:{move.restore}"] = "closed"
            self.opened.discard(move.restore)
        return awaits

    def until_moved(self, within: int) -> Script:
        """Wait until all that was asked to move has been seen to, *within* so many ms."""
        limit = self.settled + within
        while self.seen.coming:
            if self.settled >= limit:
                raise RigLostError(f"{', '.join(self.seen.coming)} did not move within {show_time(within)}")
            yield from self.once(limit)

    # -- the person ---------------------------------------------------------------------------------------------------

    def answer(self, value: str) -> bool:
        """The person typed a line; whether it answers a question that is open."""
        if self._reply is None:
            return False
        self._reply.append(value)
        return True

    def ask(self, text: str) -> Asking:
        """Put a question that is answered yes or no, wait for the answer, and give it; both go on record."""
        self.put(Question(t=self.settled, text=text))
        value = yield from self._listen_for(meant)
        self.put(Answer(t=self.settled, value=value))
        return value == "yes"

    def wait_for_enter(self, text: str) -> Script:
        """Say something and wait for Enter."""
        yield Say(f"{text}\nEnter: go on. Ctrl-C: break off.")
        yield from self._listen_for(str)

    def _listen_for(self, meant: Callable[[str], str | None]) -> Generator[Want, Any, str]:
        """What the first line typed means that means anything."""
        self._reply = []
        try:
            while True:
                yield from self.take(Listen(self.settled + SETTLED_EVERY))
                while self._reply:
                    value = self._reply.pop(0)
                    if (answer := meant(value)) is not None:
                        return answer
                    yield Say(f"Please answer yes or no, not '{value}'.")
        finally:
            self._reply = None

    # -- time and events ----------------------------------------------------------------------------------------------

    def poll(self, until: int) -> Script:
        """Let equipment time pass, ms."""
        while self.settled < until:
            yield from self.once(until)

    def once(self, until: int) -> Script:
        """Take in what comes next, at the latest when *until* is settled."""
        yield from self.take(Poll(until))

    def take(self, want: Poll | Listen) -> Script:
        """Take in what that want brings."""
        batch: Batch = yield want
        for event in batch.events:
            if self._next_mark < event.t:
                self._mark_settled(event.t - 1)
            self.settled = event.t
            self.put(event)
            self.seen.note(event)
            self.heard(event)
        self._mark_settled(batch.settled)
        self.settled = max(self.settled, batch.settled)
        self.ledger.passed(self.settled)
        self.looked()

    def looked(self) -> None:
        """Called when all that a want brought is taken in."""

    def heard(self, event: Event) -> None:
        """Called with each event once it is written."""

    def _mark_settled(self, t: int) -> None:
        while self._next_mark <= t:
            self.settled = self._next_mark
            self.put(Settled(t=self._next_mark))
            self._next_mark += SETTLED_EVERY


def request(move: Move, t: int, because: str = "") -> Request:
    """The line that is written before a move."""
    return Request(
        t=t,
        calls=None if move.calls is None else tuple(sorted(move.calls)),
        power=move.power,
        open_switch=move.open_switch,
        restore=move.restore,
        press=move.press,
        set=dict(move.surroundings),
        because=because,
    )
