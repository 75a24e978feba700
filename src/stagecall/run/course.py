"""Where a run stands: what is settled and seen, which calls stand, and how it moves and waits.

Everything here is a piece of script: it yields wants and is sent the answers (see :mod:`stagecall.run.session`).
"""

from __future__ import annotations

from stagecall.errors import RigLostError
from stagecall.model.event import Event, Refusal, Request, Settled, Wait
from stagecall.rigs.contract import Batch, Move
from stagecall.rigs.guard import Challenge, Clearance, Refuse
from stagecall.rigs.guard import Wait as GuardWait
from stagecall.run.ledger import Ledger
from stagecall.run.seen import Seen
from stagecall.run.wants import Act, Clear, CutShort, Listen, Poll, Script

SETTLED_EVERY = 10_000
MOVE_LIMIT = 2_000
"""A rig moves its relays within 2 s, or it is lost."""


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
        self._next_mark = SETTLED_EVERY

    @property
    def makes_calls(self) -> bool:
        """Whether the source makes calls, or only witnesses them."""
        return self.ledger.header.source.makes_calls

    # -- moves --------------------------------------------------------------------------------------------------------

    def clearance(self, move: Move, challenge: Challenge | None = None) -> Script:
        """Wait as the guard says, or give the sequence up."""
        said = ""
        while True:
            clearance: Clearance = yield Clear(move, challenge)
            match clearance:
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
        yield Act(move)
        yield from self.until_moved()

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
        if move.restore is not None:
            awaits[f"switch:{move.restore}"] = "closed"
            self.opened.discard(move.restore)
        return awaits

    def until_moved(self) -> Script:
        """Wait until all that was asked to move has been seen to."""
        limit = self.settled + MOVE_LIMIT
        while self.seen.coming:
            if self.settled >= limit:
                raise RigLostError(f"{', '.join(self.seen.coming)} did not move within {MOVE_LIMIT // 1000} s")
            yield from self.once(limit)

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
            self._mark_settled(event.t - 1)
            self.settled = event.t
            self.put(event)
            self.seen.note(event)
            self.heard(event)
        self._mark_settled(batch.settled)
        self.settled = max(self.settled, batch.settled)

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
