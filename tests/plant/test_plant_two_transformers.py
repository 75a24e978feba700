"""Two transformers on one control: kept apart, joined in phase, joined out of phase; and what a weak one does."""

from __future__ import annotations

import msgspec
import pytest
from traced import LIBRARY, MIN, SPLITS, H, S, Traced, plan, profile, system

from stagecall.model.equipment import Equipment, Parameter, Part
from stagecall.plant import Blueprint, blueprint
from stagecall.units import parse_quantity

EARTHED = {"boiler.transformer.common": "earthed", "air_handler.transformer.common": "earthed"}
REVERSED = {"boiler.transformer.phase": "reversed"}
SEPARATE = "boiler-separate-cooling"


def joined() -> Blueprint:
    """The same system with the jumper from Rc to Rh left in."""
    apart = system(SEPARATE)
    control = msgspec.structs.replace(apart.control, jumpers=(("Rc", "Rh"),))
    return blueprint(msgspec.structs.replace(apart, control=control), LIBRARY.profiles(apart))


def volts(traced: Traced, a: str, b: str) -> float:
    electric = traced.plant._electric
    return electric._wiring.network.solve(electric._state).volts(a, b)


def amps(traced: Traced, element: str) -> float:
    electric = traced.plant._electric
    return electric._wiring.network.solve(electric._state).amps(element)


def test_each_transformer_serves_its_own_machines() -> None:
    traced = Traced(SEPARATE).call("Y1", "G", run=MIN)
    assert amps(traced, "boiler.transformer") < 0.3
    assert traced.state["compressor by amps"] == traced.state["blower by amps"] == "on"
    traced.call(run=10 * MIN).call("W1", run=MIN)
    assert traced.state["gas_valve by coil_volts"] == traced.state["circulator by amps"] == "on"
    assert traced.state["blower by amps"] == "off"


def test_a_power_cut_takes_both_transformers() -> None:
    traced = Traced(SEPARATE).call("W1", run=MIN)
    traced.plant.power(False)
    traced.wait(S)
    assert traced.state["gas_valve by coil_volts"] == traced.state["circulator by amps"] == "off"
    assert volts(traced, "air_handler.R", "air_handler.C") < 0.1


def test_with_both_commons_earthed_the_hots_are_alike_in_phase_and_twice_apart_out_of_phase() -> None:
    assert volts(Traced(SEPARATE, settings=EARTHED), "control.Rc", "control.Rh") < 1
    assert 48 <= volts(Traced(SEPARATE, settings=EARTHED | REVERSED), "control.Rc", "control.Rh") <= 57


def test_with_floating_commons_a_voltage_between_the_hots_means_nothing_a_load_could_use() -> None:
    traced = Traced(SEPARATE, settings=REVERSED)
    hots = volts(traced, "control.Rc", "control.Rh")
    assert hots > 20  # a meter that draws nothing shows it
    electric = traced.plant._electric
    solution = electric._wiring.network.solve(electric._state)
    assert solution.amps("boiler.transformer.stray") * 24 < 0.01  # and nothing stands behind it


@pytest.mark.parametrize("phase", ["in", "reversed"])
def test_the_jumper_alone_does_no_harm_while_the_commons_are_apart(phase: str) -> None:
    traced = Traced(settings={"boiler.transformer.phase": phase}, on=joined()).call("Y1", "G", run=MIN)
    assert traced.state["compressor by amps"] == "on"
    assert amps(traced, "boiler.transformer") < 0.3
    traced.call(run=10 * MIN).call("W1", run=MIN)
    assert traced.state["gas_valve by coil_volts"] == "on"


def test_joined_in_phase_with_earthed_commons_they_share_the_load() -> None:
    traced = Traced(settings=EARTHED, on=joined()).call("Y1", "G", run=MIN)
    assert traced.state["compressor by amps"] == "on"
    assert 0.1 < amps(traced, "boiler.transformer") < 1.7
    assert 0.1 < amps(traced, "air_handler.transformer") < 1.7


def test_joined_out_of_phase_with_earthed_commons_they_are_a_short_that_blows_the_fuse() -> None:
    traced = Traced(settings=EARTHED | REVERSED, on=joined())
    assert amps(traced, "control.jumper_Rc_Rh") > 8
    traced.wait(10 * S)
    assert amps(traced, "air_handler.transformer") < 0.2
    assert volts(traced, "air_handler.R", "air_handler.C") > 15  # behind the fuse: the other one's, through the jumper


def test_without_a_fuse_that_opens_the_transformers_own_cut_out_does() -> None:
    slow = {"air_handler.fuse.rating": "30 A", "boiler.transformer.cut_out": "self_resetting"}
    traced = Traced(settings=EARTHED | REVERSED | slow, on=joined())
    assert amps(traced, "boiler.transformer") > 8
    assert volts(traced, "boiler.R", "boiler.C") < 6
    traced.wait(20 * S)
    assert 0.1 < amps(traced, "boiler.transformer") < 0.5  # dead, it is still a load to the other one
    assert volts(traced, "boiler.R", "boiler.C") > 20


