"""The rig that is a person: they make the calls when told, press Enter on hearing or seeing the answer, type readings.

The person is told one thing at a time. What the kit declares of a person (how late they press, 1 to 2 s) is taken off
each stamp as the bounds say. Nothing is settled before that long has passed, and 3 s more in which a slip can be taken
back.

What a person does not say did not happen: whoever looks away makes a point seem dead. A pulse shorter than the kit's
blind time is missed.
"""

from __future__ import annotations

from bisect import insort
from collections import deque
from collections.abc import Sequence
from typing import TYPE_CHECKING, Literal

import msgspec

from stagecall import units
from stagecall.documents.installation import Installation
from stagecall.errors import UsageError
from stagecall.model.event import Call, Edge, Event, Gap, Power, Reading, Snapshot, SourceBounds, Switch, TestedOn
from stagecall.model.fault import AppliedFault
from stagecall.model.sequence import Condition
from stagecall.points import at_rest, kind_of, point
from stagecall.rigs.asking import Task, tasks
from stagecall.rigs.clock import Clock
from stagecall.rigs.contract import Batch, Look, Move, Rig
from stagecall.rigs.reporting import Measured, Unclear, understand
from stagecall.rigs.sight import source_bounds

if TYPE_CHECKING:
    from stagecall.rigs.registry import Opener, RigSpec

LOOK_EVERY = 50
"""ms between two looks at what was typed."""
TAKE_BACK = 3_000
"""ms for which what was reported is held, so that a slip can be taken back before anything is judged by it."""
PATIENCE = 15 * 60_000
"""ms that a person may take for what they are told to do."""
MOST_BETWEEN = 60_000
"""ms between two requests for one reading, where the kit says nothing."""

Calls = Literal["jumper", "control"]


class _Stamped(msgspec.Struct, order=True):
    """An event that is not settled yet; ``order`` keeps those of one moment as they came."""

    t: int
    order: int
    event: Event


