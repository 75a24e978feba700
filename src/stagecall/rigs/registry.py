"""Rigs by name. A module is imported only when its rig is chosen, and nothing is handed out unguarded."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from importlib import import_module
from typing import Protocol

import msgspec

from stagecall.errors import CallRefusedError, UsageError
from stagecall.model.equipment import Equipment
from stagecall.model.event import TestedOn
from stagecall.model.fault import AppliedFault
from stagecall.model.kit import Kit
from stagecall.model.system import System
from stagecall.points import nearest
from stagecall.rigs.clock import Clock, SystemClock
from stagecall.rigs.contract import Rig
from stagecall.rigs.guard import MINIMUM_OFF, Circumstances, DryRun, Guarded, Premises, stands_against
from stagecall.rigs.history import History

RIGS: dict[str, str] = {
    "simulated": "stagecall.rigs.simulated",
    "board": "stagecall.rigs.board",
    "by-hand": "stagecall.rigs.by_hand",
    "modbus": "stagecall.rigs.modbus",
}
"""Name to module; each module has ``prepare(spec)``, which gives a function that opens one rig for one run."""
MODELLED = frozenset({"simulated"})
"""Rigs that are models: faults, draws and pace are theirs alone."""

CHALLENGED = 3_000


class RigSpec(msgspec.Struct, frozen=True, kw_only=True):
    """What a rig is opened for.

    ``where`` is what stood behind the colon of ``--rig NAME:WHERE``; ``clock`` is that of a rig in real time.
    """

    system: System
    profiles: Mapping[str, Equipment]
    kit: Kit
    where: str = ""
    clock: Clock = msgspec.field(default_factory=SystemClock)
    challenges: bool = False
    """Some step calls the compressor early on purpose."""
    attended: bool = False
    """Somebody is there."""
    dry_run: DryRun | None = None

    @property
    def minimum_off(self) -> int:
        """The maker's figure of the compressor's minimum off, else the guard's own, ms."""
        figure = self.system.maker_data.get("compressor_minimum_off")
        return int(figure.value.to("time")) if figure else MINIMUM_OFF

    @property
    def minimum_open(self) -> int:
        """How long a board itself keeps compressor calls open, ms: a second wall a little behind the guard's own.

        A hundredth less, since the board's clock may be half a hundredth slow and must not refuse what the guard lets
        through. Where a step calls early on purpose, only a contactor's chatter is kept out.
        """
        return CHALLENGED if self.challenges else max(self.minimum_off, MINIMUM_OFF) * 99 // 100

    @property
    def tested_on(self) -> TestedOn:
        """What a real rig of this system stands for: a mockup is a bench, all else is equipment."""
        return "bench" if self.system.energy.state == "mockup" else "equipment"


class Opener(Protocol):
    """Opens one rig for one run; on a model the machine of that *seed*, *drawn* among healthy ones or typical."""

    def __call__(self, seed: int, faults: Sequence[AppliedFault], *, drawn: bool) -> Rig:
        """A rig, its clock at 0."""


class Stand:
    """One rig made ready for one system and kit; opened anew for each run, keeping what does not change."""

    def __init__(self, name: str, spec: RigSpec) -> None:
        if name not in RIGS:
            raise unknown_rig(name)
        try:
            module = import_module(RIGS[name])
        except ModuleNotFoundError as error:
            if error.name == "stagecall":
                raise
            raise UsageError(f"rig '{name}' needs one more package: pip install 'stagecall[{name}]'") from error
        self._open: Opener = module.prepare(spec)
        self._spec = spec

    def open(self, seed: int = 0, faults: Sequence[AppliedFault] = (), *, drawn: bool = False) -> Guarded:
        """A guarded rig, its clock at 0. *drawn* (model only): a healthy machine drawn over the range seen.

        Raises:
            UsageError: a fault does not fit this system.
            CallRefusedError: the safety table stands against the whole run.
        """
        rig = self._open(seed, faults, drawn=drawn)
        spec = self._spec
        on_model = rig.tested_on == "model"
        about = premises(spec, on_model=on_model, hands=rig.hands, at_control=rig.at_control)
        try:
            _refuse(about.here, makes_calls=rig.bounds.makes_calls)
            history = History(rig.kept_as, spec.system.system, spec.clock) if rig.kept_as else None
        except BaseException:
            rig.close()
            raise
        return Guarded(rig, about, history)


def _refuse(here: Circumstances, *, makes_calls: bool) -> None:
    refused = "" if here.attended else stands_against("unattended", here)
    if refused := refused or (stands_against("relay_calls", here) if makes_calls else ""):
        raise CallRefusedError(f"CALL REFUSED: {refused}.")


def unknown_rig(name: str) -> UsageError:
    """The complaint about a rig that is not in the table."""
    near = nearest(name, list(RIGS))
    return UsageError(f"there is no rig '{name}'" + (f"; did you mean '{near}'?" if near else ""))


def circumstances(spec: RigSpec, *, on_model: bool, hands: bool, at_control: bool) -> Circumstances:
    """What a run on this system is made on."""
    return Circumstances(
        ground="model" if on_model else spec.system.energy.state,
        attended=spec.attended,
        hands=hands,
        at_control=at_control,
        dry_run=spec.dry_run,
        fuel=spec.system.energy.fuel not in {"none", "shut_off"},
    )


def premises(spec: RigSpec, *, on_model: bool, hands: bool = False, at_control: bool = False) -> Premises:
    """What the guard has to know of a system.

    A fuel kit lets a thermostat call both heats; that it keeps them apart is tried on a model only.
    """
    here = circumstances(spec, on_model=on_model, hands=hands, at_control=at_control)
    kinds = {profile.what for profile in spec.profiles.values()}
    part_kinds = {part.kind for profile in spec.profiles.values() for part in profile.parts.values()}
    kit = "fuel_kit" in spec.system.fitted and on_model
    return Premises(
        minimum_off=spec.minimum_off,
        heat_beside_compressor="heat_pump" in kinds and ("furnace" not in kinds or kit),
        valve=spec.system.control.valve,
        reheat="reheat" in spec.system.fitted,
        hot_elements=any("strip" in kind for kind in part_kinds),
        here=here,
    )
