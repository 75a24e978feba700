"""From profiles and a system's conductors to joined terminals and elements of the 24 V network."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from stagecall.circuit import Contact, Element, Wire, conductor_ohms
from stagecall.errors import UsageError
from stagecall.model.equipment import Equipment
from stagecall.model.fault import AppliedFault
from stagecall.model.system import Conductor, System
from stagecall.plant.kinds import KINDS
from stagecall.plant.parameters import unknown
from stagecall.plant.part import Medium
from stagecall.units import Quantity

ASSUMED_GAUGE = 18
"""AWG of a conductor whose gauge is unknown: the usual thermostat cable."""
ASSUMED_METRES = 15.0
"""Length of a conductor whose length is unknown: some 50 ft, the middle of usual runs of 25 to 150 ft."""
CONNECTION_OHMS = 0.02
"""Two good screw joints of a conductor; a good joint is under 0.05 ohm (trade knowledge, no published source found)."""
SHORT_OHMS = 0.05
"""Two bared conductors that touch, or a jumper between two screws."""


def medium_of(name: str, profile: Equipment, node: str) -> Medium:
    """What kind of terminal that is: ``W`` is a screw, ``board.W`` a part's terminal.

    Raises:
        UsageError: there is no such screw, part or terminal.
    """
    part, dot, terminal = node.partition(".")
    if not dot:
        if node not in profile.terminals:
            raise unknown(node, dict.fromkeys((*profile.terminals, *profile.parts)), f"{name} ({profile.equipment})")
        return "control"
    if part not in profile.parts:
        raise unknown(part, profile.parts, f"{name} ({profile.equipment})")
    terminals = KINDS[profile.parts[part].kind].terminals
    if terminal not in terminals:
        raise unknown(terminal, terminals, f"{name}.{part}")
    return terminals[terminal]


def joints(name: str, profile: Equipment) -> Iterator[tuple[str, str, Medium]]:
    """The joins inside one machine, by full names of nodes.

    Raises:
        UsageError: a join of terminals of two media, or with something that is not there.
    """
    for a, b in profile.wiring:
        medium, other = medium_of(name, profile, a), medium_of(name, profile, b)
        if medium != other:
            raise UsageError(f"{name}: {a} ({medium}) cannot be joined to {b} ({other})")
        yield f"{name}.{a}", f"{name}.{b}", medium


def groups(pairs: Iterable[tuple[str, str]]) -> dict[str, tuple[str, ...]]:
    """For every node, the others that it is joined to, however far."""
    group: dict[str, list[str]] = {}
    for a, b in pairs:
        merged = group.get(a, [a])
        other = group.get(b, [b])
        if merged is not other:
            merged = merged + other
            for node in merged:
                group[node] = merged
    return {node: tuple(other for other in members if other != node) for node, members in group.items()}


def screws(name: str, profile: Equipment) -> Iterator[Element]:
    """The screws themselves, so that a bare one is a node too."""
    for terminal in profile.terminals:
        yield Wire(f"{name}.screw_{terminal}", f"{name}.{terminal}", f"{name}.{terminal}", 1.0)


class Cabling:
    """The system's conductors in one run, with what has befallen them."""

    def __init__(self, system: System, nodes: Iterable[str]) -> None:
        """*nodes*: the screws that a conductor may end at.

        Raises:
            UsageError: an end that is none of them.
        """
        self._system = system
        self._ends = {conductor.name: [conductor.start, conductor.end] for conductor in system.conductors}
        self._joint = dict.fromkeys(self._ends, 0.0)
        self._broken: set[str] = set()
        self._shorts: list[Element] = []
        self._screws = screws = dict.fromkeys(nodes)
        for name, ends in self._ends.items():
            for end in ends:
                if end not in screws:
                    raise unknown(end, screws, f"conductor {name}: the system")

    def befall(self, applied: AppliedFault) -> None:
        """Change one conductor, or lay a jumper.

        Raises:
            UsageError: no such conductor or screw, no neighbour in its cable, or a joint without ohms.
        """
        name = applied.target
        if applied.fault.jumper is not None:
            self._lay(name, applied.fault.jumper)
            return
        if name not in self._ends:
            raise unknown(name, self._ends, f"system {self._system.system}")
        match applied.fault.wire:
            case "open" | "loose":
                self._broken.add(name)
            case "joint":
                self._joint[name] += _severity(applied).to("ohms")
            case "short_to_common":
                end, common = self._common_near(name)
                self._short(name, end, common)
            case "short_to_neighbour":
                self._short(name, self._ends[name][1], self._ends[self._neighbour(name)][1])
            case _:
                ends, other = self._ends[name], self._ends[self._neighbour(name)]
                ends[1], other[1] = other[1], ends[1]

    def elements(self) -> Iterator[Element]:
        """The conductors as they now are. A broken or loose one is a contact, so that its ends stay nodes."""
        for conductor in self._system.conductors:
            name = conductor.name
            a, b = self._ends[name]
            if name in self._broken:
                yield Contact(f"conductor {name}", a, b, _ohms(conductor))
            else:
                yield Wire(f"conductor {name}", a, b, _ohms(conductor) + self._joint[name])
        yield from self._shorts

    def _common_near(self, name: str) -> tuple[str, str]:
        """An end of that conductor and the common of the machine it is in, the far end's where that has one."""
        for end in reversed(self._ends[name]):
            common = f"{end.partition('.')[0]}.C"
            if common in self._screws:
                return end, common
        raise UsageError(f"conductor {name} has no common near it: neither of its ends is in a machine with a screw C")

    def _lay(self, a: str, b: str) -> None:
        for screw in (a, b):
            if screw not in self._screws:
                raise unknown(screw, self._screws, f"system {self._system.system}")
        self._shorts.append(Wire(f"jumper {a} {b}", a, b, SHORT_OHMS))

    def _short(self, name: str, a: str, b: str) -> None:
        self._shorts.append(Wire(f"conductor {name}, short {len(self._shorts)}", a, b, SHORT_OHMS))

    def _neighbour(self, name: str) -> str:
        """The next conductor of its cable, or the one before where it is the last."""
        conductors = self._system.conductors
        own = next(conductor for conductor in conductors if conductor.name == name)
        cable = [conductor.name for conductor in conductors if own.cable and conductor.cable == own.cable]
        if len(cable) < 2:
            raise UsageError(f"conductor {name} has no neighbour: no other conductor is listed in its cable")
        place = cable.index(name)
        return cable[place + 1] if place + 1 < len(cable) else cable[place - 1]


def _severity(applied: AppliedFault) -> Quantity:
    if applied.severity is not None:
        return applied.severity
    if applied.fault.severity is None:
        raise UsageError(f"fault {applied.fault.fault} needs a severity in ohms")
    return applied.fault.severity.typical


def _ohms(conductor: Conductor) -> float:
    metres = ASSUMED_METRES if conductor.length is None else conductor.length.to("length")
    return conductor_ohms(conductor.gauge or ASSUMED_GAUGE, metres) + CONNECTION_OHMS
