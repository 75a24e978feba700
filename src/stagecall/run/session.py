"""The script of a run: a pure state machine that asks for what it needs and is told what happened.

It yields wants (:class:`Poll`, :class:`Clear`, :class:`Act` …) and is sent the answers; lines go to the ledger. It
knows neither screens nor rigs nor the time of day. :func:`stagecall.run.loop.turn` serves it.
"""

from __future__ import annotations

from stagecall.errors import RigLostError
from stagecall.model import plan
from stagecall.model.event import (
    Answer,
    Call,
    Gap,
    Note,
    Pause,
    Question,
    Refusal,
    Request,
    SequenceMark,
    Settle,
    Settled,
    Snapshot,
    StepMark,
    Wait,
    earliest,
)
from stagecall.rigs.contract import Batch, Move
from stagecall.rigs.guard import Challenge, Clearance, Refuse
from stagecall.rigs.guard import Wait as GuardWait
from stagecall.run.ledger import Ledger
from stagecall.run.prepare import Prepared, surroundings, undecidable, unseen_time
from stagecall.run.seen import Seen
from stagecall.run.starts import compressor_starts
from stagecall.run.wants import (
    Act,
    AllOff,
    AwaitEnter,
    Clear,
    CutShort,
    Earliest,
    Interrupted,
    Listen,
    MakeSafe,
    Poll,
    Reset,
    Sample,
    Script,
    Snap,
)
from stagecall.run.witness import AT_REST, WITNESS_LIMIT, matched, usual_ask

SETTLED_EVERY = 10_000
MOVE_LIMIT = 2_000
"""A rig moves its relays within 2 s, or it is lost."""
SETTLE_LIMIT = 30 * 60_000
"""The stretch between sequences is bounded: off-delays last 8 min at most, and the guard's hour of starts is rare."""


