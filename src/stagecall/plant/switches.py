"""Safety switches in the 24 V circuit: each moves by its own physics, can stick, and can be opened on purpose."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, ClassVar, Literal

from stagecall.circuit import Contact, Element
from stagecall.plant.burner import HeatExchanger
from stagecall.plant.loose import trembling
from stagecall.plant.motors import Inducer
from stagecall.plant.parameters import Difference, Ohms, Parameters, Pressure, Temperature, Time
from stagecall.plant.part import Bench, Medium, Part
from stagecall.plant.refrigerant import RefrigerantCircuit
from stagecall.plant.signals import Agenda, LookAhead, Signal


class SwitchParameters(Parameters, frozen=True, kw_only=True):
    """``contact`` tells whether it can still move, ``makes_late`` how long it hesitates before it closes.

    A stuck one can still be pulled off its lead; one with a jumper across it, ``bridged``, cannot be opened at all. A
    ``trembling`` one lets go for a moment now and then, by the run's seed.
    """

    contact_ohms: Ohms = 0.02
    contact: Literal["free", "stuck_closed", "stuck_open", "bridged", "trembling"] = "free"
    makes_late: Time = 0


class SafetySwitch(Part):
    """A contact from ``in`` to ``out``, closed at rest unless a kind says otherwise."""

    takes: ClassVar[type[Parameters]] = SwitchParameters
    terminals: ClassVar[dict[str, Medium]] = {"in": "control", "out": "control"}
    p: SwitchParameters

    def __init__(self, bench: Bench, name: str, parameters: Any) -> None:
        super().__init__(bench, name, parameters)
        self._wants = True
        self._lifted = False
        self._touches = True
        self.closed = Signal(value=True)

    @classmethod
    def elements(cls, name: str, p: Any) -> Iterable[Element]:
        """One contact."""
        yield Contact(name, f"{name}.in", f"{name}.out", p.contact_ohms)

    def rest(self) -> None:
        """As it stands."""
        self._stand(self._asked())

    def begin(self) -> None:
        """Start to tremble."""
        if self.p.contact == "trembling":
            self.env.process(trembling(self.env, self.random, self._touch))

    def _touch(self, touches: bool) -> None:
        self._touches = touches
        self._set()

    def wants(self, closed: bool) -> None:
        """What its physics asks of the contact."""
        self._wants = closed
        self._set()

    def lift(self, lifted: bool) -> None:
        """Open it on purpose (pull its lead), or restore it."""
        self._lifted = lifted
        self._set()

    def _asked(self) -> bool:
        match self.p.contact:
            case "bridged":
                return True
            case "stuck_closed":
                return not self._lifted
            case "stuck_open":
                return False
            case _:
                return self._wants and self._touches and not self._lifted

    def _set(self) -> None:
        closed = self._asked()
        if closed and not self.closed.value and self.p.makes_late:
            self.env.timeout(self.p.makes_late).callbacks.append(lambda _: self._stand(self._asked()))
        else:
            self._stand(closed)

    def _stand(self, closed: bool) -> None:
        self.closed.set(closed)
        self.bench.electric.turn(self.name, closed)


class ActedSwitch(SafetySwitch):
    """A switch that is opened as in use (by water, smoke or a door), so that one that sticks stays as it is."""

    def _asked(self) -> bool:
        return {"free": self._wants and not self._lifted, "stuck_closed": True, "stuck_open": False}[self.p.contact]


class SensingSwitch(SafetySwitch):
    """A switch that moves by itself, at a moment that what it senses can foretell."""

    def __init__(self, bench: Bench, name: str, parameters: Any) -> None:
        super().__init__(bench, name, parameters)
        self.look_ahead = LookAhead(self.env, self.next_change, lambda: self.wants(not self._wants))

    def next_change(self) -> int | None:
        """Ms until it next moves as things now stand; None: it stays."""
        raise NotImplementedError


class LimitParameters(SwitchParameters, frozen=True, kw_only=True):
    """It senses the return air plus the exchanger's share of its excess heat."""

    opens: Temperature
    closes_lower_by: Difference