class ByHandRig(Rig):
    """One person, told through :meth:`words` and heard through :meth:`hear`."""

    name = "by-hand"
    kept_as = "by-hand"
    hands = True
    patience = PATIENCE

    def __init__(self, bounds: SourceBounds, clock: Clock, tested_on: TestedOn, calls: Calls = "jumper") -> None:
        super().__init__()
        self.bounds, self.tested_on = bounds, tested_on
        self._clock, self._began = clock, clock.monotonic_ms()
        self.at_control = calls == "control"
        self._calls: frozenset[str] = frozenset()
        self._power: Literal["on", "off"] = "on"
        self._states: dict[str, str] = {}
        self._tasks: deque[Task] = deque()
        self._survey: tuple[Condition, ...] = ()
        self._look = Look()
        self._due: dict[str, int] = {}
        self._last: tuple[Condition, str | None] | None = None
        """What was reported last, and the point's state before."""
        self._words: list[str] = []
        self._held: list[_Stamped] = []
        self._count = 0
        late = max((max(b.late_on[0], b.late_off[0]) for b in bounds.points.values()), default=0)
        self._lag = late + TAKE_BACK

    @property
    def now(self) -> int:
        """The machine's clock, ms since the run began."""
        return self._clock.monotonic_ms() - self._began

    # -- what happened ------------------------------------------------------------------------------------------------

    def _advance(self, until: int) -> Batch:
        self._clock.sleep_ms(min(LOOK_EVERY, max(0, until + self._lag + 1 - self.now)))
        now = self.now
        settled = max(0, now - self._lag - 1)
        events = []
        while self._held and self._held[0].t <= settled:
            events.append(self._held.pop(0).event)
        self._ask_for_readings(now)
        return Batch(events, settled)

    def snapshot(self) -> Snapshot:
        """What is known; points only once the person has looked around."""
        return Snapshot(t=max(0, self.now - self._lag), calls=tuple(sorted(self._calls)), power=self._power)

    def _put(self, event: Event) -> None:
        self._count += 1
        insort(self._held, _Stamped(event.t, self._count, event))

    def _came(self, seen: Condition) -> None:
        name, state = seen.point, seen.state
        if self._states.get(name) == state:
            self._say(f"{seen} is noted already.")
            return
        bounds = self.bounds.points[name]
        least, most = bounds.late_off if state in {"off", "open"} else bounds.late_on
        before = [held.t for held in self._held if isinstance(held.event, Edge) and held.event.point == name]
        t = max([1, self.now - least, *before])
        self._last = seen, self._states.get(name)
        self._states[name] = state
        self._put(Edge(t=t, e=max(0, t - (most - least)), point=name, state=state))
        self._say(f"Noted: {seen}.")

    def _take_back(self) -> None:
        """What was reported last did not happen; where that is judged already, its point is unknown until now."""
        if self._last is None:
            self._say("There is nothing to take back.")
            return
        (seen, before), self._last = self._last, None
        if before is None:
            self._states.pop(seen.point)
        else:
            self._states[seen.point] = before
        if (held := self._still_held(seen)) is not None:
            self._held.remove(held)
            self._say(f"Taken back: {seen}.")
        else:
            self._put(Gap(t=max(1, self.now), points=(seen.point,), because=f"the person took back: {seen}"))
            self._put(self._all_known())
            self._say(f"Taken back: {seen}. It may be judged already: run this sequence again.")
        self._tell_watch()

    def _still_held(self, seen: Condition) -> _Stamped | None:
        for held in reversed(self._held):
            if isinstance(held.event, Edge) and held.event.point == seen.point:
                return held
        return None

    def _all_known(self) -> Snapshot:
        calls = tuple(sorted(self._calls))
        return Snapshot(t=max(1, self.now), calls=calls, power=self._power, points=dict(self._states))

    # -- what is asked ------------------------------------------------------------------------------------------------

    def _move(self, move: Move) -> None:
        before = len(self._tasks)
        standing = self._calls if not self._tasks else self._calls_after_tasks()
        self._tasks.extend(tasks(move, standing, jumpers=not self.at_control))
        if not before and self._tasks:
            self._say(self._tasks[0].text)

    def _calls_after_tasks(self) -> frozenset[str]:
        calls = set(self._calls)
        for task in self._tasks:
            for event in task.events:
                if isinstance(event, Call):
                    (calls.add if event.state == "on" else calls.discard)(event.terminal)
        return frozenset(calls)

    def look_for(self, look: Look) -> None:
        """What this step may show; said in full once its moves are made."""
        self._look = look
        if not self._tasks:
            self._tell_watch()
        elif expected := [str(one) for one in self._visible(look.expected)]:
            self._say(f"Then watch for: {', '.join(expected)}.")

    def survey(self, states: tuple[Condition, ...]) -> bool:
        """Have the person look around before a sequence, and at all that is not known yet."""
        asked = {one.point for one in states}
        new = [name for name in self.bounds.points if name not in self._states and name not in asked]
        rests = (Condition(name, rest) for name in new if (rest := at_rest(name)) is not None)
        self._survey = (*self._visible(states), *rests)
        if self._survey:
            self._say(self._survey_words())
        return bool(self._survey)

    def sample(self, points: frozenset[str]) -> None:
        """Ask for these readings from now on."""
        visible = {name for name in points if name in self.bounds.points}
        self._due = {name: self._due.get(name, self.now + self._every(name)) for name in sorted(visible)}

    def _every(self, name: str) -> int:
        """A reading is asked for again in time to be typed before the last one is stale."""
        return min(self.bounds.points[name].holds // 3 or MOST_BETWEEN, MOST_BETWEEN)

    def _ask_for_readings(self, now: int) -> None:
        for name, due in self._due.items():
            if now >= due and not self._tasks:
                self._due[name] = now + max(self._every(name), self.bounds.points[name].holds - self._every(name))
                kind = kind_of(name)
                said = units.KIND_WORDS[kind].partition("such as ")[2].rstrip(")") or "its unit"
                self._say(f"Read {_name(name)} and type it with its unit, such as {said.replace('°', '')}.")

    def _visible(self, conditions: tuple[Condition, ...]) -> tuple[Condition, ...]:
        return tuple(one for one in conditions if one.point in self.bounds.points)

    def _listed(self) -> list[Condition]:
        """What the numbers stand for: what is expected and has not come, then what must not come."""
        every = (*self._visible(self._look.expected), *self._visible(self._look.unwanted))
        return [one for one in every if self._states.get(one.point) != one.state]

    def _watch_words(self) -> str:
        listed = self._listed()
        expected = [one for one in self._look.expected if one in listed]
        lines = [f"{number}  {one}" for number, one in enumerate(expected, 1)]
        if lines:
            lines[0] = f"Enter  {expected[0]}"
        unwanted = [f"{number} {one}" for number, one in enumerate(listed, 1) if number > len(expected)]
        if unwanted:
            lines.append(f"Should not come; else type its number: {', '.join(unwanted)}.")
        return "\n".join(lines)

    def _survey_words(self) -> str:
        by_state: dict[str, list[str]] = {}
        for one in self._survey:
            by_state.setdefault(one.state, []).append(_name(one.point))
        said = "; ".join(f"{state}: {', '.join(names)}" for state, names in by_state.items())
        wrong = _wrong(self._survey[0])
        return f"Look and listen. Is it so? {said}.\nEnter: all is so. Else type what is not, such as {wrong}."

    def words(self) -> list[str]:
        """What is to be said since the last look."""
        said, self._words = self._words, []
        return said

    def _say(self, text: str) -> None:
        self._words.append(text)

    # -- what is typed ------------------------------------------------------------------------------------------------

    def hear(self, text: str) -> None:
        """Enter, a number of the list, ``blower off``, a reading with its unit, ``wrong`` or ``?``."""
        if text == "?":
            self._say(self._asked())
        elif text.casefold() == "wrong":
            self._take_back()
        elif not text:
            self._enter()
        else:
            self._report(text)

    def _asked(self) -> str:
        if self._tasks:
            return self._tasks[0].text
        if self._survey:
            return self._survey_words()
        return self._watch_words() or "Nothing is awaited; type what you see, such as blower off."

    def _enter(self) -> None:
        if self._tasks:
            self._done(self._tasks.popleft())
        elif self._survey:
            self._surveyed()
        elif (listed := self._listed()) and listed[0] in self._look.expected:
            self._came(listed[0])
            self._tell_watch()
        else:
            self._say("Nothing is awaited now; type what you see, such as blower off.")

    def _done(self, task: Task) -> None:
        now = max(1, self.now)
        for event in task.events:
            stamped = msgspec.structs.replace(event, t=now, e=max(0, now - self.bounds.call_width))
            self._put(stamped)
            match event:
                case Call():
                    one = frozenset({event.terminal})
                    self._calls = self._calls | one if event.state == "on" else self._calls - one
                case Power():
                    self._power = event.state
                case Switch():
                    pass
        if self._tasks:
            self._say(self._tasks[0].text)
        else:
            self._tell_watch()

    def _tell_watch(self) -> None:
        if said := self._watch_words():
            self._say(said)

    def _surveyed(self) -> None:
        found = {one.point: one.state for one in self._survey}
        self._survey = ()
        self._states |= found
        self._put(self._all_known())
        self._tell_watch()

    def _report(self, text: str) -> None:
        understood = understand(text, self.bounds.points, self._listed(), list(self._due))
        match understood:
            case Unclear(because=because):
                self._say(because if because.endswith("?") else f"{because}.")
            case Measured(point=name, value=value):
                self._put(Reading(t=max(1, self.now), point=name, value=value))
                self._say(f"Noted: {_name(name)} {units.show(value, kind_of(name))}.")
            case Condition() if self._survey:
                self._survey = tuple(understood if one.point == understood.point else one for one in self._survey)
                self._say(self._survey_words())
            case Condition():
                self._came(understood)
                if not self._tasks:
                    self._tell_watch()


def _name(name: str) -> str:
    return name.replace("_", " ")


def _wrong(condition: Condition) -> str:
    known = point(condition.point)
    others = () if known is None else known.states
    return f"{_name(condition.point)} {next((one for one in others if one != condition.state), condition.state)}"


def prepare(spec: RigSpec) -> Opener:
    """A person with this kit; ``by-hand:control`` where calls are made at the control, else by jumpers.

    Raises:
        UsageError: the word behind the colon says nothing; the kit only looks on.
    """
    if spec.where not in {"", "jumper", "control"}:
        raise UsageError(f"--rig by-hand:{spec.where}: say by-hand:jumper or by-hand:control, how the calls are made")
    if not spec.kit.makes_calls:
        raise UsageError(f"kit {spec.kit.kit} makes no calls, and by hand a person does")
    bounds = source_bounds(spec.kit, Installation.of(spec.system, spec.profiles).points)
    where: Calls = "control" if spec.where == "control" else "jumper"

    def open_rig(seed: int, faults: Sequence[AppliedFault], *, drawn: bool) -> Rig:  # noqa: ARG001 - a model's
        rig = ByHandRig(bounds, spec.clock, spec.tested_on, where)
        rig.kept_as = f"by-hand-{spec.system.system}"
        return rig

    return open_rig
