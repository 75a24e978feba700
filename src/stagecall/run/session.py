"""The script of a run: a pure state machine that asks for what it needs and is told what happened.

It yields wants (:class:`Poll`, :class:`Clear`, :class:`Act` …) and is sent the answers; lines go to the ledger. It
knows neither screens nor rigs nor the time of day. :func:`stagecall.run.loop.turn` serves it.
"""

from __future__ import annotations

from functools import partial

from stagecall.errors import LogFullError, RigLostError
from stagecall.model import plan
from stagecall.model.event import (
    Answer,
    Call,
    Event,
    Gap,
    Note,
    Pause,
    Question,
    Refusal,
    SequenceMark,
    Settle,
    Settled,
    Snapshot,
    StepMark,
    earliest,
)
from stagecall.rigs.contract import Move
from stagecall.rigs.guard import Circumstances
from stagecall.run.course import SETTLED_EVERY, Course, meant, request
from stagecall.run.ledger import Ledger
from stagecall.run.looks import look_of
from stagecall.run.prepare import Prepared, undecidable, unseen_time
from stagecall.run.real import Real
from stagecall.run.rest import all_normal, make_safe, rest
from stagecall.run.wants import (
    Act,
    CutShort,
    Interrupted,
    Listen,
    LookFor,
    Refused,
    Reset,
    Sample,
    Script,
    Snap,
)
from stagecall.run.witness import WITNESS_LIMIT, matched, usual_ask

AS_LEFT = 1_000
"""ms for which a real rig is watched once all is off: a relay that sticks is told of within 0.4 s."""
LEFT_EARLY = "interrupted before all calls were seen to be off"
ON_A_MODEL = Circumstances()


