"""Fire and what it heats: burner with its flame rod, and the heat exchanger in the air stream."""

from __future__ import annotations

from typing import ClassVar

from stagecall.plant.coils import GasValve
from stagecall.plant.motors import Ignitor
from stagecall.plant.parameters import Airflow, Conductance, FlameCurrent, Parameters, Power, Share, Time
from stagecall.plant.part import Bench, Medium, Part
from stagecall.plant.signals import Agenda, Signal


class HeatExchangerParameters(Parameters, frozen=True, kw_only=True):
    """Time constant and effectiveness hold at ``rated_airflow``; a limit feels ``limit_share`` of its excess heat."""

    rated_airflow: Airflow
    time_constant: Time
    effectiveness: Share
    still: Conductance
    limit_share: Share


class HeatExchanger(Part):
    """The heat exchanger: burners heat it, the air stream cools it, a limit senses it."""

    takes: ClassVar[type[Parameters]] = HeatExchangerParameters
    terminals: ClassVar[dict[str, Medium]] = {"heat": "heat"}
    p: HeatExchangerParameters

    def __init__(self, bench: Bench, name: str, parameters: HeatExchangerParameters) -> None:
        super().__init__(bench, name, parameters)
        p = parameters
        self._store = bench.air.store(p.time_constant, p.effectiveness, p.still, p.rated_airflow)

    def take_up(self, heat: float) -> None:
        """Watts from the flame from now on."""
        self.bench.air.set_heat(self._store, heat)

    def senses(self, threshold: float, share: float | None = None) -> int | None:
        """Ms until a limit here passes *threshold* °C, as things stand; or what feels another *share* of its heat."""
        return self.bench.air.crossing(self._store, self.p.limit_share if share is None else share, threshold)


class BurnerParameters(Parameters, frozen=True, kw_only=True):
    """What it burns, and how quickly.

    ``light_time``: from gas at a hot ignitor to an established flame; ``burn_out_time``: from the valve's closing to
    the end of the flame. ``flame_signal``: what the rod gives meanwhile, less the share ``blown_off`` of it while the
    blower blows into a burner that should have no part in its air.
    """

    input: Power
    efficiency: Share
    light_time: Time
    burn_out_time: Time
    flame_signal: FlameCurrent
    blown_off: Share = 0.0


class Burner(Part):
    """Burns while gas flows, once lit; ``flame_current`` is what the rod gives, in microamps."""

    takes: ClassVar[type[Parameters]] = BurnerParameters
    terminals: ClassVar[dict[str, Medium]] = {"gas": "gas", "glow": "glow", "heat": "heat", "flame_rod": "flame"}
    p: BurnerParameters

    def __init__(self, bench: Bench, name: str, parameters: BurnerParameters) -> None:
        super().__init__(bench, name, parameters)
        self.flame_current = Signal(0.0)
        self.burns = False
        self._agenda = Agenda(self.env)

    def connect(self) -> None:
        """Find gas, ignitor and exchanger."""
        self._valve = self.joined("gas", GasValve)
        self._ignitor = self.joined("glow", Ignitor)
        self._exchanger = self.joined("heat", HeatExchanger)
        self._valve.flows.listen(self._changed)
        self._ignitor.hot.listen(self._changed)
        if self.p.blown_off:
            self.bench.air.changed(self._signal)

    def _changed(self, _: object = None) -> None:
        self._agenda.forget()
        if self._valve.flows.value:
            if not self.burns and self._ignitor.hot.value:
                self._agenda.after(self.p.light_time, lambda: self._burn(burns=True))
        elif self.burns:
            self._agenda.after(self.p.burn_out_time, lambda: self._burn(burns=False))

    def _burn(self, *, burns: bool) -> None:
        if burns != self.burns:
            self.burns = burns
            self._exchanger.take_up(self.heat() if burns else 0.0)
            self._signal()

    def _signal(self) -> None:
        left = 1.0 - (self.p.blown_off if self.bench.air.flow else 0.0)
        self.flame_current.set(self.p.flame_signal * left if self.burns else 0.0)

    def heat(self) -> float:
        """Watts that the exchanger takes up while it burns."""
        return self.p.input * self.p.efficiency