class Session:
    """One run of a prepared list of sequences."""

    def __init__(
        self, prepared: Prepared, ledger: Ledger, *, step_by_step: bool = False, attended: bool = False
    ) -> None:
        self._prepared = prepared
        self._ledger = ledger
        self._judge = ledger.judge
        self._step_by_step = step_by_step
        self._attended = attended
        self._put = ledger.put
        self.settled = 0
        self.interrupted = False
        self.lost: RigLostError | None = None
        self.digest = ""
        self._next_mark = SETTLED_EVERY
        self._seen = Seen()
        self._calls: frozenset[str] = frozenset()
        self._power = "on"
        self._opened: set[str] = set()
        self._sequence: plan.Sequence | None = None
        self._step: plan.Step | None = None
        self._settling = False
        self._asked: set[str] = set()
        self._waiting: plan.Step | None = None

    def script(self) -> Script:
        """The whole run, to the closing seal."""
        try:
            yield from self._whole()
        except Interrupted:
            self.interrupted = True
            self._break_off("interrupted by the person")
            try:
                yield from self._safe()
            except RigLostError as lost:
                self._lose(lost)
        except RigLostError as lost:
            self._lose(lost)
        self._put(Settled(t=self.settled))
        self.digest = self._ledger.close()

    def answer(self, value: str, by: str) -> None:
        """A person answered the question that is open."""
        if self._sequence is not None and self._asked:
            self._put(Answer(t=self.settled, sequence=self._sequence.name, id=self._asked.pop(), value=value, by=by))

    def _whole(self) -> Script:
        for document in self._prepared.documents:
            self._put(document)
        snapshot: Snapshot = yield Snap()
        self._seen.note(snapshot)
        self._put(snapshot)
        for text in undecidable(self._prepared.sequences, self._ledger.header.source):
            self._put(Note(t=0, text=text))
        for sequence in self._prepared.sequences:
            if not (sequence.not_applicable or sequence.deferred):
                yield from self._run(sequence)
        yield from self._closing()

    # -- one sequence -------------------------------------------------------------------------------------------------

    def _run(self, sequence: plan.Sequence) -> Script:
        steps = [step for step in sequence.steps if not step.not_applicable]
        self._settling = True
        self._put(Settle(t=self.settled, phase="begin"))
        yield from self._rest(sequence)
        self._sequence = sequence
        try:
            for step in steps:
                yield from self._go(step)
        except CutShort as cut:
            self._end_stretch()
            self._put(SequenceMark(t=self.settled, name=sequence.name, phase="end", cut_short=str(cut)))
        else:
            self._end_stretch()
            self._put(SequenceMark(t=self.settled, name=sequence.name, phase="end"))
        self._sequence = None
        if sequence.clears:
            self._put(Note(t=self.settled, text=f"the model plays the person and resets: {sequence.clears}"))
            yield Reset(sequence.clears)

    def _go(self, step: plan.Step) -> Script:
        if self._ledger.header.source.makes_calls:
            yield from self._make(step)
        else:
            yield from self._witness(step)
        yield Sample(_quantities(step))
        yield from self._hold(step)

    def _make(self, step: plan.Step) -> Script:
        move = self._move_for(step)
        yield from self._clearance(move, step.challenge)
        if self._step_by_step:
            self._put(Pause(t=self.settled, phase="begin"))
            yield AwaitEnter(f"{step.title}\n{step.because}".strip())
            self._put(Pause(t=self.settled, phase="end"))
        self._end_stretch()
        self._begin_step(step, move)
        if not move.empty:
            self._put(_request(move, self.settled))
            yield Act(move, step.challenge)
            yield from self._until_moved()

    def _witness(self, step: plan.Step) -> Script:
        """Ask a person for the step's calls; it begins with the last of them, or at once where they stand already."""
        asked = step.control or usual_ask(step.calls)
        move = Move(control=asked, surroundings=step.set)
        self._put(_request(move, self.settled, f"ask the control: {asked}" if asked else ""))
        yield Act(move)
        self._waiting = step
        limit = self.settled + WITNESS_LIMIT
        if matched(step.calls, self._seen.calls):
            self._match(self.settled, self.settled)
        while self._waiting is not None and self.settled < limit:
            yield from self._once(limit)
        if self._waiting is not None:
            self._waiting = None
            raise CutShort(f"the control did not call {' and '.join(step.calls) or 'nothing'}")

    def _match(self, e: int, t: int) -> None:
        step, self._waiting = self._waiting, None
        assert step is not None  # noqa: S101 - only asked while one is waited for
        self._end_stretch()
        self._begin_step(step, Move(), anchor=(e, t))

    def _move_for(self, step: plan.Step) -> Move:
        calls = frozenset(step.calls)
        return Move(
            calls=None if calls == self._calls else calls,
            power=None if step.power == self._power else step.power,
            open_switch=step.open_switch,
            restore=step.restore,
            press=step.press,
            surroundings=step.set,
        )

    def _clearance(self, move: Move, challenge: Challenge | None = None) -> Script:
        said = ""
        while True:
            clearance: Clearance = yield Clear(move, challenge)
            match clearance:
                case GuardWait(until=until, because=because):
                    if because != said:
                        self._put(Wait(t=self.settled, until=until, because=because))
                        said = because
                    yield from self._poll(until)
                case Refuse(because=because):
                    self._put(Refusal(t=self.settled, calls=tuple(sorted(move.calls or ())), because=because))
                    raise CutShort(f"CALL REFUSED: {because}")
                case _:
                    return

    def _begin_step(self, step: plan.Step, move: Move, anchor: tuple[int, int] | None = None) -> None:
        assert self._sequence is not None  # noqa: S101 - a step stands in a sequence
        awaits = self._awaits(move)
        self._step = step
        self._asked = {expectation.id for expectation in step.expect if isinstance(expectation, plan.Ask)}
        mark = StepMark(t=self.settled, sequence=self._sequence.name, step=step.slug, phase="begin", awaits=awaits)
        mark.anchor = anchor
        self._put(mark)
        self._seen.expect(awaits, self.settled)
        for expectation in step.expect:
            if isinstance(expectation, plan.Ask):
                self._put(
                    Question(t=self.settled, sequence=self._sequence.name, id=expectation.id, text=expectation.ask)
                )

    def _awaits(self, move: Move) -> dict[str, str]:
        awaits: dict[str, str] = {}
        if move.calls is not None:
            awaits |= dict.fromkeys(sorted(move.calls - self._calls), "on")
            awaits |= dict.fromkeys(sorted(self._calls - move.calls), "off")
            self._calls = move.calls
        if move.power is not None:
            awaits["power"] = move.power
            self._power = move.power
        if move.open_switch is not None:
            awaits[f"switch:{move.open_switch}"] = "open"
            self._opened.add(move.open_switch)
        if move.restore is not None:
            awaits[f"switch:{move.restore}"] = "closed"
            self._opened.discard(move.restore)
        return awaits

    def _until_moved(self) -> Script:
        limit = self.settled + MOVE_LIMIT
        while self._seen.coming:
            if self.settled >= limit:
                raise RigLostError(f"{', '.join(self._seen.coming)} did not move within {MOVE_LIMIT // 1000} s")
            yield from self._once(limit)

    def _hold(self, step: plan.Step) -> Script:
        judge = self._judge
        if step.lasts is not None:
            yield from self._poll(self._seen.moved_at + step.lasts)
        else:
            while judge.step_open():
                deadline = judge.step_due()
                if deadline is None:
                    if not (self._attended and self._asked):
                        break
                    yield from self._take(Listen(self.settled + SETTLED_EVERY))
                    continue
                yield from self._once(deadline)
                if self.settled >= deadline and judge.step_open():
                    self._put(Settled(t=self.settled))
            yield from self._poll(self._seen.moved_at + unseen_time(step, self._ledger.header.source))
            if step.until is not None and self._seen.contradicts(step.until):
                raise CutShort(f"{step.until} never came")
        if step.keep:
            yield from self._poll(self.settled + step.keep)

    def _end_stretch(self, cut_short: str = "") -> None:
        """End what is running: the stretch of rest before the first step, or a step."""
        if self._settling:
            self._settling = False
            self._put(Settle(t=self.settled, phase="end"))
            if self._sequence is not None:
                self._put(SequenceMark(t=self.settled, name=self._sequence.name, phase="begin"))
        elif self._step is not None and self._sequence is not None:
            name, slug = self._sequence.name, self._step.slug
            self._put(StepMark(t=self.settled, sequence=name, step=slug, phase="end", cut_short=cut_short))
        self._step = None

    # -- between sequences --------------------------------------------------------------------------------------------

    def _rest(self, sequence: plan.Sequence) -> Script:
        """All calls off, everything restored, surroundings set; then wait for the starts and for the guard."""
        limit = self.settled + SETTLE_LIMIT
        yield Sample(frozenset())
        yield from self._all_normal()
        yield from self._change(Move(surroundings=surroundings(sequence, self._prepared.system)))
        while self.settled < limit and any(self._seen.contradicts(condition) for condition in sequence.starts):
            yield from self._once(limit)
        starts = compressor_starts(sequence)
        if self._ledger.header.source.makes_calls and starts:
            free_at, because = yield Earliest(starts)
            if free_at > self.settled:
                self._put(Wait(t=self.settled, until=free_at, because=because))
                yield from self._poll(free_at)

    def _all_normal(self) -> Script:
        yield from self._drop_calls()
        if not self._ledger.header.source.makes_calls:
            yield from self._change(Move(control=AT_REST))
        for name in sorted(self._opened):
            yield from self._change(Move(restore=name))
        if self._power == "off":
            yield from self._change(Move(power="on"))

    def _drop_calls(self) -> Script:
        moves: list[tuple[Move, int]] = yield AllOff()
        for move, wait in moves:
            yield from self._clearance(move)
            yield from self._change(move)
            yield from self._poll(self.settled + wait)

    def _change(self, move: Move) -> Script:
        """A move outside any step."""
        if move.empty:
            return
        yield from self._clearance(move)
        self._seen.expect(self._awaits(move), self.settled)
        self._put(_request(move, self.settled))
        yield Act(move)
        yield from self._until_moved()

    def _closing(self) -> Script:
        """As-left: all normal, and what monitors still watch is let settle."""
        self._settling = True
        self._put(Settle(t=self.settled, phase="begin"))
        yield Sample(frozenset())
        yield from self._all_normal()
        judge = self._judge
        while judge.closing_open():
            deadline = judge.closing_deadline()
            if deadline is None:
                break
            yield from self._once(deadline)
            if self.settled >= deadline and judge.closing_open():
                self._put(Settled(t=self.settled))
        self._end_stretch()

    # -- breaking off -------------------------------------------------------------------------------------------------

    def _lose(self, lost: RigLostError) -> None:
        self.lost = lost
        self._put(Note(t=self.settled, text=f"Rig lost: {lost}"))
        self._put(Gap(t=self.settled, because="the rig stopped answering"))
        self._break_off("the rig was lost")

    def _break_off(self, why: str) -> None:
        if self._sequence is not None:
            self._end_stretch(cut_short=why)
            self._put(SequenceMark(t=self.settled, name=self._sequence.name, phase="end", cut_short=why))
            self._sequence = None
        elif self._settling:
            self._end_stretch()
        if self.interrupted:
            self._put(Note(t=self.settled, text=why))

    def _safe(self) -> Script:
        moves: list[tuple[Move, int]] = yield AllOff()
        for move, wait in moves:
            self._seen.expect(self._awaits(move), self.settled)
            self._put(_request(move, self.settled))
            yield MakeSafe(move)
            yield from self._until_moved()
            yield from self._poll(self.settled + wait)

    # -- time and events ----------------------------------------------------------------------------------------------

    def _poll(self, until: int) -> Script:
        while self.settled < until:
            yield from self._once(until)

    def _once(self, until: int) -> Script:
        yield from self._take(Poll(until))

    def _take(self, want: Poll | Listen) -> Script:
        batch: Batch = yield want
        for event in batch.events:
            self._mark_settled(event.t - 1)
            self.settled = event.t
            self._put(event)
            self._seen.note(event)
            if self._waiting is not None and isinstance(event, Call) and matched(self._waiting.calls, self._seen.calls):
                self._match(earliest(event), event.t)
        self._mark_settled(batch.settled)
        self.settled = max(self.settled, batch.settled)

    def _mark_settled(self, t: int) -> None:
        while self._next_mark <= t:
            self.settled = self._next_mark
            self._put(Settled(t=self._next_mark))
            self._next_mark += SETTLED_EVERY


def _request(move: Move, t: int, because: str = "") -> Request:
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


def _quantities(step: plan.Step) -> frozenset[str]:
    return frozenset(step.read) | {e.reads for e in step.expect if isinstance(e, plan.Reads)}