class Limit(SensingSwitch):
    """A high limit that resets itself."""

    takes: ClassVar[type[Parameters]] = LimitParameters
    terminals: ClassVar[dict[str, Medium]] = {**SafetySwitch.terminals, "heat": "heat"}
    p: LimitParameters

    def connect(self) -> None:
        """Look ahead anew whenever the air changes."""
        self._exchanger = self.joined("heat", HeatExchanger)
        self.bench.air.changed(self.look_ahead.anew)

    def next_change(self) -> int | None:
        """When the exchanger passes its threshold."""
        return self._exchanger.senses(self.p.opens - (0.0 if self._wants else self.p.closes_lower_by))


class DraftParameters(SwitchParameters, frozen=True, kw_only=True):
    """Draft at which it makes, and by how much less it breaks.

    ``port_shuts_after``: how long the inducer runs until water or scale has shut the port through which the switch
    feels the draft; it drains while the inducer rests. 0: never.
    """

    makes_at: Pressure
    breaks_lower_by: Pressure
    port_shuts_after: Time = 0


class DraftSwitch(SensingSwitch):
    """The pressure switch that proves the inducer's draft; open at rest."""

    takes: ClassVar[type[Parameters]] = DraftParameters
    terminals: ClassVar[dict[str, Medium]] = {**SafetySwitch.terminals, "draft": "draft"}
    p: DraftParameters

    def __init__(self, bench: Bench, name: str, parameters: Any) -> None:
        super().__init__(bench, name, parameters)
        self._wants = self._port_shut = False
        self._port = Agenda(self.env)

    def connect(self) -> None:
        """Look ahead anew whenever the draft moves towards another end."""
        self._inducer = self.joined("draft", Inducer)
        self._inducer.changed(self.look_ahead.anew)
        if self.p.port_shuts_after:
            self._inducer.turning.listen(self._turns)

    def _turns(self, turning: bool) -> None:
        self._port.forget()
        self._port_shut = False
        if turning:
            self._port.after(self.p.port_shuts_after, self._shut_port)

    def _shut_port(self) -> None:
        self._port_shut = True
        self.look_ahead.anew()

    def next_change(self) -> int | None:
        """When the draft passes its level; behind a shut port there is none."""
        if self._port_shut:
            return 1 if self._wants else None
        level = self.p.makes_at - (self.p.breaks_lower_by if self._wants else 0.0)
        return self._inducer.reaches(level, rising=not self._wants)


class RefrigerantSwitchParameters(SwitchParameters, frozen=True, kw_only=True):
    """A high-pressure switch opens on a rise past ``opens``, a low-pressure switch on a fall past it."""

    opens: Pressure
    closes: Pressure


class RefrigerantSwitch(SensingSwitch):
    """A refrigerant pressure switch, joined to the circuit's ``high`` or ``low`` side; resets itself."""

    takes: ClassVar[type[Parameters]] = RefrigerantSwitchParameters
    terminals: ClassVar[dict[str, Medium]] = {**SafetySwitch.terminals, "pressure": "refrigerant"}
    p: RefrigerantSwitchParameters

    def connect(self) -> None:
        """Look ahead anew whenever the pressures take another course."""
        circuit, side = self.all_joined("pressure", RefrigerantCircuit)[0]
        self._side = circuit.side(side)
        self._side.changed(self.look_ahead.anew)

    def rest(self) -> None:
        """A refrigerant circuit that has lost its charge holds its low-pressure switch open."""
        high = self.p.opens > self.p.closes
        pressure = self._side.now()
        self._wants = pressure < self.p.opens if high else pressure > self.p.opens
        super().rest()

    def next_change(self) -> int | None:
        """When the pressure passes its level."""
        return self._side.reaches(self.p.opens if self._wants else self.p.closes)
