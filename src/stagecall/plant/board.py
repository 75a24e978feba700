"""What every control board has: a supply it works down to, inputs that take their time, and a way to wait.

A board's process is written as a sequence of operation. It waits with ``hold``: for a time, or until something is so;
at every change of an input ``check`` looks whether anything stands against going on, and raises what it is.
"""

from __future__ import annotations

from collections.abc import Callable, Generator, Iterable
from typing import Any, ClassVar

import simpy

from stagecall.circuit import Element, Wire, load_ohms
from stagecall.plant.electric import Probe
from stagecall.plant.parameters import Ohms, Parameters, Share, Time, VoltAmperes, Volts
from stagecall.plant.part import Bench
from stagecall.plant.relays import Driver
from stagecall.plant.signals import Bell, Follower

Waiting = Generator[simpy.Event, None, bool]
Acting = Generator[simpy.Event, None, None]


class Stopped(Exception):  # noqa: N818 - something that happens to a machine, not an error of the program
    """Something stands against going on."""


class PowerLost(Stopped):
    """The board has no working voltage any more."""


class BoardParameters(Parameters, frozen=True, kw_only=True):
    """Supply and inputs of a board.

    It runs once its supply has stood at ``works_from`` for ``boot_time``, until it falls below ``works_down_to`` for
    ``ride_through``. An input counts as called at ``input_on``, as not called below ``input_off``, each after
    ``input_delay``; it draws through ``input_ohms``.
    """

    own_va: VoltAmperes
    own_power_factor: Share
    works_from: Volts
    works_down_to: Volts
    ride_through: Time
    boot_time: Time
    input_ohms: Ohms
    input_on: Volts
    input_off: Volts
    input_delay: Time


class Board(Driver):
    """A control board with ``R`` and ``C`` and the inputs that its kind names."""

    takes: ClassVar[type[Parameters]] = BoardParameters
    inputs: ClassVar[tuple[str, ...]] = ()
    p: Any

    def __init__(self, bench: Bench, name: str, parameters: Any) -> None:
        super().__init__(bench, name, parameters)
        p = parameters
        self.bell = Bell(self.env)
        self.powered = Follower(
            self.env, self.level("supply"), p.works_from, p.works_down_to, p.boot_time, p.ride_through
        )
        self.powered.listen(self._power_changed)
        self.input = {
            terminal: Follower(self.env, self.level(terminal), p.input_on, p.input_off, p.input_delay, p.input_delay)
            for terminal in self.inputs
        }

    @classmethod
    def elements(cls, name: str, p: Any) -> Iterable[Element]:
        """The board's own draw, and each input's."""
        yield Wire(f"{name}.own", f"{name}.R", f"{name}.C", load_ohms(p.own_va, p.own_power_factor))
        for terminal in cls.inputs:
            yield Wire(f"{name}.input_{terminal}", f"{name}.{terminal}", f"{name}.C", p.input_ohms)

    @classmethod
    def probes(cls, name: str) -> dict[str, Probe]:
        """Supply and inputs, against its own C."""
        common = f"{name}.C"
        return {
            "supply": Probe(f"{name}.R", common),
            **{terminal: Probe(f"{name}.{terminal}", common) for terminal in cls.inputs},
        }

    def connect(self) -> None:
        """Any change of an input wakes the board."""
        super().connect()
        for follower in (self.powered, *self.input.values()):
            follower.listen(self.wake)

    def adopt(self) -> None:
        """Powered and called as the voltages say."""
        for follower in (self.powered, *self.input.values()):
            follower.adopt()

    def begin(self) -> None:
        """Start the process."""
        self.env.process(self._live())

    def wake(self, _: object = None) -> None:
        """Look anew at everything."""
        self.bell.ring()

    def on(self, terminal: str) -> bool:
        """Whether that input is called, as far as the board has noticed."""
        return self.input[terminal].value

    def _power_changed(self, on: bool) -> None:
        if not on:
            self.all_off()

    def all_off(self) -> None:
        """Every output off, as a board does that loses its supply."""
        for output in self.outputs.values():
            output.set(False)

    def _live(self) -> Acting:
        rested = self.powered.value
        while True:
            while not self.powered.value:
                yield self.bell.wait()
            try:
                yield from self.operate(rested=rested)
            except PowerLost:
                rested = False

    def operate(self, *, rested: bool) -> Acting:
        """The sequence of operation, for ever; *rested* when the plant begins after a long rest."""
        raise NotImplementedError

    def check(self) -> None:
        """Raise what stands against going on."""
        if not self.powered.value:
            raise PowerLost

    def hold(self, ms: int | None = None, until: Callable[[], bool] | None = None) -> Waiting:
        """Wait *ms*, or *until* something is so; tells whether it is. With both, for as long as *ms* at most."""
        deadline = None if ms is None else self.now + ms
        while True:
            self.check()
            if until is not None and until():
                return True
            if deadline is not None and self.now >= deadline:
                return False
            yield self.bell.wait(deadline)
