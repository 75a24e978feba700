"""How one line stands in the file: the JSON of its struct with a CRC-32 over those bytes put in as the last key.

``{"k":"edge","n":7,"t":1200,"point":"blower","state":"on","crc":"0f3a91c2"}`` and a line feed. The CRC is over all that
stands before ``,"crc"``; eight hex digits. It locates damage; the SHA-256 chain of the seals proves the whole.
"""

from __future__ import annotations

from collections.abc import Callable
from hashlib import sha256
from typing import Literal
from zlib import crc32

import msgspec

from stagecall.model.event import AnyLine, Document, Settled

LINE_LIMIT = 16 * 1024 * 1024
"""The longest line in bytes, its line feed included; only a document comes near. Keeps a reader's memory bounded."""

LINE_FEED = 0x0A

_TAIL = len(',"crc":"00000000"}\n')

encode = msgspec.json.Encoder().encode
decode: Callable[[bytes], AnyLine] = msgspec.json.Decoder(AnyLine).decode
UNREADABLE = (msgspec.MsgspecError, UnicodeError, RecursionError)
"""All that ``decode`` raises: wrong in form or type, no UTF-8, nested too deep."""


def seal_in(body: bytes) -> bytes:
    """The line as it stands in the file, from the JSON *body* ``{…}``."""
    head = body[:-1]
    return b'%s,"crc":"%08x"}\n' % (head, crc32(head))


def framed(line: AnyLine, n: int) -> tuple[bytes, AnyLine]:
    """The line as it stands in the file, numbered *n*, and what a reader will make of it.

    Raises:
        ValueError: it could not be read back.
    """
    if type(line) is Settled:  # half of all lines, and nothing in it but two numbers
        head = b'{"k":"settled","n":%d' % n + (b',"t":%d' % line.t if line.t else b"")
        return b'%s,"crc":"%08x"}\n' % (head, crc32(head)), Settled(n=n, t=line.t)
    if type(line) is Document:
        return _once(line, n)
    return _frame(msgspec.structs.replace(line, n=n))


def _frame(line: AnyLine) -> tuple[bytes, AnyLine]:
    try:
        body = encode(line)
        written = decode(body)
    except (*UNREADABLE, OverflowError) as error:
        raise ValueError(f"line {line.n} would not be readable: {error}") from error
    if LINE_FEED in body or len(body) > LINE_LIMIT - 64:
        raise ValueError(f"line {line.n} would not be readable: {len(body)} bytes or a line feed in it")
    return seal_in(body), written


def _once(line: Document, n: int) -> tuple[bytes, AnyLine]:
    """A document that stands at one place in many logs is framed once; nobody changes it, nor what is given back."""
    kept = _framed.get((id(line), n))
    if kept is None:
        if len(_framed) >= FRAMED:
            _framed.clear()
        kept = _framed[id(line), n] = line, *_frame(msgspec.structs.replace(line, n=n))
    return kept[1:]


FRAMED = 1024
"""So many framed documents are kept, some 10 KB each."""
_framed: dict[tuple[int, int], tuple[Document, bytes, AnyLine]] = {}
"""With each its document, so that none other has its id."""


def sound(raw: bytes) -> bool:
    """Whether a whole line's CRC is there and right."""
    return raw[-_TAIL:] == b',"crc":"%08x"}\n' % crc32(raw[:-_TAIL])


def digest(raw: bytes) -> str:
    """SHA-256, hex."""
    return sha256(raw).hexdigest()


def document(
    kind: Literal["sequence", "monitor", "system", "kit", "equipment", "fault", "map"],
    name: str,
    raw: str,
    typed: object = None,
) -> Document:
    """The line for a document that is used: its text as evidence, and its typed form for the judge."""
    return Document(
        kind=kind,
        name=name,
        digest=digest(raw.encode("utf-8", "surrogateescape")),
        raw=raw,
        typed=msgspec.Raw(encode(typed)),
    )
