"""What a sequence lets the compressor do, and what the guard makes of it."""

from __future__ import annotations

import pytest

from stagecall.model.event import Edge
from stagecall.rigs.guard import MINIMUM_OFF, STARTS_WINDOW, CompressorHistory
from stagecall.run.starts import compressor_starts
from whole.harness import made_ready

MIN = 60_000


@pytest.mark.parametrize(
    ("sequence", "starts"),
    [
        ("fan", 0),
        ("gas-heat-one-stage", 0),
        ("second-stage-alone", 1),
        ("cool-one-stage", 1),
        ("compressor-minimum-off", 2),
        ("low-pressure-trips", 2),
        ("pressure-lockout", 5),
    ],
)
def test_a_sequence_says_how_often_the_compressor_may_start(sequence: str, starts: int) -> None:
    assert compressor_starts(made_ready("two-stage-gas-cool", "full", (sequence,)).sequences[0]) == starts


@pytest.mark.parametrize(
    ("coming", "counts_from"),
    [(1, None), (2, None), (3, 0), (4, 1), (5, 2), (6, 3), (9, 3)],
)
def test_the_hour_is_waited_out_until_all_the_coming_starts_find_room_in_it(
    coming: int, counts_from: int | None
) -> None:
    history = CompressorHistory(0, 0, seen=True)
    for k in range(4):
        history.hear(Edge(t=k * 10 * MIN, e=k * 10 * MIN, point="compressor", state="on"))
        history.hear(Edge(t=(k * 10 + 5) * MIN, e=(k * 10 + 5) * MIN, point="compressor", state="off"))

    earliest, _ = history.earliest_start(coming)

    rested = 35 * MIN + MINIMUM_OFF
    assert earliest == (rested if counts_from is None else counts_from * 10 * MIN + STARTS_WINDOW)
