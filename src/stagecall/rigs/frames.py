"""The frames of the board's protocol: one line, checked by length and CRC, or nothing at all.

Written from ``hardware/protocol/SPECIFICATION.md``; ``vectors.yaml`` beside it holds this and the firmware to the same.
"""

from __future__ import annotations

import re
from binascii import crc_hqx

import msgspec

_FRAME = re.compile(rb"([><!])([0-9A-F]{2}) ([0-9A-F]{2}) ([ -~]{1,255}) ([0-9A-F]{4})")


class Frame(msgspec.Struct, frozen=True):
    """One line: ``>`` a command, ``<`` a reply, ``!`` an event."""

    kind: str
    tag: int
    body: str


def crc16(data: bytes) -> int:
    """CRC-16, polynomial 0x1021, start 0xFFFF, no reflection, no inversion."""
    return crc_hqx(data, 0xFFFF)


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
