"""Before the first call on a real rig: what a person confirms, and the call wires that have to be dead for 60 s."""

from __future__ import annotations

from collections.abc import Mapping

from stagecall.model import plan
from stagecall.model.equipment import Equipment
from stagecall.model.event import Note
from stagecall.model.system import System
from stagecall.points import CALLS
from stagecall.rigs.guard import Circumstances
from stagecall.run.cautions import cautions, energy_words, order
from stagecall.run.course import Course
from stagecall.run.wants import Refused, Script

DEAD_FOR = 60_000
"""ms for which every call wire is seen or metered dead before the first call."""


def before_first_call(
    course: Course,
    installed: System,
    profiles: Mapping[str, Equipment],
    sequences: tuple[plan.Sequence, ...],
    here: Circumstances,
) -> Script:
    """Ask what has to be asked; a no ends the run before anything is called."""
    said = "\n".join(f"- {caution}" for caution in cautions(installed, profiles, sequences))
    if not here.attended:
        course.put(Note(t=course.settled, text=f"CAUTIONS\n{said}"))
        yield from _wires_seen_dead(course)
        return
    yield from _must(course, f"CAUTIONS\n{said}\nRead, and done where it applies?", "the cautions are not followed")
    yield from _must(
        course,
        f"The system's file says: {energy_words(installed)}. Is it so now?",
        "the energy is not as the system's file says",
    )
    if here.ground == "live":
        yield from _must(
            course,
            f"If flame or gas is ever seen with no call, this will be ordered:\n{order(installed)}\n"
            "Are these in reach, and tried?",
            "what shuts the system off is not in reach",
        )
    if not course.makes_calls:
        return
    if here.at_control:
        yield from _must(course, "Does the control call nothing now?", "the control calls by itself")
        return
    yield from _must(
        course,
        "Is the old control lifted off, or are its call wires off their screws?",
        "the old control can still call",
    )
    yield from _dead_wires(course)


def _must(course: Course, question: str, because: str) -> Script:
    if not (yield from course.ask(question)):
        raise Refused(because)


def _dead_wires(course: Course) -> Script:
    if _watched(course):
        yield from _wires_seen_dead(course)
        return
    question = "Meter each call wire against C for 60 s, nothing joined to R. Is every one dead all the time?"
    yield from _must(course, question, "a call wire is live with no call of ours")


def _watched(course: Course) -> dict[str, str]:
    """Call wires that are seen: point to call."""
    seen = course.ledger.header.source.points
    return {f"wire_{call}": call for call in CALLS if f"wire_{call}" in seen}


def _wires_seen_dead(course: Course) -> Script:
    if not (watched := _watched(course)):
        return
    course.put(Note(t=course.settled, text=f"call wires are watched for 60 s: {', '.join(watched.values())}"))
    limit = course.settled + DEAD_FOR
    while course.settled < limit:
        if live := [call for name, call in watched.items() if course.seen.state(name) == "on"]:
            raise Refused(f"{' and '.join(live)} live with no call of ours: another control is at work")
        yield from course.once(limit)
