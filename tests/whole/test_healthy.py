"""Healthy machines: nothing fails and nothing is left unverified with the full kit."""

from __future__ import annotations

import os

import pytest

from stagecall.model.verdict import Verdict
from whole.harness import applicable, made_ready, must_run, perform, systems

RUNS = [(system, sequence) for system in systems() for sequence in applicable(system)]
DRAWS = int(os.environ.get("STAGECALL_DRAWS", "30"))
"""Machines for each sequence in the thorough run; 300 take some twenty minutes on two cores."""


@pytest.mark.parametrize("system", systems())
def test_every_system_names_the_sequences_that_must_run_on_it(system: str) -> None:
    assert must_run(system)


@pytest.mark.parametrize("system", systems())
def test_a_healthy_system_passes_all_that_applies_in_one_go(system: str) -> None:
    performed = perform(system, *applicable(system))

    assert performed.of(Verdict.FAIL) + performed.of(Verdict.NOT_VERIFIED) == [], performed.said()
    assert performed.verdicts()[-1].verdict is Verdict.PASS


@pytest.mark.parametrize(("system", "sequence"), RUNS)
def test_a_few_drawn_machines_pass_each_sequence(system: str, sequence: str) -> None:
    for seed in range(3):
        performed = perform(system, sequence, seed=seed, drawn=True)

        assert performed.of(Verdict.FAIL) + performed.of(Verdict.NOT_VERIFIED) == [], f"seed {seed}\n{performed.said()}"


@pytest.mark.thorough
@pytest.mark.parametrize(("system", "sequence"), RUNS)
def test_many_drawn_machines_pass_each_sequence(system: str, sequence: str) -> None:
    bad = []
    for seed in range(3, DRAWS):
        performed = perform(system, sequence, seed=seed, drawn=True)
        if performed.of(Verdict.FAIL) or performed.of(Verdict.NOT_VERIFIED):
            bad.append(f"seed {seed}\n{performed.said()}")

    assert not bad, f"{len(bad)} of {DRAWS}:\n" + "\n".join(bad[:5])


def test_what_does_not_apply_is_said_and_not_counted() -> None:
    performed = perform("cooling-only", "gas-heat-one-stage", "fan", prepared=made_ready("cooling-only", "full", ()))

    shown = {line.of: line for line in performed.verdicts() if not line.id}
    assert shown["gas-heat-one-stage"].verdict is Verdict.NOT_APPLICABLE
    assert not shown["gas-heat-one-stage"].counted
