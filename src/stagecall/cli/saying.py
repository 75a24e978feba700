"""The two ways out, stdout for the result and stderr for all else, and the exit code that a verdict means."""

from __future__ import annotations

import os
import sys
from contextlib import suppress

import click

from stagecall.errors import ExitCode
from stagecall.model.verdict import Verdict
from stagecall.report.page import printable


def say(message: str) -> None:
    """One message on stderr, whatever becomes of stderr."""
    with suppress(OSError, ValueError):
        click.echo("\n".join(map(printable, message.splitlines())), err=True)


def tell(text: str) -> None:
    """The result on stdout. A reader that has gone away (``| head``) is no error, and the exit code stays.

    Raises:
        OSError: the output cannot be written, as on a full disk.
    """
    try:
        click.echo(text, nl=not text.endswith("\n"), color=True)
    except BrokenPipeError:
        forget_stdout()


def forget_stdout() -> None:
    """What is still buffered goes nowhere, so that the interpreter has nothing to complain of when it ends."""
    with suppress(OSError, ValueError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def code_of(verdict: Verdict) -> ExitCode:
    """The exit code of a run that came to its end."""
    match verdict:
        case Verdict.FAIL:
            return ExitCode.FAILED
        case Verdict.PASS | Verdict.EXCEPTED:
            return ExitCode.PASSED
        case _:
            return ExitCode.NOT_VERIFIED
