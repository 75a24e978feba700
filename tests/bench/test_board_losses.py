"""What a run on a board does when something breaks: everything off, and a log that says what happened."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from board_rigs import Mockup, mockup, spec
from board_runs import SHORT, Ended, Listener, perform, ready, written
from native_core import Core

from stagecall.errors import RigLostError, UsageError
from stagecall.model.event import AnyLine, Call, Gap, Note, Snapshot
from stagecall.run.prepare import Prepared

LONG = SHORT.replace("100 ms", "20 s")
SILENCE_US = 1_000_000
"""By then the board has opened everything by itself."""


@pytest.fixture(scope="module")
def short(tmp_path_factory: pytest.TempPathFactory) -> Prepared:
    return ready(written(tmp_path_factory.mktemp("short")))


@pytest.fixture(scope="module")
def long(tmp_path_factory: pytest.TempPathFactory) -> Prepared:
    return ready(written(tmp_path_factory.mktemp("long"), LONG))


def during_the_call(happen: Callable[[], None]) -> Listener:
    """Something happens once the fan's call stands."""

    def at(line: AnyLine) -> None:
        if isinstance(line, Call) and line.state == "on":
            happen()

    return Listener(at)


def notes(ended: Ended) -> str:
    return "\n".join(line.text for line in ended.replayed() if isinstance(line, Note))


def after_a_second(made: Mockup) -> set[int]:
    """The relays that are closed once the board has heard nothing for a second."""
    passed = 0
    while passed < SILENCE_US:
        passed += max(1, made.core.listen(SILENCE_US - passed)[1])
    return made.core.closed()


def test_a_short_run_comes_to_its_end(core: Core, short: Prepared) -> None:
    made = mockup(core)
    ended = perform(made.rig, short, spec())

    assert ended.lost == ""
    assert [(line.terminal, line.state) for line in ended.replayed() if isinstance(line, Call)] == [
        ("G", "on"), ("G", "off"),
    ]  # fmt: skip
    assert core.closed() == set()
    assert made.link.closed


def cut(core: Core, short: Prepared, left: int) -> None:
    try:
        made = mockup(core, left=left)
    except (RigLostError, UsageError):
        assert core.closed() == set()
        return
    ended = perform(made.rig, short, spec())
    assert ("Rig lost" in notes(ended)) == bool(ended.lost)
    assert ended.lost or made.link.left == 0  # cut while it let go of the board, after all was off
    assert after_a_second(made) == set()


def whole_length(core: Core, short: Prepared) -> int:
    """How many bytes a whole run moves, either way."""
    made = mockup(core, left=10**9)
    perform(made.rig, short, spec())
    assert made.link.left is not None
    return 10**9 - made.link.left


def test_a_line_cut_after_any_byte_leaves_nothing_on_and_a_whole_log(
    core_from: Callable[[int], Core], short: Prepared
) -> None:
    length = whole_length(core_from(0), short)

    for left in range(0, length, 47):
        cut(core_from(0), short, left)


@pytest.mark.thorough
def test_a_line_cut_after_each_byte_leaves_nothing_on_and_a_whole_log(
    core_from: Callable[[int], Core], short: Prepared
) -> None:
    length = whole_length(core_from(0), short)

    for left in range(length):
        cut(core_from(0), short, left)


def test_broken_off_at_any_line_every_call_is_seen_to_go(core_from: Callable[[int], Core], short: Prepared) -> None:
    whole = perform(mockup(core_from(0)).rig, short, spec()).lines
    first = next(n for n, line in enumerate(whole) if isinstance(line, Snapshot))

    for number in range(first, len(whole)):
        made = mockup(core_from(0))
        ended = perform(made.rig, short, spec(), Impatient(number))
        calls = [line.state for line in ended.replayed() if isinstance(line, Call)]
        assert calls in ([], ["on", "off"]), whole[number]
        assert made.core.closed() == set()


class Impatient(Listener):
    """Breaks off once so many lines have been written."""

    def __init__(self, after: int) -> None:
        super().__init__()
        self._after = after

    def interrupted(self) -> bool:
        return len(self.lines) > self._after


