"""The portable core, built for this computer, in virtual time."""

from __future__ import annotations

import ctypes as c
from itertools import count
from pathlib import Path

from stagecall.rigs.frames import Frame, opened, seal


def load(path: Path) -> c.CDLL:
    lib = c.CDLL(str(path))
    pointer, u8, u16, u32 = c.c_void_p, c.c_uint8, c.c_uint16, c.c_uint32
    signatures = {
        "new": (pointer, (c.c_uint64,)),
        "free": (None, (pointer,)),
        "run": (None, (pointer, c.c_char_p, u32, u32)),
        "listen": (u32, (pointer, u32)),
        "take": (u32, (pointer, c.POINTER(c.POINTER(u8)))),
        "input": (None, (pointer, u8, c.c_bool)),
        "driven": (u32, (pointer,)),
        "refused": (u16, (pointer,)),
        "wire": (None, (pointer, u8, u8)),
        "analog": (None, (pointer, u8, u16)),
        "fault": (c.c_bool, (pointer, c.c_char_p)),
        "restart": (None, (pointer, u8)),
        "now": (c.c_uint64, (pointer,)),
        "open": (u32, (c.c_char_p, u8)),
        "crc": (u16, (c.c_char_p, u32)),
    }
    for name, (result, arguments) in signatures.items():
        function = getattr(lib, f"native_{name}")
        function.restype, function.argtypes = result, arguments
    return lib


class Core:
    """One board of 16 relays, 16 inputs and 4 analog inputs."""

    def __init__(self, lib: c.CDLL, start_us: int = 0) -> None:
        self._lib = lib
        self._b = lib.native_new(start_us)
        self._tags = count()
        self._pending = b""
        self.lines: list[Frame] = []

    def close(self) -> None:
        self._lib.native_free(self._b)

    def give(self, data: bytes) -> None:
        """Give the board bytes and let it take one turn; what it sends waits to be taken."""
        self._lib.native_run(self._b, data, len(data), 0)

    def wait(self, us: int) -> None:
        """Let time pass; what the board sends waits to be taken."""
        self._lib.native_run(self._b, b"", 0, us)

    def listen(self, us: int) -> tuple[bytes, int]:
        """What the board sends first within that time, and the time that passed."""
        passed = self._lib.native_listen(self._b, us)
        return self._sent(), int(passed)

    def _sent(self) -> bytes:
        start = c.POINTER(c.c_uint8)()
        found = self._lib.native_take(self._b, c.byref(start))
        return bytes(start[:found])

    def feed(self, data: bytes, ms: float = 0) -> None:
        """Give the board bytes, then let *ms* pass."""
        self._lib.native_run(self._b, data, len(data), round(ms * 1000))
        self._pending += self._sent()
        *whole, self._pending = self._pending.split(b"\n")
        for line in whole:
            frame = opened(line)
            assert frame is not None, line
            self.lines.append(frame)

    def run(self, ms: float) -> None:
        self.feed(b"", ms)

    def ask(self, body: str) -> str:
        tag, seen = next(self._tags) % 256, len(self.lines)
        self.feed(seal(">", tag, body), 0.25)
        for _ in range(40):
            for frame in self.lines[seen:]:
                if frame.kind == "<" and frame.tag == tag:
                    return frame.body
            self.run(0.25)
        raise AssertionError(f"no reply to {body}")

    def live(self, which: int, *, live: bool) -> None:
        """An input from 1."""
        self._lib.native_input(self._b, which, live)

    def wire(self, relay: int, which: int) -> None:
        """The call wire of a relay leads to an input."""
        self._lib.native_wire(self._b, relay, which)

    def analog(self, which: int, millivolts: int) -> None:
        self._lib.native_analog(self._b, which, millivolts)

    def fault(self, text: str) -> None:
        """``NAME=VALUE``, as the board on this computer takes them."""
        assert self._lib.native_fault(self._b, text.encode()), text

    def restart(self, cause: int) -> None:
        """Reset it: 0 power, 1 pin, 2 brown-out, 3 watchdog."""
        self._lib.native_restart(self._b, cause)

    def now_us(self) -> int:
        """The board's own clock."""
        return int(self._lib.native_now(self._b))

    def closed(self) -> set[int]:
        """The relays that are driven, from 1; the master is 0."""
        driven = self._lib.native_driven(self._b)
        return {i + 1 for i in range(16) if driven >> i & 1} | ({0} if driven >> 16 & 1 else set())

    def events(self) -> list[str]:
        return [frame.body for frame in self.lines if frame.kind == "!"]

    def refused(self) -> int:
        return int(self._lib.native_refused(self._b))

    def opened(self, line: bytes) -> Frame | None:
        """What the core makes of a line."""
        found = self._lib.native_open(line, len(line))
        if not found:
            return None
        body = line[7 : 7 + (found & 0xFF)].decode()
        return Frame(chr(found >> 16), found >> 8 & 0xFF, body)

    def crc16(self, data: bytes) -> int:
        return int(self._lib.native_crc(data, len(data)))