class Session(Course):
    """One run of a prepared list of sequences."""

    def __init__(
        self,
        prepared: Prepared,
        ledger: Ledger,
        *,
        step_by_step: bool = False,
        attended: bool = False,
        here: Circumstances = ON_A_MODEL,
    ) -> None:
        super().__init__(ledger)
        self._prepared = prepared
        self._judge = ledger.judge
        self._step_by_step = step_by_step
        self._attended = attended
        self.interrupted = False
        self.lost: RigLostError | None = None
        self.full: LogFullError | None = None
        self.digest = ""
        self._sequence: plan.Sequence | None = None
        self._step: plan.Step | None = None
        self._settling = False
        self._asked: list[str] = []
        self._waiting: plan.Step | None = None
        self._valve = prepared.system.control.valve
        self._real = None
        if here.ground != "model":
            self._real = Real(self, prepared.system, prepared.profiles, prepared.sequences, here)

    def script(self) -> Script:
        """The whole run, to the closing seal."""
        try:
            yield from self._whole()
        except Interrupted:
            self.interrupted = True
            self._break_off("interrupted by the person")
            try:
                yield from make_safe(self)
            except LogFullError as full:
                self.full = full
                yield from self._last_try()
            except RigLostError as lost:
                self._lose(lost)
            except Interrupted:
                self.put(Note(t=self.settled, text=LEFT_EARLY))
        except Refused as refused:
            yield from self._refuse(refused)
        except LogFullError as full:
            self.full = full
            self._break_off("the disk is full")
            yield from self._last_try()
        except RigLostError as lost:
            self._lose(lost)
            yield from self._last_try()
        self.put(Settled(t=self.settled))
        self.digest = self.ledger.close()

    def answer(self, value: str) -> bool:
        """The person typed a line; whether it answers a question that is open."""
        if super().answer(value):
            return True
        if self._sequence is None or not self._asked or (said := meant(value)) is None:
            return False
        self.put(Answer(t=self.settled, sequence=self._sequence.name, id=self._asked.pop(0), value=said))
        return True

    def _whole(self) -> Script:
        for document in self._prepared.documents:
            self.put(document)
        snapshot: Snapshot = yield Snap()
        self.seen.note(snapshot)
        self.put(snapshot)
        for text in undecidable(self._prepared.sequences, self.ledger.header.source):
            self.put(Note(t=0, text=text))
        if self._real is not None:
            yield from self._real.begin()
        yield from self._middle()
        yield from self._closing()

    def _middle(self) -> Script:
        for sequence in self._prepared.sequences:
            if not (sequence.not_applicable or sequence.deferred):
                yield from self._run(sequence)

    # -- one sequence -------------------------------------------------------------------------------------------------

    def _run(self, sequence: plan.Sequence) -> Script:
        self._settling = True
        self.put(Settle(t=self.settled, phase="begin"))
        try:
            yield from rest(self, sequence, None if self._real is not None else self._prepared.system)
            if self._real is not None:
                yield from self._real.may_begin(sequence)
            self._sequence = sequence
            for step in sequence.steps:
                if not step.not_applicable:
                    yield from self._go(step)
        except CutShort as cut:
            self._sequence = sequence
            self._end_stretch()
            self.put(SequenceMark(t=self.settled, name=sequence.name, phase="end", cut_short=str(cut)))
            if self._real is not None:
                yield from self._real.broken_off()
        else:
            self._end_stretch()
            self.put(SequenceMark(t=self.settled, name=sequence.name, phase="end"))
        self._sequence = None
        if sequence.clears and self._real is not None:
            yield from self._real.locked_out(sequence.clears)
        elif sequence.clears:
            self.put(Note(t=self.settled, text=f"the model plays the person and resets: {sequence.clears}"))
            yield Reset(sequence.clears)

    def _go(self, step: plan.Step) -> Script:
        if self.makes_calls:
            yield from self._make(step)
        else:
            yield from self._witness(step)
        yield Sample(_quantities(step))
        yield from self._hold(step)

    def _make(self, step: plan.Step) -> Script:
        move = self._move_for(step)
        yield from self.clearance(move, step.challenge)
        if self._step_by_step:
            self.put(Pause(t=self.settled, phase="begin"))
            yield from self.wait_for_enter(f"{step.title}\n{step.because}".strip())
            self.put(Pause(t=self.settled, phase="end"))
        self._end_stretch()
        self._begin_step(step, move)
        if move.empty:
            yield LookFor(partial(look_of, step))
            return
        self.put(request(move, self.settled))
        within: int = yield Act(move, step.challenge)
        yield LookFor(partial(look_of, step))
        yield from self.until_moved(within)

    def _witness(self, step: plan.Step) -> Script:
        """Ask a person for the step's calls; it begins with the last of them, or at once where they stand already."""
        if self._settling:
            self._end_stretch()  # the sequence begins at rest, before the control is asked
        asked = step.control or usual_ask(step.calls, self._valve)
        move = Move(control=asked, surroundings=step.set)
        self.put(request(move, self.settled, f"ask the control: {asked}" if asked else ""))
        yield Act(move)
        self._waiting = step
        limit = self.settled + WITNESS_LIMIT
        if matched(step.calls, self.seen.calls, self._valve):
            self._match(self.settled, self.settled)
        while self._waiting is not None and self.settled < limit:
            yield from self.once(limit)
        if self._waiting is not None:
            self._waiting = None
            raise CutShort(f"the control did not call {' and '.join(step.calls) or 'nothing'}")

    def heard(self, event: Event) -> None:
        """The last call that a witnessed step requires begins it; on a real rig everything is watched."""
        if self._real is not None:
            self._real.note(event)
        waiting = self._waiting
        if waiting is not None and isinstance(event, Call) and matched(waiting.calls, self.seen.calls, self._valve):
            self._match(earliest(event), event.t)

    def looked(self) -> None:
        """On a real rig some things end the run."""
        if self._real is not None:
            self._real.check()

    def _match(self, e: int, t: int) -> None:
        step, self._waiting = self._waiting, None
        assert step is not None  # noqa: S101 - only asked while one is waited for
        self._end_stretch()
        self._begin_step(step, Move(), anchor=(e, t))

    def _move_for(self, step: plan.Step) -> Move:
        calls = frozenset(step.calls)
        return Move(
            calls=None if calls == self.calls else calls,
            power=None if step.power == self.power else step.power,
            open_switch=step.open_switch,
            restore=step.restore,
            press=step.press,
            surroundings=step.set,
        )

    def _begin_step(self, step: plan.Step, move: Move, anchor: tuple[int, int] | None = None) -> None:
        assert self._sequence is not None  # noqa: S101 - a step stands in a sequence
        awaits = self.awaits(move)
        self._step = step
        self._asked = [expectation.id for expectation in step.expect if isinstance(expectation, plan.Ask)]
        mark = StepMark(t=self.settled, sequence=self._sequence.name, step=step.slug, phase="begin", awaits=awaits)
        mark.anchor = anchor
        self.put(mark)
        self.seen.expect(awaits, self.settled)
        for expectation in step.expect:
            if isinstance(expectation, plan.Ask):
                self.put(
                    Question(t=self.settled, sequence=self._sequence.name, id=expectation.id, text=expectation.ask)
                )

    def _hold(self, step: plan.Step) -> Script:
        if step.lasts is not None:
            yield from self.poll(self.seen.moved_at + step.lasts)
        else:
            yield from self._let_settle()
            yield from self.poll(self.seen.moved_at + unseen_time(step, self.ledger.header.source))
            yield from self._let_settle()  # what counts from something that came in the meantime
            if step.until is not None and self.seen.contradicts(step.until):
                raise CutShort(f"{step.until} never came")
        if step.keep:
            yield from self.poll(self.settled + step.keep)

    def _let_settle(self) -> Script:
        """Wait for every answer that is due at a known moment, and for what a person is asked."""
        judge = self._judge
        while judge.step_open():
            deadline = judge.step_due()
            if deadline is None:
                if not (self._attended and self._asked):
                    return
                yield from self.take(Listen(self.settled + SETTLED_EVERY))
                continue
            yield from self.once(deadline)
            if self.settled >= deadline and judge.step_open():
                self.put(Settled(t=self.settled))

    def _end_stretch(self, cut_short: str = "") -> None:
        """End what is running: the stretch of rest before the first step, or a step."""
        if self._settling:
            self._settling = False
            self.put(Settle(t=self.settled, phase="end"))
            if self._sequence is not None:
                self.put(SequenceMark(t=self.settled, name=self._sequence.name, phase="begin"))
        elif self._step is not None and self._sequence is not None:
            name, slug = self._sequence.name, self._step.slug
            self.put(StepMark(t=self.settled, sequence=name, step=slug, phase="end", cut_short=cut_short))
        self._step = None

    def _closing(self) -> Script:
        """As-left: all normal, and what monitors still watch is let settle."""
        self._settling = True
        self.put(Settle(t=self.settled, phase="begin"))
        yield Sample(frozenset())
        yield from all_normal(self)
        if self.ledger.header.tested_on != "model":
            yield from self.poll(self.settled + AS_LEFT)
        if self._real is not None:
            yield from self._real.closed_again()
        judge = self._judge
        while judge.closing_open():
            deadline = judge.closing_deadline()
            if deadline is None:
                break
            yield from self.once(deadline)
            if self.settled >= deadline and judge.closing_open():
                self.put(Settled(t=self.settled))
        self._end_stretch()

    # -- breaking off -------------------------------------------------------------------------------------------------

    def _refuse(self, refused: Refused) -> Script:
        self.put(Refusal(t=self.settled, because=str(refused)))
        self._break_off(str(refused))
        try:
            if self._real is not None:
                yield from self._real.end(refused)
            yield from make_safe(self)
        except Interrupted:
            self.interrupted = True
            self.put(Note(t=self.settled, text=LEFT_EARLY))
        except LogFullError as full:
            self.full = full
            yield from self._last_try()
        except RigLostError as lost:
            self._lose(lost)
            yield from self._last_try()

    def _lose(self, lost: RigLostError) -> None:
        self.lost = lost
        self.put(Note(t=self.settled, text=f"Rig lost: {lost}"))
        self.put(Gap(t=self.settled, because=str(lost)))
        self._break_off("the rig was lost")

    def _last_try(self) -> Script:
        """All calls off in the safe order, as far as a lost rig still takes them."""
        try:
            yield from make_safe(self)
        except LogFullError as full:
            self.full = full
            yield from self._last_try()
        except (RigLostError, Interrupted) as end:
            self.put(Note(t=self.settled, text=f"All calls off was not carried out: {end or 'interrupted'}"))

    def _break_off(self, why: str) -> None:
        if self._sequence is not None:
            self._end_stretch(cut_short=why)
            self.put(SequenceMark(t=self.settled, name=self._sequence.name, phase="end", cut_short=why))
            self._sequence = None
        elif self._settling:
            self._end_stretch()
        if self.interrupted:
            self.put(Note(t=self.settled, text=why))


def _quantities(step: plan.Step) -> frozenset[str]:
    return frozenset(step.read) | {e.reads for e in step.expect if isinstance(e, plan.Reads)}
