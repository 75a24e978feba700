"""A board over Modbus RTU on a serial port, spoken to through pymodbus."""

from __future__ import annotations

import logging
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pymodbus.client import ModbusSerialClient
from pymodbus.exceptions import ModbusException

from stagecall.errors import RigLostError, UsageError
from stagecall.model.fault import AppliedFault
from stagecall.model.kit import Board, Modbus
from stagecall.rigs.channels import channels
from stagecall.rigs.contract import Rig
from stagecall.rigs.keeping import Held
from stagecall.rigs.modbus_rig import ModbusRig, spoken_to

if TYPE_CHECKING:
    from stagecall.rigs.registry import Opener, RigSpec

TRIES = 3
"""How often one request is sent before the board counts as lost."""

logging.getLogger("pymodbus").setLevel(logging.CRITICAL)  # what it complains of is told once, by us


class SerialWires:
    """What is asked of a board, as requests on a port."""

    def __init__(self, port: str, board: Board, modbus: Modbus) -> None:
        self._port, self._modbus = port, modbus
        self._inputs = max(board.inputs.values(), default=1)
        self._relays = max([*board.calls.values(), *board.opens.values(), board.power or 1])
        self._client = ModbusSerialClient(
            port, baudrate=modbus.baud, parity=modbus.parity[0].upper(), stopbits=modbus.stop_bits,
            timeout=modbus.answer.to("time") / 1000, retries=TRIES - 1,
        )  # fmt: skip
        self._held = Held("port", str(Path(port).resolve()))  # first: opening resets many boards
        if not self._client.connect():
            self._held.let_go()
            raise UsageError(
                f"{port} cannot be opened: is the adapter plugged in, free, and are you allowed to use it?"
            )

    def _ask(self, what: str, *args: Any, **kwargs: Any) -> Any:
        try:
            answer = getattr(self._client, what)(*args, device_id=self._modbus.device, **kwargs)
        except (ModbusException, OSError) as error:
            raise RigLostError(
                f"the board on {self._port} gives no answer ({what.replace('_', ' ')}): {error}"
            ) from error
        if answer.isError():
            raise RigLostError(f"the board on {self._port} refuses to {what.replace('_', ' ')}: {answer}")
        return answer

    def relay(self, number: int, *, closed: bool) -> None:
        """Move one relay."""
        self._ask("write_coil", self._modbus.relays + number - 1, closed)

    def relays(self) -> Sequence[bool]:
        """Which are closed, relay 1 first."""
        bits: Sequence[bool] = self._ask("read_coils", self._modbus.relays, count=self._relays).bits
        return bits

    def inputs(self) -> Sequence[bool]:
        """Which are live, input 1 first."""
        bits: Sequence[bool] = self._ask("read_discrete_inputs", self._modbus.inputs, count=self._inputs).bits
        return bits

    def guard(self) -> None:
        """Set the board's watchdog, where it has one."""
        if self._modbus.watchdog is not None:
            self._ask("write_register", self._modbus.watchdog.register, self._modbus.watchdog.value)

    def close(self) -> None:
        """Let go of the port."""
        self._held.let_go()
        self._client.close()  # type: ignore[no-untyped-call]


def prepare(spec: RigSpec) -> Opener:
    """A board at ``spec.where``, a port.

    Raises:
        UsageError: no port is named, the kit does not say how the board is spoken to, or the board has no watchdog and
            something behind its relays could run.
    """
    if not spec.where:
        raise UsageError("say where the board is: --rig modbus:PORT")
    wanted = channels(spec.kit, spec.system.control.valve)
    board, modbus = wanted.board, spoken_to(wanted.board)
    if modbus.watchdog is None and board.calls and spec.tested_on != "bench":
        raise UsageError(
            f"kit '{spec.kit.kit}': a board without a watchdog keeps its calls when this program dies; "
            "it is for mockups alone (energy: all none)"
        )

    def open_rig(seed: int, faults: Sequence[AppliedFault], *, drawn: bool) -> Rig:  # noqa: ARG001 - a model's
        rig = ModbusRig(SerialWires(spec.where, board, modbus), wanted, spec.tested_on, spec.clock)
        rig.kept_as = spec.where
        return rig

    return open_rig
