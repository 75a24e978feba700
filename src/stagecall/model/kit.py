"""A kit: what this tester can see, and how well."""

from __future__ import annotations

from typing import Literal

import msgspec

from stagecall.points import Sensed
from stagecall.units import Quantity, Spread


class Sight(msgspec.Struct, frozen=True, kw_only=True):
    """How one point is seen.

    ``on`` and ``off``: how late a change is stamped, least and most. ``blind``: the longest pulse that can be missed.
    ``threshold``: the voltage or current from which it reads as on. For readings: ``uncertainty`` (±), ``every`` (how
    often it is read), ``holds`` (how long a reading stays valid), ``lag`` (the sensor's time constant).
    """

    sensed: Sensed
    on: Spread | None = None
    off: Spread | None = None
    blind: Quantity | None = None
    threshold: Quantity | None = None
    uncertainty: Quantity | None = None
    every: Quantity | None = None
    holds: Quantity | None = None
    lag: Quantity | None = None
    source: str = ""


class Probe(msgspec.Struct, frozen=True, kw_only=True):
    """A thermistor on an analog input: 10 kilohm at 25 °C to ground, 10 kilohm to the 5 V that is measured by.

    ``beta``: how its resistance follows the temperature, kelvin, from its sheet.
    """

    analog: int
    beta: float


class Watchdog(msgspec.Struct, frozen=True, kw_only=True):
    """What is written to which holding register to make a board open its relays by itself when its host is silent."""

    register: int
    value: int


class Modbus(msgspec.Struct, frozen=True, kw_only=True):
    """How an off-the-shelf board is spoken to over Modbus RTU, from its sheet.

    ``relays``: the address of relay 1's coil; ``inputs``: of input 1's discrete input; the others follow. ``answer``:
    the longest that an answer takes; ``operate``: the longest that a contact takes; ``every``: how often it is polled.
    """

    device: int = 1
    baud: int = 9600
    parity: Literal["none", "even", "odd"] = "none"
    stop_bits: int = 1
    relays: int = 0
    inputs: int = 0
    answer: Quantity
    operate: Quantity
    every: Quantity
    watchdog: Watchdog | None = None
    source: str = ""


class Board(msgspec.Struct, frozen=True, kw_only=True):
    """What hangs on which channel of a relay and sense board; channels count from 1.

    ``calls``: the relay that makes each call. ``opens``: the relay that lies in a mockup's switch, held closed.
    ``power``: the relay that lies in the control's 24 V, held closed. ``inputs``: the AC input that sees each point.
    ``probes``: the analog inputs. ``compressor``: calls that the board itself keeps open for the minimum off.
    ``readback``: calls whose wire is seen by the input of ``wire_…``; a wire that is live with its relay open stops
    everything, or is only told, where another control may feed it. ``exclusive``: pairs of calls that the board never
    closes together. ``modbus``: the board is no board of ours, and does none of these last three by itself.
    """

    calls: dict[str, int] = {}
    opens: dict[str, int] = {}
    power: int | None = None
    inputs: dict[str, int] = {}
    probes: dict[str, Probe] = {}
    compressor: tuple[str, ...] = ()
    readback: dict[str, Literal["stop", "tell"]] = {}
    exclusive: tuple[tuple[str, str], ...] = ()
    modbus: Modbus | None = None


class Kit(msgspec.Struct, frozen=True, kw_only=True):
    """The tester's means. Points are named without number; a numbered one uses its base name's row."""

    kit: str
    title: str
    makes_calls: bool = True
    call_width: Quantity | None = None
    """The widest interval in which a call contact's move is known."""
    points: dict[str, Sight]
    board: Board | None = None
