"""Whatever a host asks, an independent checker at the relays' outputs never sees what must not be."""

from __future__ import annotations

import random

import pytest
from native_core import Core

RELAYS = range(1, 9)
MINIMUM_MS = {1: 700, 2: 300}
PAIRS = {frozenset({1, 4}), frozenset({2, 4}), frozenset({5, 6})}


class Checker:
    """Knows the rules on its own and looks only at what is driven."""

    def __init__(self) -> None:
        self.now = 0.0
        self.opened = dict.fromkeys(MINIMUM_MS, 0.0)
        self.conducting: set[int] = set()
        self.starts = 0

    def see(self, driven: set[int], *, may_close: bool) -> None:
        conducting = driven - {0} if 0 in driven else set()
        assert not any(pair <= driven for pair in PAIRS), driven
        assert may_close or not driven, driven
        for relay, minimum in MINIMUM_MS.items():
            if relay in conducting and relay not in self.conducting:
                self.starts += 1
                assert self.now - self.opened[relay] >= minimum - 1, (relay, self.now)
            if relay in self.conducting and relay not in conducting:
                self.opened[relay] = self.now
        self.conducting = conducting


def wander(core: Core, dice: random.Random, steps: int) -> Checker:
    """Random commands and pauses; the checker is asked every 5 ms, and right after each command."""
    checker, locked, stopped = Checker(), False, False
    setup = [f"CONF:MIN (@{relay}),{ms}" for relay, ms in MINIMUM_MS.items()]
    setup += [f"CONF:EXCL (@{min(pair)}),(@{max(pair)})" for pair in PAIRS]

    def send(body: str) -> str:
        nonlocal locked, stopped
        before = checker.now
        reply = core.ask(body)
        checker.now = max(before, int(reply.split()[1]) / 1000)
        done = reply.startswith("OK")
        locked = done if body == "CONF:LOCK" and not locked else locked and body != "*RST"
        stopped = (stopped or body == "STOP") and body != "STOP:CLE"
        checker.see(core.closed(), may_close=locked and not stopped)
        return reply

    for _ in range(steps):
        what = dice.random()
        chosen = ",".join(str(relay) for relay in dice.sample(RELAYS, dice.randrange(1, 4)))
        if what < 0.45:
            send(f"ROUT:CLOS (@{chosen})")
        elif what < 0.65:
            send(f"ROUT:OPEN (@{chosen})")
        elif what < 0.80:
            send(dice.choice(("OUTP ON", "OUTP ON", "OUTP OFF")))
        elif what < 0.83:
            send(dice.choice(("STOP", "*RST", "ROUT:OPEN:ALL")))
        if "stopped" in send("ROUT:OPEN (@8)") or send("STOP?").split()[2] != "NONE":
            send("STOP:CLE")
        if not locked:
            for body in (*setup, "CONF:LOCK", "OUTP ON"):
                send(body)
        for _ in range(dice.choice((0, 1, 5, 40, 140))):
            core.run(5)
            checker.now += 5
            checker.see(core.closed(), may_close=locked and not stopped)
    return checker


def test_a_random_host_never_gets_past_the_second_wall(core: Core) -> None:
    core.run(5)
    checker = wander(core, random.Random(1), 400)

    assert checker.starts > 10


@pytest.mark.thorough
@pytest.mark.parametrize("seed", range(10))
def test_no_random_host_gets_past_the_second_wall(core: Core, seed: int) -> None:
    core.run(5)

    assert wander(core, random.Random(seed), 4_000).starts > 100
