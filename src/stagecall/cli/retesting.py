"""``stagecall run --failed-in LOG``: what did not pass there, and what is said where all did."""

from __future__ import annotations

import json
from pathlib import Path

from stagecall.cli.saying import say, tell
from stagecall.documents import Library
from stagecall.errors import ExitCode, UsageError
from stagecall.record import read
from stagecall.report.as_json import FORMAT
from stagecall.run.again import Again, again, lend


def left_in(log: str, library: Library) -> Again:
    """What a log leaves to be run again; the library lends what it does not hold from the log.

    Raises:
        LogError: it is no log, or cannot be read.
        UsageError: it holds no sequences.
    """
    reading = read(Path(log))
    left = again(reading, log)
    if reading.damage:
        say(f"{log} is damaged: what did not pass is told by what can be read of it.")
    if left.sequences and (lent := lend(library, left)):
        say(f"Not in the library, so taken as {log} holds it: {', '.join(lent)}.")
    return left


def all_passed(left: Again, log: str, *, as_json: bool) -> int:
    """Say that there is nothing to run.

    Raises:
        UsageError: a monitor did not pass, which no sequence alone can be run again for.
    """
    if left.monitors:
        raise UsageError(
            f"every sequence passed in {log}, but not the monitors that watched all of them: "
            f"{', '.join(left.monitors)}; run the sequences again without --failed-in"
        )
    said = f"Every sequence passed in {log}: nothing is left to run again."
    if as_json:
        result = {"stagecall": FORMAT, "result": "pass", "follows": left.header.run, "sequences": [], "said": said}
        tell(json.dumps(result, indent=2))
    else:
        tell(said)
    return ExitCode.PASSED
