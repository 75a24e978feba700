"""Where each point of a system is sensed, and by what means."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

import msgspec

from stagecall.errors import UsageError
from stagecall.model.equipment import Equipment
from stagecall.plant.netlist import medium_of
from stagecall.plant.parameters import unknown
from stagecall.points import HOT, POINTS, Sensed, point


class Where(msgspec.Struct, frozen=True, kw_only=True):
    """One means of sensing one point: on a part itself, or as the voltage of a node to its equipment's common."""

    equipment: str
    part: str | None = None
    """Full name of the part."""
    node: str | None = None
    """Full name of the node whose voltage to ``<equipment>.C`` counts."""

    @property
    def key(self) -> str:
        """The name of the probe that reads this voltage."""
        return f"{self.node} to {self.equipment}.C"


Places = dict[str, dict[Sensed, Where]]


def places(profiles: Mapping[str, Equipment], parts: Iterable[str], screws: Iterable[str]) -> Places:
    """Every point of a system with its means; where two machines have the same, the first one listed counts.

    *screws*: the control's own terminals.

    Raises:
        UsageError: a point that the vocabulary has not, or a place that the machine has not.
    """
    known = set(parts)
    found: Places = {}
    for name, profile in profiles.items():
        for point_name, means in profile.points.items():
            if point(point_name) is None:
                raise unknown(point_name, POINTS, f"{name}: the vocabulary of points")
            for sensed, place in means.items():
                where = _where(name, profile, place, known)
                if where.node is not None and "C" not in profile.terminals:
                    raise UsageError(f"{name}: {point_name} is sensed as a voltage, and there is no screw C")
                found.setdefault(point_name, {}).setdefault(sensed, where)
    if "C" in (own := set(screws)) and (hot := next((one for one in HOT if one in own), None)) is not None:
        found["thermostat_voltage"] = {"call_volts": Where(equipment="control", node=f"control.{hot}")}
    return found


def _where(name: str, profile: Equipment, place: str, parts: set[str]) -> Where:
    if f"{name}.{place}" in parts:
        return Where(equipment=name, part=f"{name}.{place}")
    if medium_of(name, profile, place) != "control":
        raise UsageError(f"{name}: {place} is no terminal of the 24 V circuit")
    return Where(equipment=name, node=f"{name}.{place}")
