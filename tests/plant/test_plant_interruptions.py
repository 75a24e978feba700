"""A control that loses its supply in the middle of something begins anew, whatever has become of the call meanwhile."""

from __future__ import annotations

import pytest
from traced import MIN, SYSTEMS, S, Traced, system

from stagecall.points import CALLS


@pytest.mark.parametrize("name", SYSTEMS)
def test_a_call_that_ends_while_the_power_is_away_is_not_missed_later(name: str) -> None:
    for call in system(name).control.terminals:
        if call in CALLS:
            machine = Traced(name).call(call, run=90 * S)
            machine.plant.power(False)
            machine.wait(10 * S)
            machine.call(run=10 * S)
            machine.plant.power(True)
            machine.wait(MIN)

            assert machine.call(call, run=MIN).plant.now == 230 * S
