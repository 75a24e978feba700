"""The board's frames in Python, written from the specification and independent of the C core."""

from __future__ import annotations

import re
from dataclasses import dataclass

_FRAME = re.compile(rb"([><!])([0-9A-F]{2}) ([0-9A-F]{2}) ([ -~]{1,255}) ([0-9A-F]{4})")


def crc16(data: bytes) -> int:
    """CRC-16, polynomial 0x1021, start 0xFFFF, no reflection, no inversion."""
    crc = 0xFFFF
    for byte in data:
        crc ^= byte << 8
        for _ in range(8):
            crc = (crc << 1) ^ 0x1021 if crc & 0x8000 else crc << 1
        crc &= 0xFFFF
    return crc


@dataclass(frozen=True)
class Frame:
    """One line: ``>`` a command, ``<`` a reply, ``!`` an event."""

    kind: str
    tag: int
    body: str


def seal(kind: str, tag: int, body: str) -> bytes:
    """The line with its newline."""
    start = f"{kind}{tag:02X} {len(body):02X} {body}".encode("ascii")
    return start + f" {crc16(start):04X}\n".encode("ascii")


def opened(line: bytes) -> Frame | None:
    """The frame in a line without its newline; None where any byte is not as specified."""
    match = _FRAME.fullmatch(line)
    if match is None or int(match[3], 16) != len(match[4]) or crc16(line[:-5]) != int(match[5], 16):
        return None
    return Frame(match[1].decode(), int(match[2], 16), match[4].decode())
