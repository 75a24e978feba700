"""What a system has: calls that are wired, points that exist, switches that can be opened, machines, features."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from stagecall import points
from stagecall.model.equipment import Equipment
from stagecall.model.sequence import AppliesIf, Needs
from stagecall.model.system import System

_EVERYWHERE = ("control_voltage", "control_current", "outdoor_air", "room_air", "wire_R")
"""Every system has a control, a house and weather."""


class Installation:
    """Answers whether something is there, with the words for why not."""

    def __init__(self, points: Iterable[str], calls: Iterable[str] = ()) -> None:
        """Something that has these points and calls and no more: a recording."""
        self.calls = frozenset(calls)
        self.points = {*points, *(f"wire_{call}" for call in self.calls)}
        self.switches: frozenset[str] = frozenset()
        self.tests: frozenset[str] = frozenset()
        self.machines: frozenset[str] = frozenset()
        self.fitted: frozenset[str] = frozenset()

    @classmethod
    def of(cls, system: System, profiles: Mapping[str, Equipment]) -> Installation:
        """A system; *profiles* holds the profile of each of its machines by the profile's name."""
        machines = [profiles[installed.profile] for installed in system.equipment.values()]
        here = cls((*_EVERYWHERE, *(name for machine in machines for name in machine.points)), _wired(system))
        if {"supply_air", "return_air"} <= here.points:
            here.points.add("air_split")
        if "C" in system.control.terminals:
            here.points.add("thermostat_voltage")
        here.switches = frozenset(name for machine in machines for name in machine.switches)
        here.tests = frozenset(name for machine in machines for name in machine.tests)
        here.machines = frozenset(machine.what for machine in machines)
        here.fitted = frozenset(system.fitted)
        return here

    def lacks(self, needs: Needs) -> str:
        """Why what needs this does not apply here; empty where all is there."""
        kinds = [kind for kind in needs.equipment if kind not in self.machines]
        features = [feature for feature in needs.fitted if feature not in self.fitted]
        return (
            self.lacks_calls(needs.calls)
            or self.lacks_points(needs.points)
            or self.lacks_switches(needs.switches)
            or (f"no {_words(kinds)} here" if kinds else "")
            or (f"not fitted here: {_words(features)}" if features else "")
        )

    def lacks_calls(self, calls: Iterable[str]) -> str:
        """Why these cannot be called."""
        missing = [call for call in calls if call not in self.calls]
        return f"{_words(missing)} not wired here" if missing else ""

    def lacks_points(self, names: Iterable[str]) -> str:
        """Why these cannot be observed by anybody."""
        missing = [name for name in dict.fromkeys(names) if name not in self.points]
        return f"no {_words(missing)} here" if missing else ""

    def lacks_switches(self, names: Iterable[str]) -> str:
        """Why these cannot be opened on purpose."""
        missing = [name for name in names if name not in self.switches]
        return f"no {_words(missing)} here that can be opened" if missing else ""

    def lacks_tests(self, names: Iterable[str]) -> str:
        """Why no board here can be made to do these."""
        missing = [name for name in names if name not in self.tests]
        return f"no {_words(missing)} here" if missing else ""

    def lacks_reason(self, applies: AppliesIf) -> str:
        """The document's own reason, where what it asks for is not here."""
        there = (
            (applies.point is None or applies.point in self.points)
            and (applies.no_point is None or applies.no_point not in self.points)
            and (applies.call is None or applies.call in self.calls)
            and (applies.fitted is None or applies.fitted in self.fitted)
            and (applies.no_fitted is None or applies.no_fitted not in self.fitted)
        )
        return "" if there else applies.reason


def _words(names: Iterable[str]) -> str:
    return " or ".join(name.replace("_", " ") for name in names)


def _wired(system: System) -> frozenset[str]:
    """Terminals of the control with a conductor on them, or jumpered to one that has."""
    landed = set()
    for conductor in system.conductors:
        for end in (conductor.start, conductor.end):
            device, _, screw = end.partition(".")
            if device == "control":
                landed.add(points.terminal(screw))
    jumpers = [{points.terminal(one), points.terminal(other)} for one, other in system.control.jumpers]
    for _ in jumpers:
        for pair in jumpers:
            if pair & landed:
                landed |= pair
    return frozenset(call for call in points.CALLS if call in landed)
