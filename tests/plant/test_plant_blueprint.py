from __future__ import annotations

from typing import Any

import msgspec
import pytest
from traced import LIBRARY, MIN, Traced, profile, system

from stagecall.errors import UsageError
from stagecall.model.equipment import Equipment, Parameter
from stagecall.model.system import System
from stagecall.plant import blueprint
from stagecall.units import Quantity, parse_quantity, parse_spread

SPLIT = system("split-gas-cool")
UNIT = profile("condensing-unit-one-stage")


def changed(equipment: Equipment, part: str, **parameters: Parameter | None) -> Equipment:
    """That profile with parameters of one part set (or, None, left out)."""
    old = equipment.parts[part]
    kept = {name: value for name, value in {**old.parameters, **parameters}.items() if value is not None}
    return msgspec.structs.replace(
        equipment, parts={**equipment.parts, part: msgspec.structs.replace(old, parameters=kept)}
    )


def given(typical: str, spread: Any = None) -> Parameter:
    try:
        value: Quantity | str = parse_quantity(typical)
    except ValueError:
        value = typical
    return Parameter(typical=value, range=spread, source="made up")


def complaint(*, unit: Equipment = UNIT, of: System = SPLIT) -> str:
    profiles = LIBRARY.profiles(SPLIT) | {"condensing-unit-one-stage": unit}
    with pytest.raises(UsageError) as raised:
        blueprint(of, profiles)
    return str(raised.value)


def wired(a: str, b: str) -> Equipment:
    return msgspec.structs.replace(UNIT, wiring=(*UNIT.wiring, (a, b)))


def conductor(**ends: str) -> System:
    first = msgspec.structs.replace(SPLIT.conductors[0], **ends)
    return msgspec.structs.replace(SPLIT, conductors=(first, *SPLIT.conductors[1:]))


def set_to(**settings: str) -> System:
    values = {key.replace("__", "."): given(value).typical for key, value in settings.items()}
    condenser = msgspec.structs.replace(SPLIT.equipment["condenser"], settings=values)
    return msgspec.structs.replace(SPLIT, equipment={**SPLIT.equipment, "condenser": condenser})


def kind(word: str) -> Equipment:
    part = msgspec.structs.replace(UNIT.parts["board"], kind=word)
    return msgspec.structs.replace(UNIT, parts={**UNIT.parts, "board": part})


CASES = [
    ({"unit": kind("compressor_bord")},
     "condenser.board: the model has no 'compressor_bord'; did you mean 'compressor_board'?"),
    ({"unit": changed(UNIT, "contactor", pickup=given("17 V"))},
     "condenser.contactor (contactor) has no 'pickup'; did you mean 'pick_up'?"),
    ({"unit": changed(UNIT, "contactor", pick_up=None)},
     "condenser.contactor (contactor) lacks the parameter pick_up"),
    ({"unit": changed(UNIT, "contactor", pick_up=given("17 s"))},
     "condenser.contactor.pick_up: '17 s' is not a voltage (such as 24 V)"),
    ({"unit": changed(UNIT, "contactor", contacts=given("wleded"))},
     "condenser.contactor.contacts: 'wleded' is not one of free, welded, stuck_open"),
    ({"unit": changed(UNIT, "contactor", pick_up=given("17 V", parse_spread("15 V..")))},
     "condenser.contactor.pick_up: the range 15 V.. needs both ends"),
    ({"unit": changed(UNIT, "contactor", contacts=given("free", parse_spread("1..2 V")))},
     "condenser.contactor.contacts: '1..2 V' is a range of numbers; write some of free, welded, stuck_open"),
    ({"unit": wired("board.X", "R")}, "condenser.board has no 'X'"),
    ({"unit": wired("bord.Y", "R")}, "condenser (condensing-unit-one-stage) has no 'bord'; did you mean 'board'?"),
    ({"unit": wired("Q", "R")}, "condenser (condensing-unit-one-stage) has no 'Q'"),
    ({"unit": wired("R", "contactor.load")}, "condenser: R (control) cannot be joined to contactor.load (line)"),
    ({"unit": msgspec.structs.replace(UNIT, points={"compresor": {"amps": "compressor"}})},
     "condenser: the vocabulary of points has no 'compresor'; did you mean 'compressor'?"),
    ({"unit": msgspec.structs.replace(UNIT, points={"compressor": {"amps": "compresser"}})},
     "condenser (condensing-unit-one-stage) has no 'compresser'; did you mean 'compressor'?"),
    ({"unit": msgspec.structs.replace(UNIT, points={"compressor": {"amps": "compressor.line"}})},
     "condenser: compressor.line is no terminal of the 24 V circuit"),
    ({"of": conductor(start="control.Y9")}, "conductor thermostat-R: the system has no 'control.Y9'"),
    ({"of": set_to(board__compresor_minimum_off="3 min")},
     "condenser.board (compressor_board) has no 'compresor_minimum_off'; did you mean 'compressor_minimum_off'?"),
    ({"of": set_to(bord__timer="missing")}, "system split-gas-cool has no 'condenser.bord'"),
]  # fmt: skip


