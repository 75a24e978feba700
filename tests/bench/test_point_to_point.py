"""Point to point: a bench wired as its kit says passes, and any two leads that are crossed fail, both by name."""

from __future__ import annotations

from itertools import combinations

import msgspec
import pytest
from board_rigs import KIT, SYSTEM, spec, watched, wired
from board_runs import Ended, Listener, perform
from core_link import CoreLink
from native_core import Core

from stagecall.documents import Library, parse
from stagecall.model.event import AnyLine, Question, VerdictLine
from stagecall.model.sequence import Sequence
from stagecall.model.verdict import Verdict
from stagecall.rigs.board import open_board
from stagecall.rigs.channels import channels
from stagecall.run.point_to_point import NAME, telling, unchecked, written
from stagecall.run.prepare import prepare

WIRES = {"wire_Y1": 1, "wire_G": 3, "wire_W1": 4}
"""The relays behind the call wires of the mockup's terminals."""


def checked(core: Core, crossed: tuple[str, str] = ("", ""), *, attended: bool = False) -> Ended:
    """Run the check on a bench on which the input leads of two points are crossed."""
    library, wanted = Library(), spec()
    wanted = msgspec.structs.replace(wanted, kit=telling(wanted.kit))
    board = wanted.kit.board
    assert board is not None
    text = written(wanted.kit, wanted.system.control.terminals, attended=attended)
    library.lend("sequence", NAME, parse(Sequence, text.encode(), f"{NAME}.yaml"))
    leads = dict(board.inputs)
    one, other = crossed
    if one:
        leads[one], leads[other] = leads[other], leads[one]
    for call, relay in board.calls.items():
        core.wire(relay, leads[f"wire_{call}"])
    for switch, relay in board.opens.items():
        if switch in ("limit", "rollout"):
            core.wire(relay, leads[switch])
    core.wire(board.power, leads["wire_R"])
    link = watched(CoreLink(core), wanted)
    rig = open_board(link, channels(wanted.kit, wanted.system.control.valve), wanted, runs_ahead=True)
    prepared = prepare(library, system=SYSTEM, kit=KIT, sequences=(NAME,))
    listener = _Holder(core, board.inputs) if attended else Listener()
    return perform(rig, prepared, wanted, listener)


class _Holder(Listener):
    """The person who holds each lead to R, and puts it back."""

    def __init__(self, core: Core, inputs: dict[str, int]) -> None:
        self._core, self._inputs = core, inputs
        super().__init__(self._hold)

    def _hold(self, line: AnyLine) -> None:
        step = getattr(line, "step", "")
        if getattr(line, "phase", "") != "begin" or "lead-of-input" not in step:
            return
        number = int(step.split("input-")[1].split("-")[0])
        self._core.live(number, live=step.startswith("lift"))


def failed(ended: Ended) -> set[str]:
    return {line.id for line in ended.of(VerdictLine) if line.id and line.of == NAME and line.verdict is Verdict.FAIL}


def test_a_bench_wired_as_its_kit_says_passes(core: Core) -> None:
    ended = checked(core)

    assert ended.lost == ""
    whole = next(line for line in ended.of(VerdictLine) if line.of == NAME and not line.id)
    assert failed(ended) == set()
    assert whole.verdict is Verdict.NOT_VERIFIED
    assert all("is its circuit open?" in line.text for line in ended.of(Question))


@pytest.mark.parametrize("crossed", list(combinations([*WIRES, "limit", "rollout"], 2)))
def test_two_leads_that_are_crossed_fail_and_no_relay_is_left_closed(core: Core, crossed: tuple[str, str]) -> None:
    ended = checked(core, crossed)

    assert ended.lost == ""
    for name in crossed:
        assert any(name.removeprefix("wire_").lower() in step for step in failed(ended))
    assert core.closed() <= {9, 10, 11, 12, 13}


def test_an_input_that_no_relay_drives_is_held_by_a_person(core: Core) -> None:
    ended = checked(core, attended=True)

    lifted = {line.id for line in ended.of(VerdictLine) if line.of == NAME and line.id.startswith("lift-the-lead")}
    assert len(lifted) == len(unchecked(spec().kit))
    assert failed(ended) == set()


def test_a_mockup_of_other_terminals_is_checked_by_what_it_has() -> None:
    text = written(spec().kit, ("R", "C", "W1"), attended=False)

    assert "wire_W1" in text
    assert "wire_Y1" not in text


def test_the_wiring_of_the_tests_is_that_of_the_kit(core: Core) -> None:
    wired(core, spec())
    board = spec().kit.board
    assert board is not None
    assert {f"wire_{name}": relay for name, relay in board.calls.items() if f"wire_{name}" in WIRES} == WIRES