@pytest.mark.parametrize("cause", [0, 1, 2, 3])
def test_a_board_that_starts_anew_ends_the_run(core: Core, long: Prepared, cause: int) -> None:
    made = mockup(core)
    ended = perform(made.rig, long, spec(), during_the_call(lambda: core.restart(cause)))

    assert "started anew" in ended.lost
    assert ended.lost in notes(ended)
    assert [line.state for line in ended.of(Call)] == ["on", "off"]
    assert [line.because for line in ended.of(Gap)][:1] == [ended.lost]
    assert core.closed() == set()


def test_a_host_that_stands_still_finds_everything_open_and_says_why(core: Core, long: Prepared) -> None:
    made = mockup(core)
    ended = perform(made.rig, long, spec(), during_the_call(lambda: made.link.stand_still(1_200_000)))

    assert "heard nothing for 0.95 s" in ended.lost
    assert [line.state for line in ended.of(Call)] == ["on", "off"]
    assert core.closed() == set()


def test_a_board_that_says_nothing_more_ends_the_run(core: Core, long: Prepared) -> None:
    made = mockup(core)
    ended = perform(made.rig, long, spec(), during_the_call(made.link.fall_silent))

    assert "gives no answer" in ended.lost
    assert "All calls off was not carried out" in notes(ended)
    assert after_a_second(made) == set()


def test_one_damaged_line_is_asked_again_and_changes_nothing(core: Core, long: Prepared) -> None:
    made = mockup(core)
    ended = perform(made.rig, long, spec(), during_the_call(lambda: made.link.damage_next(1)))

    assert ended.lost == ""


def test_a_line_that_damages_more_than_one_command_a_minute_is_not_run_on(core: Core, long: Prepared) -> None:
    made = mockup(core)
    ended = perform(made.rig, long, spec(), during_the_call(lambda: made.link.damage_next(2)))

    assert "too noisy" in ended.lost
    assert [line.state for line in ended.of(Call)] == ["on", "off"]
    assert core.closed() == set()


def test_lost_events_are_a_gap_and_end_a_run_that_makes_calls(core: Core, long: Prepared) -> None:
    made = mockup(core)

    def lose() -> None:
        made.link.losing_events = True
        core.live(12, live=True)

    ended = perform(made.rig, long, spec(), during_the_call(lose))

    (gap, *_), snapshots = ended.of(Gap), ended.of(Snapshot)
    assert gap.because == "1 events were lost on the line"
    assert snapshots[-1].points["pressure_switch"] == "closed"
    assert [line.state for line in ended.of(Call)] == ["on", "off"]
    assert core.closed() == set()


def test_another_program_that_opens_everything_ends_the_run(core: Core, long: Prepared) -> None:
    made = mockup(core)
    ended = perform(made.rig, long, spec(), during_the_call(lambda: made.link.intrude("STOP")))

    assert "told to by another program" in ended.lost
    assert [line.state for line in ended.of(Call)] == ["on", "off"]


def test_another_program_that_takes_the_set_up_away_ends_the_run(core: Core, long: Prepared) -> None:
    made = mockup(core)
    ended = perform(made.rig, long, spec(), during_the_call(lambda: made.link.intrude("*RST")))

    assert "another program uses it" in ended.lost
    assert core.closed() == set()


def test_a_welded_relay_stops_the_board_and_ends_the_run(core: Core, long: Prepared) -> None:
    made = mockup(core)
    core.fault("stuck-relay=3")
    ended = perform(made.rig, long, spec())

    assert "a welded relay, or another control that calls" in ended.lost
    assert "the call wire of G is live with its relay open" in notes(ended)
    assert core.closed() == set()


def test_a_relay_that_never_conducts_is_told(core: Core, long: Prepared) -> None:
    made = mockup(core)
    core.fault("open-relay=3")
    ended = perform(made.rig, long, spec())

    assert "the call wire of G has stayed dead with its relay closed" in notes(ended)
