"""An installed thermostat that calls on its own: for runs in which calls are witnessed, not made.

It compares the room with the set-points of its period. A person asks it for a demand (the set-points then lie well
above or below the room), for a period, or for a timed override of the unoccupied one. In the occupied period its fan
runs all the time, as ventilation asks.
"""

from __future__ import annotations

from typing import Any, Literal

from stagecall.model.asking import ControlAsk
from stagecall.plant.air import Air, Motion, first_change_of_sign
from stagecall.plant.control import Calls
from stagecall.plant.parameters import Difference, Parameters, Temperature, Time
from stagecall.plant.signals import Agenda

DEMAND = 2.8
"""K between set-point and room when a demand is asked for: the 5 °F that a technician turns it."""
SETBACK = 5.6
"""K that unoccupied set-points lie further out: the usual 10 °F."""
LOOK_AHEAD = 86_400.0


class ThermostatParameters(Parameters, frozen=True, kw_only=True):
    """Its own timers and settings and, with a heat pump, its lockouts by the weather.

    Thermostats are set to hold a compressor off for 0, 3 or 5 min; an override lasts hours. ``differential``: beyond a
    set-point, at which a demand begins and ends (trade knowledge, no published source found). Auxiliary heat joins a
    heat pump after ``aux_after`` of heating (10 min usual, 10 to 180 seen), only below ``aux_lockout`` outdoors (35 to
    40 °F by the trade); below ``compressor_lockout`` (0 to 20 °F) it heats alone.

    ``set_for`` what it is to serve: for a heat pump the valve's output is live in cooling (O) or in heating (B), and it
    stands on the screw of W1 where the control has no screw of its own for it. ``fan_in_heat``: who runs the blower in
    heating without a heat pump, the furnace's board or the thermostat, as for electric heat.
    """

    minimum_off: Time = 300_000
    override: Time = 7_200_000
    differential: Difference = 0.3
    aux_after: Time = 600_000
    aux_lockout: Temperature = 4.4
    compressor_lockout: Temperature = -12.2
    set_for: Literal["what_is_there", "conventional", "heat_pump_o", "heat_pump_b"] = "what_is_there"
    fan_in_heat: Literal["furnace", "thermostat"] = "furnace"


class Thermostat:
    """Decides which calls stand; built when it is first asked for something.

    *valve*: the terminal that calls the reversing valve of what is there, O in cooling or B in heating; None: no such
    valve.
    """

    def __init__(self, env: Any, air: Air, calls: Calls, p: ThermostatParameters, valve: str | None = None) -> None:
        self._env, self._air, self._calls, self._p = env, air, calls, p
        set_for = {"what_is_there": valve, "conventional": None, "heat_pump_o": "O", "heat_pump_b": "B"}
        self._valve = set_for[p.set_for]
        self._occupied = False
        self._override_ends = 0
        self._heat_to, self._cool_to = air.room - DEMAND, air.room + DEMAND
        self._heating = self._cooling = self._compressor = False
        self._heating_since = 0
        self._compressor_ended = -p.minimum_off
        self._agenda = Agenda(env)
        air.changed(self._look)

    def ask(self, ask: ControlAsk) -> None:
        """Do as a person sets it."""
        self._air.settle()
        if ask.period is not None:
            self._occupied = ask.period == "occupied"
            self._override_ends = 0
        if ask.override:
            self._override_ends = int(self._env.now) + self._p.override
            self._env.timeout(self._p.override).callbacks.append(lambda _: self._look())
        if ask.demand is not None:
            room = self._air.room
            shift = {"heat": DEMAND, "cool": -DEMAND, "none": 0.0}[ask.demand]
            back = 0.0 if self._serving() else SETBACK
            self._heat_to = room + shift + back - (DEMAND if ask.demand != "heat" else 0.0)
            self._cool_to = room + shift - back + (DEMAND if ask.demand != "cool" else 0.0)
        self._look()

    def _serving(self) -> bool:
        return self._occupied or int(self._env.now) < self._override_ends

    def _look(self) -> None:
        """Decide now, and come back when the room passes the next threshold or a timer ends."""
        self._agenda.forget()
        self._air.settle()
        differential = self._p.differential
        back = 0.0 if self._serving() else SETBACK
        heat_to, cool_to, room = self._heat_to - back, self._cool_to + back, self._air.room
        heating = room < heat_to + (differential if self._heating else -differential)
        if heating and not self._heating:
            self._heating_since = self._now
        self._heating = heating
        self._cooling = room > cool_to - (differential if self._cooling else -differential)
        self._decide_compressor()
        self._calls.ask(self._standing())
        heat_edge = heat_to + (differential if self._heating else -differential)
        cool_edge = cool_to - (differential if self._cooling else -differential)
        for edge in (heat_edge, cool_edge):
            motion = Motion(self._air)
            due = first_change_of_sign(lambda s, m=motion, e=edge: m.room(s) - e, LOOK_AHEAD)  # type: ignore[misc]
            if due is not None:
                self._agenda.after(due, self._look)

    @property
    def _now(self) -> int:
        return int(self._env.now)

    def _decide_compressor(self) -> None:
        """It runs for cooling, or for a heat pump's heating unless locked out; and it rests between two calls."""
        locked_out = self._air.outdoor < self._p.compressor_lockout
        wanted = self._cooling or (self._heating and self._valve is not None and not locked_out)
        if self._compressor and not wanted:
            self._compressor_ended = self._now
        rested = self._compressor_ended + self._p.minimum_off
        if wanted and not self._compressor and self._now < rested:
            self._agenda.after(rested - self._now, self._look)
        else:
            self._compressor = wanted

    def _standing(self) -> frozenset[str]:
        wanted = set()
        if self._serving():
            wanted.add("G")
        if self._compressor:
            wanted |= {"Y1", "G"}
        if self._valve == ("B" if self._heating else "O") and self._compressor:
            wanted.add(self._valve if self._valve in self._calls.terminals else "W1")
        if self._heating and self._valve is None:
            wanted |= {"W1"} if self._p.fan_in_heat == "furnace" else {"W1", "G"}
        elif self._heating and self._aux_joins():
            wanted |= {"W1", "G"}
        return frozenset(wanted) & self._calls.terminals

    def _aux_joins(self) -> bool:
        """Beside a heat pump that has heated for its time, or instead of one that is locked out."""
        p, outdoor = self._p, self._air.outdoor
        if outdoor > p.aux_lockout:
            return False
        left = self._heating_since + p.aux_after - self._now
        if left > 0 and outdoor >= p.compressor_lockout:
            self._agenda.after(left, self._look)
            return False
        return True
