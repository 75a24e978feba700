"""The unmodified firmware under a processor simulator, in virtual time, seen from its wire and its pins."""

from __future__ import annotations

import ctypes as c
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import count
from pathlib import Path

from builds import HARDWARE

from stagecall.rigs.frames import Frame, opened, seal

CYCLES_PER_MS = 16_000
CYCLES_PER_US = 16


class _Change(c.Structure):
    _fields_ = (("cycle", c.c_uint64), ("which", c.c_uint8), ("level", c.c_uint8))


def load(path: Path) -> c.CDLL:
    """The harness with its functions typed."""
    lib = c.CDLL(str(path))
    pointer, u8, u16, u32, u64, real = c.c_void_p, c.c_uint8, c.c_uint16, c.c_uint32, c.c_uint64, c.c_double
    signatures = {
        "new": (pointer, (c.c_char_p, c.c_char_p, u32)),
        "free": (None, (pointer,)),
        "input": (None, (pointer, u8, c.c_char, u8)),
        "mains": (None, (pointer, u8, real, real, real, real, real, real)),
        "plan": (None, (pointer, u8, u64, u8)),
        "output": (None, (pointer, u8, c.c_char, u8)),
        "send": (None, (pointer, c.c_char_p, u32)),
        "damage": (None, (pointer,)),
        "wire_done": (u64, (pointer,)),
        "reset": (None, (pointer, u8)),
        "run": (c.c_bool, (pointer, u64)),
        "step": (c.c_bool, (pointer, u64)),
        "cycle": (u64, (pointer,)),
        "epoch": (u64, (pointer,)),
        "resets": (u32, (pointer,)),
        "level": (u8, (pointer, u8)),
        "log_pins": (None, (pointer, c.c_bool)),
        "list": (u32, (pointer, u8, c.POINTER(c.POINTER(_Change)))),
        "analog": (None, (pointer, u8, u32)),
        "symbol": (c.c_int64, (pointer, c.c_char_p)),
        "spoil_flash": (None, (pointer, u32, c.c_char_p, u32)),
        "stop_timer": (None, (pointer, u8)),
        "paint": (None, (pointer, u16)),
        "deepest": (u16, (pointer, u16)),
    }
    for name, (result, arguments) in signatures.items():
        function = getattr(lib, f"bench_{name}")
        function.restype, function.argtypes = result, arguments
    return lib


@dataclass(frozen=True)
class Part:
    """A processor and its pins, as the wiring table has them."""

    name: str
    elf: str
    relays: tuple[str, ...]
    inputs: tuple[str, ...]
    master: str
    analogs: int = 0


def _part(name: str) -> Part:
    table = tomllib.loads((HARDWARE / "wiring/wiring.toml").read_text(encoding="utf-8"))
    board = next(row for row in table["board"] if row["name"] == name)
    processor = board["processor"].split()[0].lower()
    relays, inputs = tuple(board["relays"]), tuple(board["inputs"])
    return Part(processor, f"{board['firmware']}.elf", relays, inputs, board["master"], len(board["analogs"]))


SMALL, LARGE = _part("8"), _part("16")


@dataclass(frozen=True)
class Line:
    """A line from the board and the cycle at which its last bit was on the wire."""

    cycle: int
    frame: Frame


