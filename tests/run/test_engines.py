"""Where the work of a cover run is done."""

from __future__ import annotations

import sys
from collections.abc import Iterator

import pytest

from stagecall.errors import UsageError
from stagecall.run.engines import engine
from stagecall.run.jobs import Inline


def test_one_process_is_this_one_and_more_are_others() -> None:
    with engine(None, 1) as (executor, workers):
        assert isinstance(executor, Inline)
        assert workers == 1
    with engine(None, 2) as (executor, workers):
        assert executor.submit(pow, 2, 5).result() == 32
        assert workers == 2


def test_another_kind_of_engine_is_told() -> None:
    with pytest.raises(UsageError, match="dask://HOST:PORT"), engine("ray://here", 1):
        pass


def test_without_dask_it_is_told_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "distributed", None)

    with pytest.raises(UsageError, match=r"pip install 'stagecall\[dask\]'"), engine("dask://localhost:8786", 1):
        pass


@pytest.fixture(scope="module")
def scheduler() -> Iterator[str]:
    distributed = pytest.importorskip("distributed", reason="Dask is not installed: pip install 'stagecall[dask]'")
    with distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None, host="127.0.0.1"
    ) as cluster:
        yield cluster.scheduler_address.replace("tcp://", "dask://")


@pytest.mark.thorough
def test_two_dask_workers_do_the_same_work(
    scheduler: str, capsys: pytest.CaptureFixture[str], tmp_path_factory: pytest.TempPathFactory
) -> None:
    import json  # noqa: PLC0415

    from stagecall.cli import main  # noqa: PLC0415

    folder = tmp_path_factory.mktemp("cover")
    small = ("cover", "--system", "cooling-only", "--sequence", "fan", "--kit", "full", "--draws", "60", "--json")
    answers = []
    for where in (("--on", scheduler), ("--jobs", "1")):
        code = main([*small, *where, "--resume", str(folder / f"{where[0]}.jsonl")])
        answer = json.loads(capsys.readouterr().out)
        answers.append((code, {key: value for key, value in answer.items() if key != "seconds"}))

    assert answers[0] == answers[1]
    assert answers[0][1]["runs"] > 100


@pytest.mark.thorough
def test_a_scheduler_that_is_not_there_is_told_and_leaves_nothing(
    scheduler: str, capsys: pytest.CaptureFixture[str], tmp_path_factory: pytest.TempPathFactory
) -> None:
    from stagecall.cli import main  # noqa: PLC0415

    kept = tmp_path_factory.mktemp("cover") / "kept.jsonl"
    nobody = f"{scheduler.rpartition(':')[0]}:1"

    code = main(["cover", "--system", "cooling-only", "--sequence", "fan", "--on", nobody, "--resume", str(kept)])

    assert code == 2
    assert "no Dask scheduler answers" in capsys.readouterr().err
    assert not kept.exists()