@pytest.mark.parametrize(("wrong", "message"), CASES)
def test_what_does_not_fit_is_told_with_the_nearest_known_word(wrong: dict[str, Any], message: str) -> None:
    assert complaint(**wrong).startswith(message)


def test_an_unknown_profile_is_told() -> None:
    with pytest.raises(UsageError, match=r"furnace: the library of equipment has no 'gas-furnace-one-stage'"):
        blueprint(SPLIT, {"condensing-unit-one-stage": UNIT})


def test_a_load_that_nothing_feeds_is_told_when_a_plant_is_built() -> None:
    bare = msgspec.structs.replace(UNIT, wiring=tuple(pair for pair in UNIT.wiring if "compressor.line" not in pair))
    plan = blueprint(SPLIT, LIBRARY.profiles(SPLIT) | {"condensing-unit-one-stage": bare})
    with pytest.raises(UsageError, match=r"nothing feeds condenser.compressor.line"):
        Traced(on=plan)


def test_a_kind_that_is_joined_to_nothing_it_needs_is_told() -> None:
    wiring = tuple(pair for pair in UNIT.wiring if "compressor.shaft" not in pair)
    plan = blueprint(
        SPLIT, LIBRARY.profiles(SPLIT) | {"condensing-unit-one-stage": msgspec.structs.replace(UNIT, wiring=wiring)}
    )
    with pytest.raises(UsageError, match=r"condenser.circuit.compressor is joined to no InductionMotor"):
        Traced(on=plan)


def test_an_unknown_gauge_and_length_are_taken_as_the_usual_cable() -> None:
    unknown = tuple(msgspec.structs.replace(one, gauge=None, length=None) for one in SPLIT.conductors)
    plan = blueprint(msgspec.structs.replace(SPLIT, conductors=unknown), LIBRARY.profiles(SPLIT))
    assert Traced(on=plan).call("Y1", run=MIN).state["compressor by amps"] == "on"


def test_jumpers_and_separate_hot_terminals_make_the_same_calls() -> None:
    control = msgspec.structs.replace(
        SPLIT.control, terminals=("Rc", "Rh", "C", "Y1", "G", "W1"), jumpers=(("Rc", "Rh"),)
    )
    conductors = (msgspec.structs.replace(SPLIT.conductors[0], start="control.Rc"), *SPLIT.conductors[1:])
    split = msgspec.structs.replace(SPLIT, control=control, conductors=conductors)
    joined = Traced(on=blueprint(split, LIBRARY.profiles(SPLIT)))
    assert joined.call("W1", run=MIN).times("inducer by amps", "on")
    apart = msgspec.structs.replace(split, control=msgspec.structs.replace(control, jumpers=()))
    lone = Traced(on=blueprint(apart, LIBRARY.profiles(SPLIT)))
    assert not lone.call("W1", run=MIN).times("inducer by amps", "on")
    assert lone.call("Y1", run=MIN).state["compressor by amps"] == "on"


def test_a_run_may_set_any_parameter_of_any_part_and_of_the_site() -> None:
    fast = Traced(settings={"condenser.board.compressor_minimum_off": "3 min", "control.operate_time": "20 ms"})
    fast.call("Y1", run=MIN).call(run=MIN).call("Y1", run=10 * MIN)
    off, on = fast.at("compressor by amps", "off"), fast.at("compressor by amps", "on", after=MIN)
    assert 3 * MIN <= on - off < 3 * MIN + 1000
    assert fast.at("wire_Y1 by call_volts", "on") == 20


@pytest.mark.parametrize(
    ("key", "message"),
    [
        ("condenser.board.compressor_minimum_of", "did you mean 'compressor_minimum_off'?"),
        ("house.heat_los", "house has no 'heat_los'; did you mean 'heat_loss'?"),
        ("furnace.bord.prepurge", "did you mean 'furnace.board'?"),
    ],
)
def test_a_setting_for_what_is_not_there_is_told(key: str, message: str) -> None:
    with pytest.raises(UsageError) as raised:
        Traced(settings={key: "3 min"})
    assert message in str(raised.value)


def test_two_networks_that_differ_in_nothing_electrical_are_one() -> None:
    plan = Traced().plant._blueprint
    first = Traced(on=plan, settings={"furnace.burner.flame_signal": "1 µA"}).plant._electric._wiring
    assert first is Traced(on=plan).plant._electric._wiring
    other = Traced(on=plan, settings={"condenser.contactor.sealed_va": "9 VA"}).plant._electric._wiring
    assert other is not first
    assert other is Traced(on=plan, settings={"condenser.contactor.sealed_va": "9 VA"}).plant._electric._wiring
