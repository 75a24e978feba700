"""The commands. The only room that prints or exits."""

from __future__ import annotations

from collections.abc import Sequence

__all__ = ["main"]


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the program with these arguments (None: the process's own) and give its exit status."""
    try:
        from stagecall.cli.ending import ended  # noqa: PLC0415 - so that an early Ctrl-C is caught too

        return ended(arguments)
    except KeyboardInterrupt:
        return 130
