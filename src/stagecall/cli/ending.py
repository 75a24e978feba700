"""How the program ends: each error becomes one clear message on stderr and an exit code; a traceback never."""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence
from contextlib import suppress

import click

from stagecall.cli.saying import forget_stdout, say
from stagecall.errors import DocumentError, ExitCode, StagecallError


def ended(arguments: Sequence[str] | None = None) -> int:
    """Run a command to its end and give its exit code."""
    try:
        _any_encoding()
        return _run(arguments)
    except (Exception, KeyboardInterrupt) as error:
        if os.environ.get("STAGECALL_TRACEBACK"):
            raise
        message, code = _in_words(error)
        say(message)
        return code


def _in_words(error: BaseException) -> tuple[str, ExitCode]:
    code = ExitCode.BAD_INPUT
    match error:
        case DocumentError():
            message = str(error)
        case StagecallError():
            message, code = f"stagecall: {error}", error.exit_code
        case click.ClickException():
            message = f"stagecall: {error.format_message()}"
            if isinstance(error, click.UsageError) and error.ctx is not None:
                message += f"\nTry '{error.ctx.command_path} --help'."
        case KeyboardInterrupt() | click.Abort():
            message, code = "Interrupted.", ExitCode.INTERRUPTED
        case OSError():
            forget_stdout()
            message = f"stagecall: {_of_the_machine(error)}"
        case _:
            message = (
                f"stagecall: a fault in Stagecall itself, not in what you gave it: {type(error).__name__}: {error}. "
                "Set STAGECALL_TRACEBACK=1 to see where, and please report it."
            )
    return message, code


def _run(arguments: Sequence[str] | None) -> int:
    from stagecall.cli.commands import stagecall  # noqa: PLC0415 - inside the net

    try:
        code = stagecall.main(arguments, prog_name="stagecall", standalone_mode=False)
    except SystemExit:  # click's own way out where the reader of a help text has gone away
        return ExitCode.PASSED
    return int(code or 0)


def _of_the_machine(error: OSError) -> str:
    """``FILE: what is wrong``, or that the output could not be written."""
    why = error.strerror or str(error)
    return f"{error.filename}: {why}" if error.filename else f"the output cannot be written: {why}"


def _any_encoding() -> None:
    """A terminal that knows no ``°`` shows a ``?``."""
    for stream in (sys.stdout, sys.stderr):
        with suppress(AttributeError, ValueError):
            stream.reconfigure(errors="replace")  # type: ignore[union-attr]
