"""A board over Modbus: the same sequences through polled inputs, and what is refused beforehand."""

from __future__ import annotations

from datetime import UTC, datetime

import msgspec
import pytest

from rigs.polled_plant import KIT, SYSTEM, PolledPlant, polled_mockup
from stagecall.documents import Library
from stagecall.errors import ExitCode, RigLostError, UsageError
from stagecall.judge import Judge
from stagecall.model.event import AnyLine, Edge, Gap, Header, VerdictLine, earliest
from stagecall.model.verdict import Verdict
from stagecall.record import Log, read
from stagecall.rigs.clock import HandClock
from stagecall.rigs.contract import Move
from stagecall.rigs.guard import Guarded
from stagecall.rigs.modbus_rig import ModbusRig
from stagecall.rigs.registry import RigSpec, premises
from stagecall.run.ledger import Ledger
from stagecall.run.loop import Silent, turn
from stagecall.run.prepare import prepare
from stagecall.run.session import Session
from whole.harness import perform

LIBRARY = Library()


def spec(**other: object) -> RigSpec:
    system = LIBRARY.load("system", SYSTEM).document
    kit = LIBRARY.load("kit", KIT).document
    made = RigSpec(system=system, profiles=LIBRARY.profiles(system), kit=kit, where="port")
    return msgspec.structs.replace(made, **other)


def run(sequence: str, rig: ModbusRig, clock: HandClock) -> tuple[list[AnyLine], Session]:
    prepared = prepare(LIBRARY, system=SYSTEM, kit=KIT, sequences=(sequence,))
    header = Header(
        tool="0", run="modbus", start=datetime(2026, 1, 1, tzinfo=UTC).isoformat(), tested_on=rig.tested_on,
        rig=rig.name, system=SYSTEM, kit=KIT, source=rig.bounds,
    )  # fmt: skip
    log = Log.in_memory(header)
    session = Session(prepared, Ledger(log, Judge(), header))
    turn(session, Guarded(rig, premises(spec(), on_model=False)), Silent(), clock=clock)
    return list(read(log.contents()).lines), session


def verdicts(lines: list[AnyLine]) -> dict[str, VerdictLine]:
    return {
        line.id: line for line in lines if isinstance(line, VerdictLine) and line.of and line.id and not line.monitor
    }


@pytest.mark.parametrize("sequence", ["fan", "cool-one-stage", "gas-heat-one-stage", "pressure-switch-opens"])
def test_a_sequence_over_polled_inputs_comes_to_what_the_model_comes_to(sequence: str) -> None:
    rig, behind, clock = polled_mockup()

    polled, modelled = verdicts(run(sequence, rig, clock)[0]), verdicts(perform(SYSTEM, sequence, kit=KIT).lines)

    assert {name: line.verdict for name, line in polled.items()} == {n: line.verdict for n, line in modelled.items()}
    assert any(line.verdict is Verdict.PASS for line in polled.values())
    for name, line in polled.items():
        if line.observed and modelled[name].observed and line.unit == "time":
            slack = 2 * max(bounds.width for bounds in rig.bounds.points.values())
            assert line.observed.low - slack <= modelled[name].observed.high
            assert modelled[name].observed.low <= line.observed.high + slack
    assert not any(behind.closed)
    assert behind.let_go


def test_a_board_that_falls_silent_loses_the_run_and_the_log_says_so() -> None:
    rig, behind, clock = polled_mockup()
    behind.answers_until = 400_000

    lines, session = run("gas-heat-one-stage", rig, clock)

    assert session.lost is not None
    assert session.lost.exit_code == ExitCode.RIG_LOST
    assert any(isinstance(line, Gap) for line in lines)
    assert behind.let_go


def test_a_relay_that_does_not_move_loses_the_run() -> None:
    rig, behind, _ = polled_mockup()
    behind.relay = lambda _, *, closed: bool(closed)  # type: ignore[method-assign]

    with pytest.raises(RigLostError, match="relay 2 was told to close and did not"):
        rig._move(Move(calls=frozenset({"G"})))


def test_inputs_that_were_polled_too_late_leave_a_gap_and_no_edges() -> None:
    rig, _, clock = polled_mockup()
    rig._move(Move(calls=frozenset({"G"})))
    clock.sleep_ms(5_000)

    events = [event for _ in range(3) for event in rig._advance(0).events]

    assert [type(event) for event in events if isinstance(event, Gap | Edge)] == [Gap]
    gap = next(event for event in events if isinstance(event, Gap))
    assert gap.t - earliest(gap) >= 5_000


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ({"where": ""}, "say where the board is"),
        ({"kit": LIBRARY.load("kit", "full").document}, "does not say what hangs on which channel"),
        ({"kit": LIBRARY.load("kit", "bench-16").document}, "'board' has no 'modbus'"),
        ({"system": LIBRARY.load("system", "split-gas-cool").document}, "is for mockups alone"),
        ({"where": "/dev/there-is-no-such-port"}, "cannot be opened"),
    ],
)
def test_what_makes_no_sense_is_refused_before_anything_moves(change: dict[str, object], told: str) -> None:
    modbus = pytest.importorskip("stagecall.rigs.modbus", reason="pymodbus is not installed", exc_type=ImportError)

    with pytest.raises(UsageError, match=told):
        modbus.prepare(spec(**change))(0, (), drawn=False)


def test_a_polled_plant_answers_like_a_board() -> None:
    rig, behind, _ = polled_mockup()

    assert isinstance(behind, PolledPlant)
    assert behind.guarded
    assert rig.snapshot().points["limit"] == "closed"
