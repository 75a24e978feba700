"""Results kept in a file: what is done is not done again."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import Executor, Future
from pathlib import Path
from typing import Any

import pytest

from stagecall.documents import Library
from stagecall.errors import UsageError
from stagecall.run.jobs import Inline, carry_out, fault_jobs, healthy_jobs, task
from stagecall.run.results import Results, Spent, Tried
from stagecall.run.trial import Done

TASK = task(Library(), ["cooling-only"], ["full"], ["fan"], draws=30)


class BrokenOff(Executor):
    """Ctrl-C comes after so many jobs."""

    def __init__(self, after: int) -> None:
        self._after = after

    def submit(self, fn: Callable[..., Done], /, *args: Any, **kwargs: Any) -> Future[Done]:
        if not self._after:
            raise KeyboardInterrupt
        self._after -= 1
        return Inline().submit(fn, *args, **kwargs)


def contents(results: Results) -> tuple[Any, ...]:
    healthy = sorted(results.healthy, key=lambda one: one.seeds)
    return results.envelopes, sorted(results.tried, key=lambda one: one.fault), healthy


def test_broken_off_at_any_job_it_goes_on_from_there_and_comes_to_the_same(tmp_path: Path) -> None:
    whole = Results(TASK.digest)
    carry_out(TASK, whole, Inline(), 1)
    jobs = len([*healthy_jobs(TASK, Results(TASK.digest)), *fault_jobs(TASK, Results(TASK.digest))])

    for after in range(jobs):
        path = tmp_path / f"{after}.jsonl"
        first = Results(TASK.digest, path)
        with pytest.raises(KeyboardInterrupt):
            carry_out(TASK, first, BrokenOff(after), 1)
        first.close()
        heard: list[int] = []
        second = Results(TASK.digest, path)
        before = len(second.tried) + sum(len(one.seeds) for one in second.healthy)
        carry_out(TASK, second, Inline(), 1, heard.append)
        second.close()

        assert contents(second) == contents(whole)
        assert before + sum(heard) == TASK.runs
        assert contents(Results(TASK.digest, path)) == contents(whole)


def test_a_torn_last_line_is_dropped(tmp_path: Path) -> None:
    path = tmp_path / "results.jsonl"
    first = Results("a", path)
    first.add(Spent(2.0))
    first.close()
    path.write_bytes(path.read_bytes() + b'[123,{"k":"spent","sec')

    second = Results("a", path)
    second.add(Spent(3.0))
    second.close()

    assert Results("a", path).seconds == 5.0


def test_results_of_something_else_are_refused(tmp_path: Path) -> None:
    path = tmp_path / "results.jsonl"
    results = Results("a", path)
    results.add(Spent(1.0))
    results.close()

    with pytest.raises(UsageError, match="results of another program, library or choice"):
        Results("b", path)
    path.write_text("fault,system\n")
    with pytest.raises(UsageError, match="not a line of results"):
        Results("a", path)


@pytest.mark.parametrize(
    "held", [b"precious", b"precious\nand more", b"\x00\xff", b"{}\n", b'[1,{"k":"cover"', b"\n\nx"]
)
def test_a_file_that_holds_something_else_is_refused_and_left_as_it_is(tmp_path: Path, held: bytes) -> None:
    path = tmp_path / "results.jsonl"
    path.write_bytes(held)

    with pytest.raises(UsageError, match=r"results\.jsonl:1: not a line of results"):
        Results("a", path)

    assert path.read_bytes() == held


def test_a_byte_that_changed_anywhere_is_told_with_its_line_and_the_file_left_as_it_is(tmp_path: Path) -> None:
    path = tmp_path / "results.jsonl"
    results = Results("a", path)
    results.add(Tried(system="s", kit="k", sequence="q", fault="f", failures=(), left=("blower",)))
    results.add(Spent(2.0))
    results.close()
    whole = path.read_bytes()

    for at, byte in enumerate(whole[:-1]):
        damaged = whole[:at] + bytes([byte ^ 1]) + whole[at + 1 :]
        path.write_bytes(damaged)
        with pytest.raises(UsageError, match=r"results\.jsonl:\d+: not a line of results"):
            Results("a", path)
        assert path.read_bytes() == damaged


def test_broken_off_at_any_byte_what_was_whole_is_kept(tmp_path: Path) -> None:
    path = tmp_path / "results.jsonl"
    results = Results("a", path)
    results.add(Spent(2.0))
    results.close()
    whole = path.read_bytes()

    for length in range(len(whole)):
        path.write_bytes(whole[:length])
        again = Results("a", path)
        again.add(Spent(3.0))
        again.close()
        assert Results("a", path).seconds == 3.0


def test_another_choice_is_another_task() -> None:
    others = [
        task(Library(), ["cooling-only"], ["full"], ["fan"], draws=31),
        task(Library(), ["cooling-only"], ["board-24v"], ["fan"], draws=30),
        task(Library(), ["cooling-only"], ["full"], ["at-rest"], draws=30),
    ]

    assert len({TASK.digest, *(one.digest for one in others)}) == 4
    assert TASK.digest == task(Library(), ["cooling-only"], ["full"], ["fan"], draws=30).digest
