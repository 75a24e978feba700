"""The control's end of the cable: the contacts that make the calls."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from random import Random
from typing import Any, Literal

from stagecall.circuit import NOMINAL_VOLTS, Contact, Element, Wire
from stagecall.errors import UsageError
from stagecall.model.system import Control
from stagecall.plant.electric import Electric
from stagecall.plant.parameters import Amps, Ohms, Parameters, Time
from stagecall.plant.part import HALF
from stagecall.points import CALLS, HEAT_CALLS, HOT

Heard = Callable[[int, str, str], None]
METER_OHMS = 10e6
"""Of the meter at the control's R and C: the usual input of a digital one."""


Output = Literal["none", "Y1", "Y2", "G", "W1", "W2", "W3", "O", "B", "E"]
"""A call's output, or none of them."""


OUTPUT_PARAMETERS = ("welded", "dead", "unsure")
"""Those parameters of a control that name one of its outputs."""


class ControlParameters(Parameters, frozen=True, kw_only=True):
    """Its outputs, and where it takes its own power.

    Relays: 3 to 15 ms to operate, 1 to 10 ms to release (trade knowledge, no published source found). A solid-state
    output leaks through ``leak_ohms`` when it is off (about 100 kohm on one industrial board: it reads hot with no load
    and nothing with one), whatever the load. A control without a common ``steals`` its ``own_amps`` through the load of
    an output that is off, from Y1 or W1 (0.01 to 0.05 A; 0.05 to 0.15 A with a common). The output ``welded`` stays
    closed, the one ``dead`` stays open, whatever is asked of it; ``unsure`` closes at half of the times, by the seed.
    """

    operate_time: Time = 8
    release_time: Time = 4
    contact_ohms: Ohms = 0.05
    outputs: Literal["relays", "solid_state"] = "relays"
    leak_ohms: Ohms = 100_000.0
    steals: Literal["nothing", "Y1", "W1"] = "nothing"
    own_amps: Amps = 0.02
    welded: Output = "none"
    dead: Output = "none"
    unsure: Output = "none"


def elements(control: Control, p: ControlParameters) -> Iterable[Element]:
    """A contact for each call, from the hot terminal that serves it; and the jumpers."""
    for terminal in control.terminals:
        if terminal in CALLS:
            hot = _hot(control, terminal)
            yield Contact(f"control.{terminal}", f"control.{hot}", f"control.{terminal}", p.contact_ohms)
            if p.outputs == "solid_state":
                yield Wire(f"control.leak_{terminal}", f"control.{hot}", f"control.{terminal}", p.leak_ohms)
            if p.steals == terminal:
                ohms = NOMINAL_VOLTS / p.own_amps
                yield Wire(f"control.own_{terminal}", f"control.{hot}", f"control.{terminal}", ohms)
        else:
            yield Wire(f"control.screw_{terminal}", f"control.{terminal}", f"control.{terminal}", 1.0)
    if "C" in control.terminals:
        yield Wire("control.meter", f"control.{_hot(control, 'Y1')}", "control.C", METER_OHMS)
    for a, b in control.jumpers:
        yield Wire(f"control.jumper_{a}_{b}", f"control.{a}", f"control.{b}", 0.01)


def _hot(control: Control, terminal: str) -> str:
    own = "Rh" if terminal in HEAT_CALLS else "Rc"
    if own in control.terminals:
        return own
    for hot in HOT:
        if hot in control.terminals:
            return hot
    raise UsageError("the control has no R, Rc or Rh, so it can call nothing")


class Calls:
    """The contacts in one run; each moves a few ms after it was asked to, and tells when it does."""

    def __init__(self, env: Any, electric: Electric, control: Control, p: ControlParameters, seed: int = 0) -> None:
        self._env, self._electric, self._p = env, electric, p
        self._random = Random(f"{seed}/control")
        self.terminals = frozenset(terminal for terminal in control.terminals if terminal in CALLS)
        """What it can call."""
        self._asked: frozenset[str] = frozenset()
        self._made: set[str] = set()
        self._listeners: list[Heard] = []
        if p.welded != "none":
            electric.turn(f"control.{p.welded}", on=True)

    def listen(self, heard: Heard) -> None:
        """Tell every move of a contact."""
        self._listeners.append(heard)

    def ask(self, calls: frozenset[str]) -> None:
        """Make exactly these calls.

        Raises:
            UsageError: a terminal that the control has not.
        """
        if missing := sorted(calls - self.terminals):
            raise UsageError(f"the control has no terminal {missing[0]}; it has {', '.join(sorted(self.terminals))}")
        changes = calls ^ self._asked
        self._asked = calls
        for terminal in sorted(changes):
            after = self._p.operate_time if terminal in calls else self._p.release_time
            self._env.timeout(max(1, after), terminal).callbacks.append(self._move)

    def _move(self, timer: Any) -> None:
        terminal = timer.value
        on = terminal in self._asked
        if on != (terminal in self._made):
            self._made ^= {terminal}
            self._electric.turn(f"control.{terminal}", self._closes(terminal, on))
            for heard in self._listeners:
                heard(int(self._env.now), terminal, "on" if on else "off")

    def _closes(self, terminal: str, on: bool) -> bool:
        """Whether the contact closes, of a relay that now moves."""
        if terminal == self._p.welded:
            return True
        if terminal == self._p.unsure and on:
            return self._random.random() < HALF
        return on and terminal != self._p.dead
