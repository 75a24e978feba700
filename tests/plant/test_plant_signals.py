from __future__ import annotations

from typing import Any

import simpy
from hypothesis import given, settings
from hypothesis import strategies as st

from stagecall.plant.electric import LastOfAll
from stagecall.plant.fan_control import Demand
from stagecall.plant.signals import Agenda, Bell, Follower, LookAhead, Signal


def follow(levels: list[tuple[int, float]], on_after: int = 30, off_after: int = 20) -> list[tuple[int, bool]]:
    """What a follower with thresholds 17 and 10 makes of levels that come at those times."""
    env = simpy.Environment()
    level = Signal(0.0)
    follower = Follower(env, level, 17.0, 10.0, on_after, off_after)
    moves: list[tuple[int, bool]] = []

    def last_of_all(timer: Any) -> None:
        """As the network's solution does, a level comes after whatever else is due in its millisecond."""
        LastOfAll(env).callbacks.append(lambda _event: level.set(timer.value))

    follower.listen(lambda on: moves.append((int(env.now), on)))
    for at, value in levels:
        env.timeout(at, value).callbacks.append(last_of_all)
    env.run()
    return moves


def test_it_goes_on_at_its_pick_up_and_off_below_its_drop_out_each_after_its_time() -> None:
    assert follow([(100, 17.0), (300, 10.0), (400, 9.99)]) == [(130, True), (420, False)]


def test_between_the_thresholds_it_stays_as_it_is() -> None:
    assert follow([(100, 16.99)]) == []
    assert follow([(100, 24.0), (300, 10.0)]) == [(130, True)]


def test_a_pulse_shorter_than_its_time_does_not_move_it() -> None:
    assert follow([(100, 24.0), (129, 0.0)]) == []
    assert follow([(100, 24.0), (300, 0.0), (319, 24.0)]) == [(130, True)]


def test_a_pulse_that_comes_back_starts_its_time_anew() -> None:
    assert follow([(100, 24.0), (120, 0.0), (125, 24.0)]) == [(155, True)]


def test_even_an_instant_armature_takes_a_millisecond() -> None:
    assert follow([(100, 24.0)], on_after=0) == [(101, True)]


@given(st.lists(st.tuples(st.integers(1, 80), st.sampled_from([0.0, 9.0, 12.0, 20.0])), max_size=30))
@settings(deadline=None)
def test_it_agrees_with_looking_at_every_millisecond(changes: list[tuple[int, float]]) -> None:
    at, levels = 0, []
    for gap, value in changes:
        at += gap
        levels.append((at, value))
    table = dict(levels)
    value, state, since, expected = 0.0, False, 0, []
    for ms in range(at + 60):
        if state != (value >= (10.0 if state else 17.0)):
            since += 1
            if since == (20 if state else 30):
                state, since = not state, 0
                expected.append((ms, state))
        else:
            since = 0
        value = table.get(ms, value)
        if state == (value >= (10.0 if state else 17.0)):
            since = 0
    assert follow(levels) == expected


def test_a_bell_wakes_at_its_moment_or_when_it_is_rung() -> None:
    env = simpy.Environment()
    bell = Bell(env)
    woken: list[int] = []

    def process() -> object:
        for until in (100, 500, None):
            yield bell.wait(until)
            woken.append(int(env.now))

    env.process(process())
    env.timeout(200).callbacks.append(bell.ring)
    env.timeout(900).callbacks.append(bell.ring)
    env.run()
    assert woken == [100, 200, 900]


def test_a_bell_rung_while_nobody_waits_is_forgotten() -> None:
    env = simpy.Environment()
    bell = Bell(env)
    bell.ring()
    woken: list[int] = []

    def process() -> object:
        yield bell.wait(50)
        woken.append(int(env.now))

    env.process(process())
    env.run()
    assert woken == [50]


def test_a_demand_takes_effect_after_its_on_delay_and_outlasts_its_call() -> None:
    demand = Demand(on_delay=5, off_delay=60)
    demand.call(True, 100)
    assert [demand.stands(at) for at in (100, 104, 105)] == [False, False, True]
    assert demand.next_change(100) == 105
    demand.call(False, 200)
    assert [demand.stands(at) for at in (200, 259, 260)] == [True, True, False]
    assert demand.next_change(200) == 260
    assert demand.next_change(260) is None


def test_a_demand_called_again_in_its_off_delay_goes_on_without_a_break() -> None:
    demand = Demand(on_delay=5, off_delay=60)
    demand.call(True, 0)
    demand.call(False, 10)
    demand.call(True, 30)
    assert all(demand.stands(at) for at in range(30, 500))


def test_a_demand_whose_call_is_shorter_than_its_on_delay_never_stands() -> None:
    demand = Demand(on_delay=5, off_delay=60)
    demand.call(True, 0)
    demand.call(False, 4)
    assert not any(demand.stands(at) for at in range(200))


def test_an_agenda_forgets_as_a_whole_and_goes_on_anew() -> None:
    env = simpy.Environment()
    agenda = Agenda(env)
    done: list[tuple[int, str]] = []
    for ms, word in ((10, "early"), (50, "late"), (60, "later")):
        agenda.after(ms, lambda word=word: done.append((int(env.now), word)))
    env.run(30)
    agenda.forget()
    agenda.after(0, lambda: done.append((int(env.now), "next")))
    env.run()

    assert done == [(10, "early"), (31, "next")]


def test_what_looks_ahead_moves_when_it_foretold_and_not_when_things_changed_meanwhile() -> None:
    env = simpy.Environment()
    nexts = iter((100, 100, 40, None))
    moves: list[int] = []
    ahead = LookAhead(env, lambda: next(nexts), lambda: moves.append(int(env.now)))
    ahead.anew()
    env.run(50)
    ahead.anew()
    env.run()

    assert moves == [150, 190]
