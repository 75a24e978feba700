"""``stagecall cover``: every fault against every sequence that applies, and what that says of the library."""

from __future__ import annotations

import json
import os
import sys
from concurrent.futures import Executor
from contextlib import AbstractContextManager, nullcontext
from pathlib import Path

import click
import msgspec

from stagecall.cli.saying import say, tell
from stagecall.documents import Library
from stagecall.errors import ExitCode, UsageError
from stagecall.report.cover import as_csv, as_object, drawn
from stagecall.report.matrix import as_page
from stagecall.report.page import columns_of
from stagecall.rigs.clock import Clock, SystemClock
from stagecall.run.cover import cover as computed
from stagecall.run.engines import engine
from stagecall.run.jobs import Task, carry_out, task
from stagecall.run.results import Results, Spent

ENOUGH_DRAWS = 300
"""Healthy machines from which on their range is taken for the whole of it."""


class Options(msgspec.Struct, frozen=True, kw_only=True):
    """What was asked for on the command line."""

    systems: tuple[str, ...] = ()
    sequences: tuple[str, ...] = ()
    kits: tuple[str, ...] = ()
    jobs: int | None = None
    draws: int = ENOUGH_DRAWS
    as_json: bool = False
    csv: str | None = None
    matrix: str | None = None
    on: str | None = None
    resume: str | None = None


def cover(options: Options, clock: Clock | None = None, executor: Executor | None = None) -> int:
    """Run what is still to be run, print the result, and give the exit code.

    *executor*: where the work is done; None: where the options say, or on as many processes as the machine has cores.

    Raises:
        StagecallError: what was asked for makes no sense, or a document is wrong.
        OSError: a file cannot be written.
    """
    clock = clock or SystemClock()
    if options.on is not None and options.jobs is not None:
        raise UsageError("--jobs is for processes of this machine; the workers of --on are as many as they are")
    place: AbstractContextManager[tuple[Executor, int]] = (
        engine(options.on, options.jobs or os.cpu_count() or 1) if executor is None else nullcontext((executor, 1))
    )
    wanted = task(Library(), options.systems, options.kits, options.sequences, options.draws)
    for asked in (options.csv, options.matrix):
        _can_be_put(asked)
    if not wanted.places:
        raise UsageError(
            "no chosen sequence applies to a chosen system; 'stagecall list --system SYSTEM' says which do"
        )
    path = Path(options.resume or f"cover-{wanted.digest[:8]}.results.jsonl")
    results = Results(wanted.digest, path)
    progress = Progress(wanted, results, clock)
    interrupted = False
    try:
        with place as (those, workers):
            began = clock.monotonic_ms()
            try:
                carry_out(wanted, results, those, workers, progress.told)
            finally:
                results.add(Spent((clock.monotonic_ms() - began) / 1000))
    except KeyboardInterrupt:
        interrupted = True
    finally:
        progress.done()
        results.close()
    if interrupted:
        say(f"Interrupted. What is done is kept in {path}; the same command goes on from there.")
        return ExitCode.INTERRUPTED
    if options.resume is None:
        say(f"The results of every run are kept in {path}.")
    if options.draws < ENOUGH_DRAWS:
        say(
            f"With {options.draws} healthy machines their range comes out too narrow, and more faults count as "
            f"detectable than are; take {ENOUGH_DRAWS} for figures to go by."
        )
    found = computed(results.healthy, results.tried, wanted.faults, results.seconds)
    if options.csv:
        _put(options.csv, as_csv(found))
    if options.matrix:
        _put(options.matrix, as_page(found))
    tell(json.dumps(as_object(found), indent=2) if options.as_json else drawn(found, sys.stdout))
    return ExitCode.FAILED if found.false_alarms else ExitCode.PASSED


def _can_be_put(asked: str | None) -> None:
    """Complain before the long work, not after it."""
    if asked is None:
        return
    folder = Path(asked).parent
    if not folder.is_dir():
        raise UsageError(f"{asked} cannot be written: there is no folder {folder}")
    if not os.access(asked if Path(asked).exists() else folder, os.W_OK):
        raise UsageError(f"{asked} cannot be written: permission denied")


def _put(asked: str, text: str) -> None:
    try:
        Path(asked).write_text(text, "utf-8")
    except OSError as error:
        raise OSError(error.errno, error.strerror, asked) from error


class Progress:
    """A bar on stderr with the rate and the time to go; nothing where stderr is no terminal."""

    def __init__(self, wanted: Task, results: Results, clock: Clock) -> None:
        self._all = wanted.runs
        self._before = self._done = len(results.tried) + sum(len(one.seeds) for one in results.healthy)
        self._clock = clock
        self._began = clock.monotonic_ms()
        self._shown = 0

    def told(self, runs: int) -> None:
        """So many runs more are done."""
        self._done += runs
        if sys.stderr.isatty():
            self._write(self.line(columns_of(sys.stderr) - 1))

    def line(self, columns: int) -> str:
        """``[#####     ] 1200 of 2400 runs, 180 a second, 7 s to go``; on a narrow terminal what matters most of it."""
        seconds = (self._clock.monotonic_ms() - self._began) / 1000
        share = self._done / self._all if self._all else 1.0
        bar = "#" * int(20 * share)
        text = f"{self._done} of {self._all} runs"
        short = text
        if seconds and self._done > self._before:
            rate = (self._done - self._before) / seconds
            to_go = f"{_span((self._all - self._done) / rate)} to go"
            text, short = f"{text}, {rate:.0f} a second, {to_go}", f"{text}, {to_go}"
        forms = (f"[{bar:<20}] {text}", f"[{bar:<20}] {short}", text, short)
        return next((form for form in forms if len(form) <= columns), short[:columns])

    def _write(self, text: str) -> None:
        click.echo("\r" + text.ljust(self._shown), nl=False, err=True)
        self._shown = len(text)

    def done(self) -> None:
        """Wipe the bar."""
        if self._shown:
            self._write("")
            click.echo("\r", nl=False, err=True)


def _span(seconds: float) -> str:
    return f"{seconds:.0f} s" if seconds < 100 else f"{seconds / 60:.0f} min"
