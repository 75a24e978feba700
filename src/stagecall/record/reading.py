"""Reading a log back, line by line, and saying what is wrong with it and where."""

from __future__ import annotations

import io
from collections.abc import Iterator
from hashlib import sha256
from pathlib import Path
from typing import IO

import msgspec

from stagecall.errors import LogError
from stagecall.model.event import FORMAT, AnyLine, Header, Seal
from stagecall.record.framing import LINE_LIMIT, UNREADABLE, decode, digest, sound


class Damage(msgspec.Struct, frozen=True):
    """Something wrong in a log: the line (counted from 1), its first byte's offset in the file, and one sentence."""

    line: int
    offset: int
    text: str

    def __str__(self) -> str:
        return f"line {self.line} (byte {self.offset}): {self.text}"


class LogReading:
    """A log being read.

    ``lines`` gives every line that is whole, the header first and seals too, once. ``complete``, ``damage``, ``digest``
    and ``count`` are final when ``lines`` has ended.
    """

    def __init__(self, stream: IO[bytes], name: str) -> None:
        self._stream = stream
        self.damage: list[Damage] = []
        self.complete = False
        """The closing seal was there, was right, and was the last line."""
        self.digest = ""
        """SHA-256 of the closing seal as written, hex; empty where there is none."""
        self.count = 0
        """Lines seen, whole or not."""
        self._offset = 0
        self._line_offset = 0
        self._n = -1
        self._t = 0
        self._since = sha256()
        self._before = ""
        self._since_line = 1
        self._explained = False
        self._first = stream.readline(LINE_LIMIT)
        self.header = self._read_header(self._first, name)
        self.lines: Iterator[AnyLine] = self._iterate()

    def _read_header(self, raw: bytes, name: str) -> Header:
        if not raw.startswith(b'{"k":"header"'):
            raise LogError(f"{name} is not a run log: its first line is no header.")
        if not sound(raw):
            raise LogError(f"The first line of {name} is damaged; without it nothing can be judged.")
        try:
            header = decode(raw)
        except UNREADABLE as error:
            form = _format_of(raw)
            if form is not None and form > FORMAT:
                raise LogError(_newer(name, form)) from error
            raise LogError(f"The first line of {name} cannot be understood: {error}.") from error
        if not isinstance(header, Header):
            raise LogError(f"{name} is not a run log: its first line is no header.")
        if header.format > FORMAT:
            raise LogError(_newer(name, header.format))
        return header

    def _iterate(self) -> Iterator[AnyLine]:
        with self._stream:
            raw = self._first
            while raw:
                line = self._take(raw)
                if line is not None:
                    yield line
                raw = self._stream.readline(LINE_LIMIT)

    def _take(self, raw: bytes) -> AnyLine | None:
        self.count += 1
        self._line_offset = self._offset
        self._offset += len(raw)
        line = self._understand(raw)
        if isinstance(line, str):
            self._hurt(line)
            self._since.update(raw)
            return None
        self._n, self._t = line.n, line.t
        if type(line) is Seal:
            self._check(line, raw)
        else:
            self._since.update(raw)
        return line

    def _understand(self, raw: bytes) -> AnyLine | str:
        """The line, or what is wrong with it."""
        if self.digest:
            self.complete = False
            return "stands after the closing seal and is left out."
        if not sound(raw):
            torn = not raw.endswith(b"\n") and len(raw) < LINE_LIMIT
            return (
                f"is {'torn (the log ends inside it)' if torn else 'damaged (its checksum is wrong)'} and is left out."
            )
        try:
            line = decode(raw)
        except UNREADABLE as error:
            return f"cannot be understood and is left out: {error}."
        if line.n <= self._n or line.t < self._t:
            return f"goes back (number {line.n} after {self._n}, {line.t} ms after {self._t} ms) and is left out."
        return line

    def _hurt(self, text: str) -> None:
        self.damage.append(Damage(self.count, self._line_offset, f"Line {self.count} {text}"))
        self._explained = True

    def _check(self, seal: Seal, raw: bytes) -> None:
        right = seal.before == self._before and seal.since == self._since.hexdigest()
        if not right and not self._explained:
            self.damage.append(
                Damage(
                    self.count,
                    self._line_offset,
                    f"The seal on line {self.count} does not fit: something was changed, added or taken away between "
                    f"line {self._since_line} and line {self.count}.",
                )
            )
        if seal.closing:
            if right and seal.count != self.count and not self._explained:
                self._hurt(f"closes a log of {seal.count} lines, but stands on line {self.count}.")
                right = False
            self.complete = right and seal.count == self.count
            self.digest = digest(raw)
        self._before = digest(raw)
        self._since = sha256()
        self._since_line = self.count
        self._explained = False


def _format_of(raw: bytes) -> int | None:
    try:
        return msgspec.json.decode(raw, type=dict[str, object]).get("format")  # type: ignore[return-value]
    except UNREADABLE:
        return None


def _newer(name: str, form: int) -> str:
    return f"{name} is a log of format {form}; this program reads up to {FORMAT}. Use a newer Stagecall."


def read(source: Path | bytes) -> LogReading:
    """Open a log, from a file or from its bytes; its header is read at once.

    Raises:
        LogError: there is no such file, it is not a run log, its header is damaged, or its format is newer.
    """
    if isinstance(source, bytes):
        return LogReading(io.BytesIO(source), "this log")
    try:
        stream = source.open("rb")
    except OSError as error:
        why = (
            "there is no such file" if isinstance(error, FileNotFoundError) else (error.strerror or str(error)).lower()
        )
        raise LogError(f"The log {source} cannot be read: {why}.") from error
    try:
        return LogReading(stream, str(source))
    except BaseException:
        stream.close()
        raise
