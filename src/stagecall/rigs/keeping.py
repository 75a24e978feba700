"""What outlives a run on this computer: the folder for it, and files that one program at a time may hold."""

from __future__ import annotations

import os
import re
import sys
from pathlib import Path

from stagecall.errors import UsageError

if sys.platform == "win32":
    import msvcrt
else:
    import fcntl

FOLDER = "STAGECALL_STATE"
"""The variable that names another folder."""


def folder() -> Path:
    """``$STAGECALL_STATE``, else ``stagecall`` where this system keeps a user's state; made if it is not there.

    Raises:
        UsageError: it cannot be made.
    """
    if named := os.environ.get(FOLDER):
        path = Path(named)
    elif sys.platform == "win32":
        path = Path(os.environ.get("LOCALAPPDATA") or Path.home() / "AppData" / "Local") / "stagecall"
    else:
        path = Path(os.environ.get("XDG_STATE_HOME") or Path.home() / ".local" / "state") / "stagecall"
    try:
        path.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise UsageError(f"the folder {path} cannot be made ({error.strerror}); name another with {FOLDER}") from error
    return path


class Held:
    """A file of the folder that this program alone holds, until it is let go or the program ends, however it ends."""

    def __init__(self, kind: str, name: str) -> None:
        """Take hold of it.

        Raises:
            UsageError: another program holds it.
        """
        self.path = folder() / f"{re.sub('[^A-Za-z0-9.-]+', '_', name).strip('_')}.{kind}"
        try:
            self._file = os.open(self.path, os.O_RDWR | os.O_CREAT | getattr(os, "O_BINARY", 0), 0o600)
        except OSError as error:
            raise UsageError(
                f"{self.path} cannot be opened ({error.strerror}); name another folder with {FOLDER}"
            ) from error
        try:
            _lock(self._file)
        except OSError as error:
            os.close(self._file)
            raise UsageError(f"{name} is in use by another run on this computer") from error

    @property
    def size(self) -> int:
        """Bytes in it."""
        return os.fstat(self._file).st_size

    def read(self) -> bytes:
        """All that is in it."""
        os.lseek(self._file, 0, os.SEEK_SET)
        return os.read(self._file, self.size)

    def append(self, line: bytes) -> None:
        """Add a line, after a newline where a crash has left a torn one, and see that it is on the disk.

        Raises:
            OSError: the disk does not take it.
        """
        torn = self.size > 0 and not self.read().endswith(b"\n")
        os.lseek(self._file, 0, os.SEEK_END)
        os.write(self._file, b"\n" * torn + line)
        os.fsync(self._file)

    def write(self, data: bytes) -> None:
        """Replace what is in it, and see that it is on the disk.

        Raises:
            OSError: the disk does not take it.
        """
        os.lseek(self._file, 0, os.SEEK_SET)
        os.write(self._file, data)
        os.ftruncate(self._file, len(data))
        os.fsync(self._file)

    def let_go(self) -> None:
        """Others may take it; may be called twice."""
        if self._file >= 0:
            os.close(self._file)
            self._file = -1


def _lock(file: int) -> None:
    if sys.platform == "win32":
        os.lseek(file, 1 << 30, os.SEEK_SET)  # beyond what is written: there a lock keeps nobody from reading
        msvcrt.locking(file, msvcrt.LK_NBLCK, 1)
    else:
        fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
