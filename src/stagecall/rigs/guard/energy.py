"""The safety table: what may be done at which energy, a pure function of the act and the circumstances.

=================================  ======  ========  ==========================  ==================================
act                                model   mockup    dry                         live
=================================  ======  ========  ==========================  ==================================
``relay_calls``                    yes     yes       yes                         attended, after a clean dry run
``opening_relay``                  yes     yes       no: by hand                 no: by hand
``early_restart``                  yes     yes       yes                         only after it passed dry
``lockout_trials``                 yes     yes       yes                         no
``power_cut``                      yes     yes       yes                         once, never in a burner run
``sag``                            yes     yes       no: measured only           no: measured only
``unattended``                     yes     yes       no                          no
=================================  ======  ========  ==========================  ==================================
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Literal

import msgspec

Ground = Literal["model", "mockup", "dry", "live"]
Act = Literal["relay_calls", "opening_relay", "early_restart", "lockout_trials", "power_cut", "sag", "unattended"]


class DryRun(msgspec.Struct, frozen=True, kw_only=True):
    """Evidence: a clean log of the same system, made dry. ``early_restart``: one was tried there and passed."""

    run: str
    early_restart: bool = False


class Circumstances(msgspec.Struct, frozen=True, kw_only=True):
    """What a run is made on, and under what eyes.

    ``hands``: a person makes every call; ``at_control``: at the installed control. ``fuel``: something can burn.
    ``cuts``: power cuts so far. ``burner_called``: a heat call stands.
    """

    ground: Ground = "model"
    attended: bool = True
    hands: bool = False
    at_control: bool = False
    dry_run: DryRun | None = None
    fuel: bool = False
    cuts: int = 0
    burner_called: bool = False


def stands_against(act: Act, here: Circumstances) -> str:
    """Why the act is refused in these circumstances; empty where nothing stands against it."""
    if here.ground in {"model", "mockup"}:
        return ""
    return _ON_LIVE[act](here) if here.ground == "live" else _ON_DRY[act]


_BY_HAND = "on equipment a switch is opened by hand: one lead, the power off first"
_MEASURED = "a sag or chatter of the supply is only measured on equipment, never made"
_ATTENDED = "on equipment somebody has to be there: nothing is called unattended"

_ON_DRY: dict[Act, str] = {
    "relay_calls": "",
    "opening_relay": _BY_HAND,
    "early_restart": "",
    "lockout_trials": "",
    "power_cut": "",
    "sag": _MEASURED,
    "unattended": _ATTENDED,
}


def _live_calls(here: Circumstances) -> str:
    if here.hands:
        return ""
    if not here.attended:
        return _ATTENDED
    return (
        "" if here.dry_run is not None else "relays call live equipment only after a clean dry run of the same system"
    )


def _live_restart(here: Circumstances) -> str:
    passed = here.dry_run is not None and here.dry_run.early_restart
    return "" if passed else "an early restart is tried on live equipment only after it passed dry"


def _live_cut(here: Circumstances) -> str:
    if here.burner_called and here.fuel:
        return "power is never cut in a burner run on live equipment"
    return "on live equipment the 24 V power is cut once in a run" if here.cuts else ""


_ON_LIVE: dict[Act, Callable[[Circumstances], str]] = {
    "relay_calls": _live_calls,
    "opening_relay": lambda _: _BY_HAND,
    "early_restart": _live_restart,
    "lockout_trials": lambda _: "trips and trials until a lockout are not made on live equipment: see them dry",
    "power_cut": _live_cut,
    "sag": lambda _: _MEASURED,
    "unattended": lambda _: _ATTENDED,
}
