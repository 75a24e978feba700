"""How much goes on in the model: ``python tests/plant/events_an_hour.py`` prints the events per simulated hour."""

from __future__ import annotations

import sys
from typing import NamedTuple

import simpy
from traced import SYSTEMS, H, Traced, system


class Hours(NamedTuple):
    """Events per simulated hour of one system; 0 where it has no such calls."""

    rest: float
    y_calls: float
    """Y and G; a heat pump heats with them, and defrosts."""
    w_calls: float
    cycling: float


def steps_of(traced: Traced) -> list[int]:
    """Counts the events of that plant from now on."""
    count = [0]
    env: simpy.Environment = traced.plant._env
    step = env.step

    def counted() -> None:
        count[0] += 1
        step()

    env.step = counted  # type: ignore[method-assign]
    return count


def calls(name: str, letters: str) -> tuple[str, ...]:
    """All of the control's terminals that begin with one of those letters."""
    found = tuple(t for t in system(name).control.terminals if t[0] in letters and t not in ("Rc", "Rh"))
    return found if set(found) - {"G"} else ()


def events_an_hour(name: str) -> Hours:
    """A day at rest; six hours of a standing call of each kind; three calls of 10 min an hour for six hours."""
    cool, heat = calls(name, "YG"), calls(name, "WE")
    return Hours(
        rest=_counted(name, (), 24, 1),
        y_calls=_counted(name, cool, 6, 1) if cool else 0.0,
        w_calls=_counted(name, heat, 6, 1) if heat else 0.0,
        cycling=_counted(name, heat or cool, 6, 18),
    )


def _counted(name: str, asked: tuple[str, ...], hours: int, times: int) -> float:
    traced = Traced(name)
    count = steps_of(traced)
    for _ in range(times):
        part = hours * H // times
        traced.call(*asked, run=part if times == 1 else part // 2)
        if times > 1:
            traced.call(run=part // 2)
    return count[0] / hours


def table() -> str:
    """A row for each system."""
    rows = [f"{'system':<28}{'at rest':>9}{'Y calls':>9}{'W calls':>9}{'cycling':>9}"]
    rows += [f"{name:<28}" + "".join(f"{value:>9.1f}" for value in events_an_hour(name)) for name in SYSTEMS]
    return "\n".join(rows)


if __name__ == "__main__":
    sys.stdout.write(table() + "\n")
