"""Every error a user can meet, and the exit code it ends with.

::

    StagecallError
    ├── UsageError            2   what was asked for makes no sense here
    ├── DocumentError         2   a file's contents are wrong (carries all complaints)
    ├── NotInLibraryError     2   a name that the library does not hold
    ├── LogError              2   a log cannot be read, or cannot be written
    │   └── LogWriteError     2   (4 once something has been called)
    │       └── LogFullError  4   the disk filled in a run, which ended in order
    ├── CallRefusedError      2   the guard will not let the run begin
    └── RigLostError          4   the rig stopped answering during a run

All take plain positional arguments only: SimPy rebuilds an exception from its ``args``.
"""

from __future__ import annotations

from enum import IntEnum


class ExitCode(IntEnum):
    """What the program's exit status says."""

    PASSED = 0
    FAILED = 1
    BAD_INPUT = 2
    NOT_VERIFIED = 3
    RIG_LOST = 4
    INTERRUPTED = 130


class StagecallError(Exception):
    """Anything Stagecall itself complains of; the message is one clear sentence for the user."""

    exit_code = ExitCode.BAD_INPUT


class UsageError(StagecallError):
    """Asked for something that makes no sense.

    - an option's value cannot be read, or two options contradict each other
    - a fault's target is not on this system
    """


class QuantityError(StagecallError, ValueError):
    """A quantity or range cannot be read.

    - no unit, an unknown unit, or a unit of another kind ("5 V" where a time belongs)
    - a range whose ends are the wrong way round
    """


class Complaint:
    """One thing wrong in one file, at one place."""

    __slots__ = ("column", "file", "line", "text")

    def __init__(self, file: str, line: int, column: int, text: str) -> None:
        self.file, self.line, self.column, self.text = file, line, column, text

    def __str__(self) -> str:
        return f"{self.file}:{self.line}:{self.column}: {self.text}"

    def __repr__(self) -> str:
        return f"Complaint({str(self)!r})"


class DocumentError(StagecallError):
    """One or more documents are wrong; ``complaints`` holds every one found, in the order of the file.

    - not YAML at all, too large, too deep, or a duplicate key
    - an unknown key or word (the nearest known one is named), a missing key, a value of the wrong kind
    - a limit that maker data would move beyond its hard bounds
    - a window that cannot fit in its step
    """

    def __init__(self, complaints: list[Complaint]) -> None:
        super().__init__(complaints)
        self.complaints = complaints

    def __str__(self) -> str:
        return "\n".join(str(complaint) for complaint in self.complaints)


class NotInLibraryError(StagecallError):
    """No document of this kind bears that name; the nearest names are given."""


class LogError(StagecallError):
    """A log cannot be used.

    - the file is not there, or is not a run log
    - its format is newer than this program
    """


class LogWriteError(LogError):
    """A log cannot be written.

    - the folder is missing or read-only, the disk is full, the file exists already
    """


class LogFullError(LogWriteError):
    """The disk is full, and only the reserve beside the log is left to end the run with."""

    exit_code = ExitCode.RIG_LOST


class CallRefusedError(StagecallError):
    """The guard refuses a call for this whole run."""


class RigLostError(StagecallError):
    """The rig stopped answering, or answers nonsense."""

    exit_code = ExitCode.RIG_LOST