class Bench:
    """One simulated board. Times are cycles of 16 MHz unless a name says otherwise."""

    def __init__(self, lib: c.CDLL, build: Path, part: Part, baud: int = 250_000) -> None:
        self._lib, self.part = lib, part
        self._b = lib.bench_new(str(build / part.elf).encode(), part.name.encode(), baud)
        assert self._b, "the simulator does not know the part, or the firmware is missing"
        for i, pin in enumerate(part.inputs):
            lib.bench_input(self._b, i, pin[0].encode(), int(pin[1]))
            self.mains(i)
        for i, pin in enumerate((*part.relays, part.master)):
            lib.bench_output(self._b, i, pin[0].encode(), int(pin[1]))
        self._byte_cycles = 11 * 16_000_000 // baud
        self._tags = count()
        self._pending = b""
        self.lines: list[Line] = []
        self.garbage: list[bytes] = []
        self.moves: list[tuple[int, int, bool]] = []

    def close(self) -> None:
        self._lib.bench_free(self._b)

    # --- time ---

    @property
    def cycle(self) -> int:
        return int(self._lib.bench_cycle(self._b))

    def run(self, ms: float) -> None:
        """Let *ms* pass, then gather what came."""
        self.run_to(self.cycle + round(ms * CYCLES_PER_MS))

    def run_to(self, cycle: int) -> None:
        assert self._lib.bench_run(self._b, cycle), "the processor stopped for good"
        self.moves += [(when, which, bool(level)) for when, which, level in self._list(1)]
        for when, _, byte in self._list(0):
            if byte != 0x0A:
                self._pending += bytes([byte])
                continue
            frame = opened(self._pending)
            if frame is None:
                self.garbage.append(self._pending)
            else:
                self.lines.append(Line(when, frame))
            self._pending = b""

    def step(self, cycle: int) -> tuple[list[tuple[int, int, bool]], bytes]:
        """Run to *cycle*, or until an output has moved or a line is complete; the moves, and the board's bytes."""
        assert self._lib.bench_step(self._b, cycle), "the processor stopped for good"
        moves = [(when, which, bool(level)) for when, which, level in self._list(1)]
        return moves, bytes(byte for _, _, byte in self._list(0))

    def _list(self, which: int) -> Iterator[tuple[int, int, int]]:
        rows = c.POINTER(_Change)()
        found = self._lib.bench_list(self._b, which, c.byref(rows))
        return iter([(rows[i].cycle, rows[i].which, rows[i].level) for i in range(found)])

    def device_us(self, cycle: int) -> float:
        """The board's own clock at *cycle*, as its timer would show it."""
        return (cycle - self._lib.bench_epoch(self._b)) / CYCLES_PER_US

    # --- the wire ---

    def send(self, line: bytes) -> None:
        self._lib.bench_send(self._b, line, len(line))

    def send_without_stop_bit(self, line: bytes, at: int) -> None:
        """Like send; byte *at* has a framing error, and its bits are right."""
        self._lib.bench_send(self._b, line, len(line))
        self.run_to(self.cycle + self._byte_cycles * at + self._byte_cycles // 2)
        self._lib.bench_damage(self._b)

    def sent(self) -> int:
        """When the last byte sent is, or will be, complete."""
        return int(self._lib.bench_wire_done(self._b))

    def ask(self, body: str, wait_ms: float = 50) -> str:
        """Send a command and run until its reply; the reply's body."""
        tag = next(self._tags) % 256
        self.send(seal(">", tag, body))
        seen, until = len(self.lines), self.cycle + round(wait_ms * CYCLES_PER_MS)
        while self.cycle < until:
            self.run(0.25)
            for line in self.lines[seen:]:
                if line.frame.kind == "<" and line.frame.tag == tag:
                    return line.frame.body
            seen = len(self.lines)
        raise AssertionError(f"no reply to {body}")

    def ok(self, body: str) -> str:
        """Like ask; the data after OK and the time."""
        reply = self.ask(body)
        word, _, rest = reply.partition(" ")
        assert word == "OK", f"{body}: {reply}"
        return rest.partition(" ")[2]

    def events(self) -> list[list[str]]:
        """The fields of every event so far."""
        return [line.frame.body.split(",") for line in self.lines if line.frame.kind == "!"]

    def keep_alive(self, ms: float) -> None:
        """Let *ms* pass with a poll every 250 ms."""
        until = self.cycle + round(ms * CYCLES_PER_MS)
        while self.cycle < until:
            self.ok("STAT?")
            self.run_to(min(until, self.cycle + 250 * CYCLES_PER_MS))

    # --- pins ---

    def mains(
        self,
        which: int,
        *,
        frequency: float = 60,
        phase: float = 0,
        volts: float = 24,
        threshold: float = 10,
        on_delay: float = 20e-6,
        off_delay: float = 60e-6,
    ) -> None:
        """The source behind an input's switch: RMS volts, threshold as instantaneous volts, delays in s."""
        self._lib.bench_mains(self._b, which, frequency, phase, volts * 2**0.5, threshold, on_delay, off_delay)

    def switch(self, which: int, cycle: int, *, closed: bool) -> None:
        self._lib.bench_plan(self._b, which, cycle, int(closed))

    def noise(self, which: int, cycle: int, us: float) -> None:
        self._lib.bench_plan(self._b, which, cycle, 2)
        self._lib.bench_plan(self._b, which, cycle + round(us * CYCLES_PER_US), 3)

    def log_pins(self) -> None:
        self._lib.bench_log_pins(self._b, True)

    def pin_edges(self) -> list[tuple[int, int, int]]:
        """(cycle, input from 0, conducting) since the last call."""
        return list(self._list(2))

    def closed(self) -> set[int]:
        """The relays whose outputs are high, from 1; the master is 0."""
        relays = len(self.part.relays)
        levels = {i + 1 for i in range(relays) if self._lib.bench_level(self._b, i)}
        return levels | ({0} if self._lib.bench_level(self._b, relays) else set())

    def analog(self, channel: int, millivolts: int) -> None:
        self._lib.bench_analog(self._b, channel, millivolts)

    # --- faults of the machine ---

    def reset(self, flags: int) -> None:
        """1 power, 2 reset pin, 4 brown-out, 8 watchdog."""
        self._lib.bench_reset(self._b, flags)

    def resets(self) -> int:
        return int(self._lib.bench_resets(self._b))

    def spoil(self, symbol: str, code: bytes) -> None:
        """From now on the processor finds *code* where the function *symbol* was."""
        at = self._lib.bench_symbol(self._b, symbol.encode())
        assert at >= 0, symbol
        self._lib.bench_spoil_flash(self._b, at, code, len(code))

    def stop_timer(self, timer: int) -> None:
        """Timer 0 is the tick, timer 1 the clock."""
        self._lib.bench_stop_timer(self._b, timer)

    def paint_stack(self, start: int) -> None:
        self._lib.bench_paint(self._b, start)

    def deepest_stack(self, start: int) -> int:
        """Bytes of stack used at most since paint_stack."""
        return int(self._lib.bench_deepest(self._b, start))
