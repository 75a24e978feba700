"""What a person is asked to move, in words; and what it comes to once they have."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

import msgspec

from stagecall import units
from stagecall.model.event import Call, Event, Power, Switch
from stagecall.points import kind_of, point
from stagecall.rigs.contract import Move

AT_THAT_MOMENT = "Press Enter at that moment."


class Task(msgspec.Struct, frozen=True):
    """One thing to be done: what is asked, and the events (with t and e still 0) that it comes to."""

    text: str
    events: tuple[Event, ...] = ()


def tasks(move: Move, calls: frozenset[str], *, jumpers: bool) -> Iterator[Task]:
    """The tasks of a move, in order, where *calls* stand; *jumpers*: calls are made by joining R to their wires."""
    if move.surroundings:
        surroundings = move.surroundings.items()
        asked = ", ".join(f"{_name(name)} {units.show(value, kind_of(name))}" for name, value in surroundings)
        yield Task(f"Set: {asked}. Press Enter when it is so.")
    if move.control is not None:
        yield Task(f"Ask of the control: {move.control}. {AT_THAT_MOMENT}")
    if move.open_switch is not None:
        yield Task(_opening(move.open_switch), (Switch(name=move.open_switch, state="open"),))
    if move.restore is not None:
        done = f"Put {_name(move.restore)} back as it was. Press Enter at the moment it is closed."
        yield Task(done, (Switch(name=move.restore, state="closed"),))
    if move.press is not None:
        yield Task(f"Join the pins for {_name(move.press)} as the maker says. {AT_THAT_MOMENT}")
    if move.power is not None:
        done = f"Switch the 24 V control power (R) {move.power}. {AT_THAT_MOMENT}"
        yield Task(done, (Power(state=move.power),))
    if move.calls is not None and move.calls != calls:
        yield _calling(move.calls, calls, jumpers=jumpers)


def _opening(name: str) -> str:
    if name == "float_switch":
        return f"Pour water into the pan until the float trips. {AT_THAT_MOMENT}"
    known = point(name)
    meaning = known.meaning if known is not None else _name(name)
    return (
        f"Open {meaning}: at its one lead that was made ready with the power off. Never close or bridge one. "
        f"{AT_THAT_MOMENT}"
    )


def _calling(then: frozenset[str], calls: frozenset[str], *, jumpers: bool) -> Task:
    made, ended = sorted(then - calls), sorted(calls - then)
    kept = sorted(then & calls)
    events = (
        *(Call(terminal=one, state="off") for one in ended),
        *(Call(terminal=one, state="on") for one in made),
    )
    said = []
    if ended:
        said.append(f"End the call: {_and(ended)}." if not jumpers else f"End the call: take {_and(ended)} off R.")
    if made:
        said.append(f"Make the call: {_and(made)}." if not jumpers else f"Make the call: join R to {_and(made)}.")
    if kept:
        said.append(f"{_and(kept)} {'stays' if len(kept) == 1 else 'stay'} called.")
    return Task(" ".join([*said, AT_THAT_MOMENT]), events)


def _and(names: Iterable[str]) -> str:
    *most, last = names
    return f"{', '.join(most)} and {last}" if most else last


def _name(name: str) -> str:
    return name.replace("_", " ")
