"""However a run on a board ends: heat goes first, the blower stays for hot elements where there is time, then goes."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import pytest
from board_rigs import Mockup, mockup, spec
from board_runs import Ended, Listener, perform, ready, written
from core_link import CoreLink
from native_core import Core

from stagecall.errors import LogWriteError
from stagecall.model.event import AnyLine, Call
from stagecall.rigs.contract import Move
from stagecall.rigs.frames import opened
from stagecall.rigs.guard.order import ELEMENTS_OFF_DELAY
from stagecall.run.prepare import Prepared

SYSTEM, KIT = "heat-pump-strips-o", "bench-16-heat-pump"
STRIPS = """
sequence: short
title: Strips and blower
purpose: Something with hot elements
group: aux
needs: {calls: [W1, G]}
steps:
  - step: Call the strips
    call: [W1, G]
    lasts: 20 s
    expect:
      - never: [{compressor: on}]
"""


@pytest.fixture(scope="module")
def strips(tmp_path_factory: pytest.TempPathFactory) -> Prepared:
    return ready(written(tmp_path_factory.mktemp("strips"), STRIPS), system=SYSTEM, kit=KIT)


@pytest.fixture
def made(core: Core, monkeypatch: pytest.MonkeyPatch) -> Iterator[Mockup]:
    commands: list[str] = []
    send = CoreLink.send

    def listening(link: CoreLink, data: bytes) -> None:
        frame = opened(data[:-1])
        if frame is not None and frame.body.startswith(("ROUT", "OUTP")):
            commands.append(frame.body)
        send(link, data)

    monkeypatch.setattr(CoreLink, "send", listening)
    one = mockup(core, spec(SYSTEM, KIT))
    one.link.commands = commands  # type: ignore[attr-defined]
    yield one
    assert core.closed() == set()


class Ending(Listener):
    """Something happens once both calls stand."""

    def __init__(self, happen: Callable[[], None]) -> None:
        super().__init__(self._look)
        self._happen, self._on = happen, 0
        self.broken_off = False

    def _look(self, line: AnyLine) -> None:
        self._on += isinstance(line, Call) and line.state == "on"
        if self._on == 2:
            self._on = 3
            self._happen()

    def interrupted(self) -> bool:
        return self.broken_off


def calls_off(ended: Ended) -> dict[str, int]:
    return {line.terminal: line.t for line in ended.replayed() if isinstance(line, Call) and line.state == "off"}


def test_at_the_end_the_blower_outlasts_the_strips(made: Mockup, strips: Prepared) -> None:
    off = calls_off(perform(made.rig, strips, spec(SYSTEM, KIT)))

    assert off["G"] - off["W1"] >= ELEMENTS_OFF_DELAY


def test_broken_off_the_blower_outlasts_the_strips(made: Mockup, strips: Prepared) -> None:
    listener = Ending(lambda: setattr(listener, "broken_off", True))
    ended = perform(made.rig, strips, spec(SYSTEM, KIT), listener)

    assert ended.session.interrupted
    assert calls_off(ended)["G"] - calls_off(ended)["W1"] >= ELEMENTS_OFF_DELAY


def test_after_lost_events_the_blower_outlasts_the_strips(made: Mockup, strips: Prepared) -> None:
    def lose() -> None:
        made.link.losing_events = True
        made.core.live(12, live=True)

    ended = perform(made.rig, strips, spec(SYSTEM, KIT), Ending(lose))

    assert "events were lost" in ended.lost
    assert calls_off(ended)["G"] - calls_off(ended)["W1"] >= ELEMENTS_OFF_DELAY


def test_a_full_disk_drops_heat_first_and_all_the_rest_at_once(made: Mockup, strips: Prepared) -> None:
    def full() -> None:
        raise LogWriteError("the disk is full")

    with pytest.raises(LogWriteError):
        perform(made.rig, strips, spec(SYSTEM, KIT), Ending(full))

    board = made.rig._channels.board
    heat, blower = f"ROUT:OPEN (@{board.calls['W1']})", f"ROUT:OPEN (@{board.calls['G']})"
    commands = made.link.commands  # type: ignore[attr-defined]
    assert commands.index(heat) < commands.index(blower) < commands.index("OUTP OFF")


def test_a_rig_that_is_let_go_with_calls_standing_drops_heat_first(made: Mockup) -> None:
    made.rig.snapshot()
    made.rig._move(Move(calls=frozenset({"W1", "G"})))
    made.rig.close()

    commands = made.link.commands  # type: ignore[attr-defined]
    heat = ",".join(str(made.rig._channels.board.calls[call]) for call in ("W1", "W2", "E"))
    assert commands[-3:] == [f"ROUT:OPEN (@{heat})", "ROUT:OPEN:ALL", "OUTP OFF"]