def test_a_disconnected_transformer_is_fed_backwards_through_the_jumper() -> None:
    traced = Traced(settings=EARTHED, on=joined())
    traced.plant._parts["boiler.transformer"].power(on=False)  # type: ignore[attr-defined]
    traced.wait(S)
    far = traced.plant._parts["boiler.transformer"].level("volts").value
    assert far > 20  # so its primary, whose disconnect is off, has nearly line voltage


def cut_out(kind: str, seconds: int) -> Traced:
    """An overload of about twice the rating: a stuck valve of 80 VA on the zones' transformer."""
    heavy = {"zones.valve_1.moving_va": "100 VA", "zones.valve_1.holding_va": "100 VA"}
    set_to = heavy | {"zones.transformer.cut_out": kind, "zones.transformer.cut_out_time": "60 s"}
    set_to |= {"zones.valve_1.moves_from": "10 V", "zones.valve_1.lets_go_below": "5 V"}
    return Traced("boiler-two-zones", settings=set_to).call("W1", run=seconds * S)


def test_an_overload_below_any_fuse_opens_the_transformers_cut_out_in_its_time() -> None:
    traced = cut_out("self_resetting", 40)
    assert traced.state["end_switch_1 by contact"] == "closed"
    traced.wait(40 * S)
    off = traced.at("wire_R by call_volts", "off")
    assert 30 * S < off < 80 * S
    traced.wait(5 * MIN)
    assert traced.at("wire_R by call_volts", "on", after=off) - off == pytest.approx(5 * MIN, abs=100)


def test_a_cut_out_for_one_time_stays_open() -> None:
    traced = cut_out("one_time", 100).call(run=2 * H)
    assert traced.state["wire_R by call_volts"] == "off"


def test_without_a_cut_out_the_transformer_cooks() -> None:
    assert cut_out("none", 1800).state["wire_R by call_volts"] == "on"


def test_a_load_as_rated_opens_no_cut_out() -> None:
    traced = Traced("boiler-two-zones", settings={"zones.transformer.cut_out": "one_time"})
    assert traced.call("W1", "W2", run=2 * H).state["wire_R by call_volts"] == "on"


def relay_before_contactor() -> Equipment:
    """A condensing unit whose contactor hangs on R behind a small relay on Y, without any board."""
    unit, zones = profile("condensing-unit-one-stage"), profile("zone-valves-two")
    relay = zones.parts["tank_relay"]
    drop = Parameter(typical=parse_quantity("14 V"), source="made up")
    parts = {name: part for name, part in unit.parts.items() if name not in {"board", "contactor_relay"}}
    parts["relay"] = Part(kind=relay.kind, parameters={**relay.parameters, "drop_out": drop})
    kept = [pair for pair in unit.wiring if not any(end.startswith(("board.", "contactor_relay.")) for end in pair)]
    wiring = (
        *kept, ("Y", "relay.coil_1"), ("relay.coil_2", "C"), ("R", "relay.in"), ("relay.made", "contactor.coil_1"),
    )  # fmt: skip
    return msgspec.structs.replace(unit, parts=parts, wiring=wiring)


def with_relay() -> Blueprint:
    of = system(SPLITS[0])
    return blueprint(of, LIBRARY.profiles(of) | {"condensing-unit-one-stage": relay_before_contactor()})


WEAK = {"air_handler.transformer.va": "20 VA", "condenser.contactor.inrush_va": "180 VA"}
"""A contactor of the 50 to 90 A frames, and a transformer too small for it."""
STURDY = {"air_handler.board.works_down_to": "5 V"}


def listened(settings: dict[str, str]) -> tuple[Traced, list[bool]]:
    """Two seconds of a cooling call, and every move of the relay before the contactor."""
    traced = Traced(settings=settings | STURDY, on=with_relay())
    moves: list[bool] = []
    traced.plant._parts["condenser.relay"].closed.listen(moves.append)  # type: ignore[attr-defined]
    return traced.call("Y1", run=2 * S), moves


def test_an_inrush_that_drops_out_the_relay_before_it_makes_the_contactor_chatter() -> None:
    traced, moves = listened(WEAK)
    assert len(moves) > 40  # dozens of times a second
    assert not traced.times("compressor by amps", "on")


def test_a_transformer_that_holds_its_voltage_lets_the_same_contactor_seal_at_once() -> None:
    traced, moves = listened(WEAK | {"air_handler.transformer.va": "100 VA"})
    assert moves == [True]
    assert len(traced.times("compressor by amps", "on")) == 1


def test_every_system_of_these_is_as_shipped_without_a_jumper() -> None:
    assert plan(SEPARATE).system.control.jumpers == ()
