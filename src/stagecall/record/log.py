"""Writing a log: append-only lines, seals between them, a closing seal with the count."""

from __future__ import annotations

from pathlib import Path

from stagecall.errors import LogWriteError
from stagecall.model.event import Answer, AnyLine, Call, Edge, Exception_, Header, Refusal, Request, Seal
from stagecall.record.framing import digest, framed
from stagecall.record.sinks import LogFile, Memory, Sink

SEAL_BYTES = 64 * 1024
SEAL_MS = 1000
EDGE_MS = 250
_SYNCED = frozenset({Request, Call, Answer, Exception_, Refusal})


class Log:
    """One run's log, in a file or in memory; the same lines give the same bytes.

    Lines are numbered, checked by reading them back, and given to the file at the latest with the next seal. Where time
    is real, every line goes to the file at once; requests, calls, answers, exceptions and refusals are synced to the
    disk as they come, and an edge at the latest by the first line that stands 250 ms after it, or when ``passed``
    tells that so long has passed.
    """

    def __init__(self, sink: Sink, header: Header, path: Path | None, *, real_time: bool) -> None:
        self._sink = sink
        self._real_time = real_time
        self.path = path
        self.run = header.run
        self.count = 0
        """Lines so far, seals included."""
        self._n = -1
        self._t = 0
        self._pending: list[bytes] = []
        self._since: list[bytes] = []
        self._since_bytes = 0
        self._sealed_t = 0
        self._edge_t: int | None = None
        self._before = ""
        self._synced = 0
        """So many lines are surely on the disk."""
        self._broken = ""
        self._closed = False
        self._digest = ""
        self.header = self.append(header)

    @classmethod
    def create(cls, path: Path, header: Header, *, real_time: bool = False) -> Log:
        """Begin a log in a new file; its header is on the disk when this returns.

        Raises:
            LogWriteError: the file exists, the folder is missing or may not be written to, the disk is full.
        """
        sink = LogFile(path, reserve=real_time)
        try:
            log = cls(sink, header, path, real_time=real_time)
            log._flush()
            log._guarded_sync()
        except BaseException:
            sink.close()
            path.unlink()
            raise
        return log

    @classmethod
    def in_memory(cls, header: Header) -> Log:
        """Begin a log that is only kept in memory; ``contents`` has its bytes."""
        return cls(Memory(), header, None, real_time=False)

    @property
    def full(self) -> bool:
        """The disk is full, and what is written now goes where a reserve was kept for all-off and the close."""
        return self._sink.reserve_given_up

    def passed(self, t: int) -> None:
        """Time has come to *t* without a line: an edge that has waited long enough goes to the disk.

        Raises:
            LogWriteError: the disk is full.
        """
        if self._edge_t is not None and t - self._edge_t >= EDGE_MS and not self._closed and not self._broken:
            self.sync()

    def contents(self) -> bytes:
        """All bytes so far of a log in memory."""
        if not isinstance(self._sink, Memory):
            raise TypeError("only a log in memory has its contents at hand; read the file instead")
        self._flush()
        return b"".join(self._sink.chunks)

    def append(self, line: AnyLine) -> AnyLine:
        """Number the line (unless it bears a number), write it, and return what the reader will decode.

        Raises:
            LogWriteError: the disk is full, or a write failed before.
            ValueError: the line goes back in time or number, cannot be read back (a reading that is not a number), or
                the log is closed.
        """
        if self._closed:
            raise ValueError("the log is closed")
        if self._broken:
            raise LogWriteError(self._broken)
        n = line.n if line.n >= 0 else self._n + 1
        if line.t < self._t or n <= self._n:
            raise ValueError(f"line {n} at {line.t} ms comes after line {self._n} at {self._t} ms")
        raw, written = framed(line, n)
        self._put(raw, n, line.t)
        if self._real_time:
            self._keep_pace(line)
        elif self._since_bytes >= SEAL_BYTES:
            self._seal()
        return written

    def sync(self) -> None:
        """Give all lines to the file; where time is real also seal them and wait until the disk has them.

        Raises:
            LogWriteError: the disk is full.
        """
        if self._closed:
            return
        if not self._real_time:
            self._flush()
        elif self._synced < self.count:
            if self._since_bytes:
                self._seal()
            self._guarded_sync()

    def close(self) -> str:
        """Write the closing seal and return the log's digest: SHA-256 of that seal as written, hex.

        May be called again. A log whose writing failed is closed without a seal and has the digest ``""``.

        Raises:
            LogWriteError: the disk is full.
        """
        if self._closed:
            return self._digest
        try:
            if not self._broken:
                self._seal(closing=True)
                self._guarded_sync()
                self._digest = self._before
        finally:
            self._closed = True
            self._sink.close()
        return self._digest

    def _put(self, raw: bytes, n: int, t: int) -> None:
        self._pending.append(raw)
        self._since_bytes += len(raw)
        self._n, self._t = n, t
        self.count += 1

    def _keep_pace(self, line: AnyLine) -> None:
        if self._edge_t is None and type(line) is Edge:
            self._edge_t = line.t
        if type(line) in _SYNCED or (self._edge_t is not None and line.t - self._edge_t >= EDGE_MS):
            self.sync()
        elif self._since_bytes >= SEAL_BYTES or line.t - self._sealed_t >= SEAL_MS:
            self._seal()
        else:
            self._flush()

    def _flush(self) -> None:
        if self._broken:
            raise LogWriteError(self._broken)
        if not self._pending:
            return
        chunk = b"".join(self._pending)
        try:
            self._sink.write(chunk)
        except LogWriteError as error:
            self._broken = str(error)
            raise
        self._since.append(chunk)
        self._pending.clear()

    def _guarded_sync(self) -> None:
        try:
            self._sink.sync()
        except LogWriteError as error:
            self._broken = str(error)
            raise
        self._synced = self.count
        self._edge_t = None

    def _seal(self, *, closing: bool = False) -> None:
        self._flush()
        seal = Seal(
            n=self._n + 1,
            t=self._t,
            before=self._before,
            since=digest(b"".join(self._since)),
            closing=closing,
            count=self.count + 1 if closing else None,
        )
        self._put(framed(seal, seal.n)[0], seal.n, seal.t)
        self._before = digest(self._pending[-1])
        self._flush()
        self._since.clear()
        self._since_bytes = 0
        self._sealed_t = self._t
