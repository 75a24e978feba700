"""Between sequences, and at the end: all calls off, everything back to normal, and what the next one waits for."""

from __future__ import annotations

from functools import partial

from stagecall.model import plan
from stagecall.model.event import Wait
from stagecall.model.system import System
from stagecall.rigs.contract import Look, Move
from stagecall.run.course import Course, request
from stagecall.run.looks import surveyed
from stagecall.run.prepare import surroundings
from stagecall.run.starts import compressor_starts
from stagecall.run.wants import AllOff, Earliest, LookFor, MakeSafe, Sample, Script, Survey
from stagecall.run.witness import AT_REST

SETTLE_LIMIT = 30 * 60_000
"""The stretch between sequences is bounded: off-delays last 8 min at most, and the guard's hour of starts is rare."""

LAST_LOOK = 2_000
"""ms within which a relay that was told to open is seen to."""


def rest(course: Course, sequence: plan.Sequence, installed: System | None) -> Script:
    """All calls off, everything restored; then wait for the starts and for the guard.

    The surroundings are set as *installed* has them; None: a real rig, whose weather is as it is.
    """
    limit = course.settled + SETTLE_LIMIT
    yield Sample(frozenset())
    yield from all_normal(course)
    if installed is not None:
        yield from course.change(Move(surroundings=surroundings(sequence, installed)))
    if within := (yield Survey(partial(surveyed, sequence))):
        course.seen.expect({"survey": "done"}, course.settled)
        yield from course.until_moved(within)
        asked = tuple([one for one in sequence.starts if course.seen.contradicts(one)])
        yield LookFor(lambda: Look(asked))
    while course.settled < limit and any(course.seen.contradicts(condition) for condition in sequence.starts):
        yield from course.once(limit)
    starts = compressor_starts(sequence)
    if course.makes_calls and starts:
        free_at, because = yield Earliest(starts)
        if free_at > course.settled:
            course.put(Wait(t=course.settled, until=free_at, because=because))
            yield from course.poll(free_at)


def all_normal(course: Course) -> Script:
    """Calls off, switches restored, power on."""
    yield LookFor(Look)
    yield from _drop_calls(course)
    if not course.makes_calls:
        yield from course.change(Move(control=AT_REST))
    for name in sorted(course.opened):
        yield from course.change(Move(restore=name))
    if course.power == "off":
        yield from course.change(Move(power="on"))


def _drop_calls(course: Course) -> Script:
    moves: list[tuple[Move, int]] = yield AllOff()
    for move, wait in moves:
        yield from course.clearance(move)
        yield from course.change(move)
        yield from course.poll(course.settled + wait)


def make_safe(course: Course) -> Script:
    """The safe order at once, whatever the minimum on says."""
    yield LookFor(Look)
    moves: list[tuple[Move, int]] = yield AllOff()
    for move, wait in moves:
        course.seen.expect(course.awaits(move), course.settled)
        course.put(request(move, course.settled))
        within: int = yield MakeSafe(move)
        yield from course.until_moved(within)
        if course.seen.calls:
            yield from course.poll(course.settled + wait)
    limit = course.settled + LAST_LOOK
    while course.makes_calls and course.seen.calls and course.settled < limit:  # asked before, and not seen yet
        yield from course.once(limit)
