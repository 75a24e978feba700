"""The modelled world: machines of known kinds, wired and blown through, with faults as parameters."""

from __future__ import annotations

from collections.abc import Mapping

from stagecall.model.equipment import Equipment
from stagecall.model.system import System
from stagecall.plant.blueprint import Blueprint
from stagecall.plant.plant import THRESHOLDS, Plant, build
from stagecall.plant.points import Where

__all__ = ["THRESHOLDS", "Blueprint", "Plant", "Where", "blueprint", "build"]


def blueprint(system: System, profiles: Mapping[str, Equipment]) -> Blueprint:
    """Everything of a system that does not change from run to run; reusable, and worth keeping.

    Raises:
        UsageError: something in the system or a profile does not fit; the message names the nearest known word.
    """
    return Blueprint(system, profiles)
