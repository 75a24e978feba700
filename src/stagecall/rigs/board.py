"""The relay and sense board on a serial port."""

from __future__ import annotations

import errno
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import msgspec
import serial
from serial.tools import list_ports

from stagecall.errors import RigLostError, UsageError
from stagecall.model.fault import AppliedFault
from stagecall.rigs.board_rig import BoardRig
from stagecall.rigs.channels import Channels, channels
from stagecall.rigs.clock import Clock
from stagecall.rigs.contract import Rig
from stagecall.rigs.exchange import Exchange
from stagecall.rigs.greeting import Identity, greet
from stagecall.rigs.keeping import Held
from stagecall.rigs.link import Link
from stagecall.rigs.timeline import ROUNDING_US

if TYPE_CHECKING:
    from stagecall.rigs.registry import Opener, RigSpec

BAUD = 250_000
LOOK_S = 0.01
"""How long one look at the port lasts."""
WRITE_S = 0.5


class SerialLink:
    """A board on a serial port, named as the system names it (``/dev/ttyUSB0``, ``/dev/cu.usbserial-1``, ``COM3``)."""

    def __init__(self, port: str, clock: Clock) -> None:
        self.name = port
        self._clock = clock
        self._held = Held("port", str(Path(port).resolve()))  # first: opening resets many boards
        try:
            self._port = serial.Serial(port, BAUD, timeout=LOOK_S, write_timeout=WRITE_S, exclusive=True)
        except (serial.SerialException, ValueError, OSError) as error:
            self._held.let_go()
            raise UsageError(_cannot_open(port, error)) from error

    def now_us(self) -> int:
        """The machine's clock."""
        return self._clock.monotonic_us()

    def send(self, data: bytes) -> None:
        """Put all of it on the line."""
        try:
            self._port.write(data)
        except (serial.SerialException, OSError) as error:
            raise RigLostError(self._gone()) from error

    def receive(self, wait_us: int) -> bytes:
        """What has come, or what comes first within *wait_us*."""
        until = self.now_us() + wait_us
        try:
            while True:
                data = self._port.read(max(1, self._port.in_waiting))
                if data or self.now_us() >= until:
                    return data
        except (serial.SerialException, OSError, TypeError) as error:
            raise RigLostError(self._gone()) from error

    def close(self) -> None:
        """Let go of the port."""
        self._port.close()
        self._held.let_go()

    def _gone(self) -> str:
        return f"the port {self.name} is gone: the board was unplugged, or its adapter has failed"


def _cannot_open(port: str, error: Exception) -> str:
    number = getattr(error, "errno", None)
    told = str(error)
    if number == errno.ENOENT or "FileNotFoundError" in told:
        return f"there is no port {port}: is the board plugged in?"
    if number == errno.EBUSY or "exclusively lock" in told:
        return f"the port {port} is in use by another program"
    if number in {errno.EACCES, errno.EPERM} or "PermissionError" in told:
        return (
            f"the port {port} may not be opened: another program holds it, or you lack the permission "
            "(on Linux a rule in hardware/ gives it, or the group that owns the port does)"
        )
    return f"the port {port} cannot be opened as a serial port: {told}"


class Port(msgspec.Struct, frozen=True):
    """A serial port of this computer; ``held``: a run of Stagecall has it."""

    name: str
    what: str
    held: bool


def ports() -> list[Port]:
    """The serial ports of this computer. None is opened: opening resets many boards, and would end a run."""
    return [Port(one.device, one.description, _held(one.device)) for one in sorted(list_ports.comports())]


def _held(port: str) -> bool:
    try:
        Held("port", str(Path(port).resolve())).let_go()
    except UsageError:
        return True
    return False


def identify(port: str, clock: Clock) -> Identity:
    """Ask the board at a port what it is, and for its self-test. Nothing moves, but opening resets many boards.

    Raises:
        UsageError: the port cannot be opened, or nobody answers as a board does.
        RigLostError: it answered, and then did not.
    """
    link = SerialLink(port, clock)
    try:
        return greet(Exchange(link))
    finally:
        link.close()


def open_board(link: Link, wanted: Channels, spec: RigSpec, *, runs_ahead: bool = False) -> BoardRig:
    """Greet the board on this link and make a rig of it. Nothing moves yet.

    Raises:
        UsageError: nobody answers as a board does, or it has not what the kit needs.
    """
    exchange = Exchange(link)
    identity = greet(exchange)
    _fits(wanted, identity, spec)
    return BoardRig(exchange, identity, wanted, spec, runs_ahead=runs_ahead)


def _fits(wanted: Channels, identity: Identity, spec: RigSpec) -> None:
    board, kit = wanted.board, spec.kit.kit
    needs = (
        ("relay", [*board.calls.values(), *board.opens.values(), board.power or 0], identity.relays),
        ("input", list(board.inputs.values()), identity.inputs),
        ("analog input", [probe.analog for probe in board.probes.values()], identity.analogs),
    )
    for what, used, there in needs:
        if max(used, default=0) > there:
            raise UsageError(f"the kit '{kit}' uses {what} {max(used)}; this board ({identity.model}) has {there}")
    if (board.opens or board.power) and spec.tested_on != "bench":
        raise UsageError(
            f"the kit '{kit}' has relays in a mockup's switches or power, and {spec.system.system} is no mockup: "
            "on equipment a switch is opened by hand, one lead, with the power off"
        )
    if identity.self_test != "0":
        raise UsageError(
            f"the board fails its self-test ({identity.self_test}): its outputs are not as they are driven"
        )
    width = min((b.width for name, b in wanted.bounds.points.items() if name not in wanted.every), default=1000)
    if identity.bounds.width + ROUNDING_US >= width * 1000:
        raise UsageError(
            f"the kit '{kit}' declares times within {width} ms; this board stamps its inputs within "
            f"{identity.bounds.width / 1000:g} ms, and the line comes on top"
        )
    blind = min((b.blind for name, b in wanted.bounds.points.items() if name not in wanted.every), default=1000)
    if identity.bounds.blind > blind * 1000:
        raise UsageError(
            f"the kit '{kit}' declares pulses down to {blind} ms to be seen; this board can miss "
            f"{identity.bounds.blind / 1000:g} ms"
        )


def prepare(spec: RigSpec) -> Opener:
    """A board at ``spec.where``, opened anew for each run."""
    if not spec.where:
        raise UsageError("say where the board is: --rig board:PORT (such as board:/dev/ttyUSB0 or board:COM3)")
    wanted = channels(spec.kit, spec.system.control.valve)

    def open_rig(seed: int, faults: Sequence[AppliedFault], *, drawn: bool) -> Rig:  # noqa: ARG001 - the model's
        link = SerialLink(spec.where, spec.clock)
        try:
            return open_board(link, wanted, spec)
        except BaseException:
            link.close()
            raise

    return open_rig
