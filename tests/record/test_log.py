"""What is written is what is read."""

from pathlib import Path

from stagecall.model.event import AnyLine, Edge, Header, SourceBounds
from stagecall.record import Log, read


def header() -> Header:
    return Header(
        tool="0.1.0",
        run="2026-01-02-a",
        start="2026-01-02T03:04:05+01:00",
        tested_on="model",
        rig="simulated",
        system="split",
        kit="board",
        source=SourceBounds(),
    )


def write(log: Log, lines: list[AnyLine]) -> list[AnyLine]:
    return [log.append(line) for line in lines]


def test_a_closed_log_reads_back_whole(tmp_path: Path) -> None:
    path = tmp_path / "a.run.jsonl"
    log = Log.create(path, header())
    written = [log.header, *write(log, [Edge(t=5, e=3, point="blower", state="on")])]
    digest = log.close()

    reading = read(path)
    lines = list(reading.lines)

    assert lines[:-1] == written
    assert (reading.complete, reading.damage, reading.digest, reading.count) == (True, [], digest, 3)
