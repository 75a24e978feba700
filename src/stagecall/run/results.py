"""The results of a cover run, kept in a file as they come, so that a second call goes on from there.

One JSON array a line, a check sum and an object: first what the results belong to, then healthy draws, fault runs and
time spent. A last line that was torn is dropped; any other damage is told, and the file is left as it is.
"""

from __future__ import annotations

from binascii import crc32
from pathlib import Path
from typing import IO

import msgspec

from stagecall.errors import UsageError
from stagecall.run.trace import Envelope
from stagecall.run.trial import Done, Failure

Place = tuple[str, str, str]
"""System, kit, sequence."""


class Belongs(msgspec.Struct, frozen=True, tag_field="k", tag="cover"):
    """What the results were made with: a digest of program, documents and healthy draws."""

    digest: str


class Healthy(msgspec.Struct, frozen=True, kw_only=True, tag_field="k", tag="healthy"):
    """Some healthy machines: which expectations failed on which seed, and how many runs left something unverified."""

    system: str
    kit: str
    sequence: str
    seeds: tuple[int, ...]
    alarms: tuple[str, ...] = ()
    not_verified: int = 0
    unverified: tuple[str, ...] = ()
    envelope: Envelope

    @property
    def place(self) -> Place:
        """System, kit, sequence."""
        return self.system, self.kit, self.sequence


class Tried(msgspec.Struct, frozen=True, kw_only=True, tag_field="k", tag="fault", omit_defaults=True):
    """One fault in one sequence: what failed, what could not be judged, which points left the healthy envelope."""

    system: str
    kit: str
    sequence: str
    fault: str
    failures: tuple[Failure, ...] = ()
    not_verified: tuple[str, ...] = ()
    left: tuple[str, ...] = ()
    broken: str = ""

    @property
    def place(self) -> Place:
        """System, kit, sequence."""
        return self.system, self.kit, self.sequence


class Spent(msgspec.Struct, frozen=True, tag_field="k", tag="spent"):
    """Time that one call took."""

    seconds: float


Result = Belongs | Healthy | Tried | Spent
_encode = msgspec.json.Encoder().encode
_decode = msgspec.json.Decoder(Result).decode
_part = msgspec.json.Decoder(tuple[int, msgspec.Raw]).decode


def _encoded(result: Result) -> bytes:
    """The line of a result, with the CRC-32 of its object."""
    told = _encode(result)
    return b"[%d,%s]\n" % (crc32(told), told)


def _read(line: bytes, where: str) -> Result:
    """The result of a line.

    Raises:
        UsageError: it is no such line, or no longer what was written.
    """
    try:
        checked, told = _part(line)
        if checked == crc32(told):
            result: Result = _decode(told)
            return result
    except msgspec.MsgspecError:
        pass
    raise UsageError(f"{where}: not a line of results, or a damaged one; name another file, or remove it")


class Results:
    """All results so far. ``file`` None keeps them in memory only."""

    def __init__(self, digest: str, path: Path | None = None) -> None:
        """Take up what *path* holds, or begin it.

        Raises:
            UsageError: the file holds something else, is damaged, or holds results of another program, library or
                number of draws.
            OSError: it cannot be read or written.
        """
        self.path = path
        self.healthy: list[Healthy] = []
        self.tried: list[Tried] = []
        self.seconds = 0.0
        self.envelopes: dict[Place, Envelope] = {}
        self._belongs = Belongs(digest)
        self._begun = False
        self._file: IO[bytes] | None = None
        if path is not None and path.is_file():
            self._take_up(path)

    def _take_up(self, path: Path) -> None:
        raw = path.read_bytes()
        whole = raw[: raw.rfind(b"\n") + 1]
        found = [_read(line, f"{path}:{number}") for number, line in enumerate(whole.splitlines(), 1)]
        if not found and raw and not _encoded(self._belongs).startswith(raw):
            raise UsageError(f"{path}:1: not a line of results; name another file, or remove it")
        if found and found[0] != self._belongs:
            raise UsageError(
                f"{path} holds results of another program, library or choice; name another file, or remove it"
            )
        if len(whole) < len(raw):
            with path.open("r+b") as file:
                file.truncate(len(whole))
        for result in found[1:]:
            self._keep(result)
        self._begun = bool(found)

    def add(self, result: Healthy | Tried | Spent) -> None:
        """Keep one more result."""
        self._keep(result)
        self._write(result)

    def _keep(self, result: Result) -> None:
        match result:
            case Healthy():
                self.healthy.append(result)
                self.envelopes.setdefault(result.place, Envelope()).merge(result.envelope)
            case Tried():
                self.tried.append(result)
            case Spent():
                self.seconds += result.seconds

    def _write(self, result: Result) -> None:
        if self.path is None:
            return
        if self._file is None:
            self._file = self.path.open("ab", buffering=0)
        if not self._begun:
            self._begun = True
            self._write(self._belongs)
        left = _encoded(result)
        try:
            while left:  # a disk that fills takes a part of it first
                left = left[self._file.write(left) :]
        except OSError as error:
            raise OSError(error.errno, error.strerror, str(self.path)) from error

    def take(self, done: Done) -> None:
        """Keep what a worker brought; of a fault's trace only which points left the envelope of its place."""
        job = done.job
        if job.seeds:
            self.add(
                Healthy(
                    system=job.system,
                    kit=job.kit,
                    sequence=job.sequence,
                    seeds=job.seeds,
                    alarms=tuple(f"seed {one.what}: {failure}" for one in done.trials for failure in one.failures),
                    not_verified=sum(bool(one.not_verified) for one in done.trials),
                    unverified=tuple(sorted({text for one in done.trials for text in one.not_verified})),
                    envelope=done.envelope,
                )
            )
            return
        envelope = self.envelopes.get((job.system, job.kit, job.sequence), Envelope())
        for one in done.trials:
            self.add(
                Tried(
                    system=job.system,
                    kit=job.kit,
                    sequence=job.sequence,
                    fault=one.what,
                    failures=one.failures,
                    not_verified=one.not_verified,
                    left=() if one.broken else envelope.left_by(one.trace),
                    broken=one.broken,
                )
            )

    def close(self) -> None:
        """Let go of the file."""
        if self._file is not None:
            self._file.close()
