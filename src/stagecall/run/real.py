"""What only a real rig needs: may this be begun, may heat be called again, is a switch closed again, has it to end."""

from __future__ import annotations

from collections.abc import Mapping

import msgspec

from stagecall import units
from stagecall.model import plan
from stagecall.model.equipment import Equipment
from stagecall.model.event import Event, Note, Refusal, Wait
from stagecall.model.system import System
from stagecall.points import HEAT_CALLS, kind_of
from stagecall.rigs.guard import Circumstances
from stagecall.run.before import before_first_call
from stagecall.run.cautions import order
from stagecall.run.course import Course
from stagecall.run.fitting import refused
from stagecall.run.wants import Alarm, Asking, CutShort, HoldHeat, Ordered, Refused, Script
from stagecall.run.watchman import Watchman

SMELL_AFTER = 5 * 60_000
"""ms after which gas that came out unburnt can be smelled for, and has gone where there is none."""


class _Held(msgspec.Struct):
    """Heat dropped for safety, or something locked out on purpose: what, when, and whether a person was asked."""

    what: str
    since: int
    everything: bool
    asked: bool = False


class Real:
    """The rules of safety for one run on a bench or on equipment, as pieces of its script."""

    def __init__(
        self,
        course: Course,
        installed: System,
        profiles: Mapping[str, Equipment],
        sequences: tuple[plan.Sequence, ...],
        here: Circumstances,
    ) -> None:
        self._course, self._installed, self._profiles, self._sequences = course, installed, profiles, sequences
        self._here = here
        seen = course.ledger.header.source.points
        self._watchman = Watchman(
            installed, profiles, {name for name, bounds in seen.items() if bounds.sensed == "person"}
        )
        self._weather: dict[str, bool] = {}
        self._held: _Held | None = None
        self._cuts = 0
        self._over = False

    def _ask(self, text: str) -> Asking:
        if self._here.attended:
            return (yield from self._course.ask(text))
        self._course.put(Note(t=self._course.settled, text=f"nobody was there to answer: {text}"))
        return False

    def begin(self) -> Script:
        """All that comes before the first call."""
        yield from before_first_call(self._course, self._installed, self._profiles, self._sequences, self._here)

    # -- before a sequence --------------------------------------------------------------------------------------------

    def may_begin(self, sequence: plan.Sequence) -> Script:
        """Whether it may be begun here and now; raises CutShort where not."""
        if because := refused(sequence, msgspec.structs.replace(self._here, cuts=self._cuts)):
            self._course.put(Refusal(t=self._course.settled, because=f"{sequence.name}: {because}"))
            raise CutShort(f"CALL REFUSED: {because}")
        yield from self._weather_fits(sequence)
        yield from self._let_go(sequence)
        self._cuts += sum(step.power == "off" for step in sequence.steps)

    def _weather_fits(self, sequence: plan.Sequence) -> Script:
        if self._here.ground == "mockup":
            return
        for name, limit in sequence.conditions.items():
            asked = f"Is {name.replace('_', ' ')} {units.show_range(limit, kind_of(name))} now?"
            if asked not in self._weather:
                self._weather[asked] = yield from self._ask(asked)
            if not self._weather[asked]:
                raise CutShort(f"deferred: {name.replace('_', ' ')} is not {units.show_range(limit, kind_of(name))}")

    # -- heat dropped for safety --------------------------------------------------------------------------------------

    def broken_off(self) -> Script:
        """A sequence was given up: where heat was called, it is dropped for safety."""
        if self._course.calls & HEAT_CALLS:
            self._held = _Held("heat was dropped for safety", self._course.settled, everything=False)
            yield HoldHeat(held=True)

    def locked_out(self, what: str) -> Script:
        """A sequence made something lock out; on a real rig nobody but a person resets it."""
        self._held = _Held(f"{what.replace('_', ' ')} was made on purpose", self._course.settled, everything=True)
        yield HoldHeat(held=True)

    def _let_go(self, sequence: plan.Sequence) -> Script:
        held, course = self._held, self._course
        heats = any(frozenset(step.calls) & HEAT_CALLS for step in sequence.steps)
        if held is None or not (held.everything or heats):
            return
        if not held.asked:
            held.asked = True
            until = held.since + SMELL_AFTER
            if course.settled < until:
                course.put(
                    Wait(t=course.settled, until=until, because=f"{held.what}: five minutes, then a smell check")
                )
                yield from course.poll(until)
            smell = "No smell of gas or oil at the burner and near the floor? " if self._here.fuel else ""
            if (yield from self._ask(f"{held.what}. {smell}Cause known, and reset by hand as the maker says?")):
                self._held = None
                yield HoldHeat(held=False)
                return
        because = f"{held.what}, and nobody has said that it may be called again"
        course.put(Refusal(t=course.settled, because=because))
        raise CutShort(f"CALL REFUSED: {because}")

    # -- what ends the run --------------------------------------------------------------------------------------------

    def note(self, event: Event) -> None:
        """Watch what happens."""
        self._watchman.note(event, self._course.calls)

    def check(self) -> None:
        """Raise where the run has to end here."""
        if self._over:
            return
        if self._watchman.fire(self._course.settled, self._course.calls):
            self._over = True
            raise Ordered("flame or gas was seen with no call")
        if call := self._watchman.foreign:
            self._over = True
            raise Refused(f"{call} is called, and not by us: a second control is at work")

    def end(self, why: Refused) -> Script:
        """What follows at once where the run has to end: the order, where it burns."""
        if isinstance(why, Ordered):
            yield Alarm(order(self._installed))

    def closed_again(self) -> Script:
        """Before the as-left state every switch that was opened is seen closed, or a person says so."""
        course = self._course
        for name in sorted(course.ever_opened) if self._here.attended else ():
            said = name.replace("_", " ")
            while course.seen.state(name) in {None, "open"}:
                seen = "is not seen closed" if course.seen.state(name) == "open" else "cannot be seen"
                closed = yield from course.ask(f"The switch {said} {seen} from here. Is it closed, its lead back on?")
                if closed and course.seen.state(name) is None:
                    break
