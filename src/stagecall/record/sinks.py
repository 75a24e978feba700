"""Where a log's bytes go: a new file, with a reserve beside it for when the disk is full, or memory."""

from __future__ import annotations

import errno
import os
from collections.abc import Callable
from contextlib import suppress
from functools import partial
from pathlib import Path
from typing import Protocol, TypeVar

from stagecall.errors import LogWriteError

T = TypeVar("T")
RESERVE_BYTES = 64 * 1024
_DISK_FULL = {errno.ENOSPC, errno.EFBIG, getattr(errno, "EDQUOT", errno.ENOSPC)}


class Sink(Protocol):
    """Where the bytes go."""

    reserve_given_up: bool

    def write(self, chunk: bytes) -> None:
        """Take them."""

    def sync(self) -> None:
        """Wait until they are safe."""

    def close(self) -> None:
        """Nothing more comes."""


class LogFile:
    """A new file, written without a buffer of its own; with *reserve* a file of 64 KiB is kept beside it.

    The reserve is given up when the disk is full, so that what ends a run can still be written.
    """

    def __init__(self, path: Path, *, reserve: bool) -> None:
        """Raises LogWriteError where the file exists, cannot be made, or the disk has no room for the reserve."""
        self._path = path
        self._reserve: Path | None = None
        self.reserve_given_up = False
        flags = os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0)
        try:
            self._handle = os.open(path, flags, 0o644)
        except OSError as error:
            raise LogWriteError(_create_sentence(path, error)) from error
        if reserve:
            self._keep_reserve()

    def _keep_reserve(self) -> None:
        self._reserve = self._path.with_name(f"{self._path.name}.reserve")
        try:
            with self._reserve.open("wb") as file:
                file.write(bytes(RESERVE_BYTES))
                file.flush()
                os.fsync(file.fileno())
        except OSError as error:
            self.close()
            self._path.unlink(missing_ok=True)
            raise LogWriteError(_write_sentence(self._path, error)) from error

    def write(self, chunk: bytes) -> None:
        """Give all bytes to the system."""
        rest = memoryview(chunk)
        while rest:
            rest = rest[self._with_room(partial(os.write, self._handle, rest)) :]

    def sync(self) -> None:
        """Wait until the disk has them."""
        self._with_room(partial(os.fsync, self._handle))

    def _with_room(self, act: Callable[[], T]) -> T:
        try:
            try:
                return act()
            except OSError as error:
                if error.errno not in _DISK_FULL or not self._give_up_reserve():
                    raise
            return act()
        except OSError as error:
            raise LogWriteError(_write_sentence(self._path, error)) from error

    def _give_up_reserve(self) -> bool:
        reserve, self._reserve = self._reserve, None
        if reserve is None:
            return False
        with suppress(OSError):
            reserve.unlink()
        self.reserve_given_up = True
        return True

    def close(self) -> None:
        """Close it; the reserve is needed no more."""
        os.close(self._handle)
        if self._reserve is not None:
            with suppress(OSError):
                self._reserve.unlink()
            self._reserve = None


class Memory:
    """Bytes kept in memory."""

    reserve_given_up = False

    def __init__(self) -> None:
        self.chunks: list[bytes] = []

    def write(self, chunk: bytes) -> None:
        """Keep them."""
        self.chunks.append(chunk)

    def sync(self) -> None:
        """Memory has nothing to sync."""

    def close(self) -> None:
        """Memory has nothing to close."""


def _create_sentence(path: Path, error: OSError) -> str:
    folder = path.parent
    if error.errno == errno.EEXIST:
        return f"The log {path} exists already; a log is never written over. Choose another name with --log."
    if error.errno == errno.ENOENT:
        return f"The log {path} cannot be written: there is no folder {folder}."
    if error.errno == errno.ENOTDIR:
        return f"The log {path} cannot be written: {folder} is not a folder."
    if error.errno in {errno.EACCES, errno.EPERM, errno.EROFS}:
        return f"The log {path} cannot be written: the folder {folder} may not be written to."
    return _write_sentence(path, error)


def _write_sentence(path: Path, error: OSError) -> str:
    why = "the disk is full" if error.errno in _DISK_FULL else (error.strerror or str(error)).lower()
    return f"The log {path} cannot be written: {why}."
