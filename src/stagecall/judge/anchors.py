"""What times are counted from: finding the moment an anchor stands for, at a step's begin or later inside it."""

from __future__ import annotations

from stagecall.judge.intervals import Mark, hull
from stagecall.judge.state import POWER, World, awaited_key, call_key
from stagecall.model.sequence import Anchor

STEP = Anchor()


def anchor_key(anchor: Anchor) -> str:
    """The key whose edge *anchor* is; empty for the step's begin."""
    match anchor.kind:
        case "step":
            return ""
        case "call":
            return call_key(anchor.name)
        case "power":
            return POWER
        case "point":
            return anchor.name


class Anchors:
    """The anchors of one step (or of all monitors: then nothing is awaited and nothing lies before)."""

    __slots__ = ("_awaited", "_begin", "_given", "_seen", "_sequence", "_waiting", "_world")

    def __init__(
        self,
        world: World,
        begin: Mark,
        awaits: dict[str, str] | None = None,
        given: tuple[int, int] | None = None,
        sequence: int | None = None,
    ) -> None:
        """*sequence* is the occurrence whose edges a point anchor may look back to; None for monitors."""
        self._world, self._begin, self._given, self._sequence = world, begin, given, sequence
        self._awaited = {awaited_key(name): state for name, state in (awaits or {}).items()}
        self._seen: dict[str, Mark] = {}
        self._waiting: set[Anchor] = set()

    def find(self, anchor: Anchor) -> Mark | None:
        """The anchor's moment if it is known at the begin; None: :meth:`change` will tell when it comes."""
        mark = self._at_begin(anchor)
        if mark is None:
            self._waiting.add(anchor)
        return mark

    def _at_begin(self, anchor: Anchor) -> Mark | None:
        if anchor.kind == "step":
            if self._given is not None:
                return Mark(*self._given, self._begin.n)
            return None if self._awaited else self._begin
        if self._sequence is None:
            return None
        key = anchor_key(anchor)
        if anchor.kind != "point" and self._awaited.get(key) == anchor.state:
            return None
        found = self._world.edge(key, anchor.state)
        if found is None or (anchor.kind == "point" and found[1] != self._sequence):
            return None
        return found[0]

    @property
    def waiting(self) -> bool:
        """Whether an anchor that is needed has not come yet."""
        return bool(self._waiting)

    def change(self, key: str, state: str, e: int, t: int, n: int) -> list[tuple[Anchor, Mark]]:
        """The anchors that this change makes known."""
        known: list[tuple[Anchor, Mark]] = []
        mark = Mark(e, t, n)
        if self._awaited.get(key) == state and key not in self._seen:
            self._seen[key] = mark
            if len(self._seen) == len(self._awaited) and STEP in self._waiting:
                known.append((STEP, hull(list(self._seen.values()))))
        known += [(one, mark) for one in self._waiting if one.state == state and anchor_key(one) == key]
        self._waiting.difference_update(anchor for anchor, _ in known)
        return known
