"""What holds for every test."""

import os
import tempfile
from itertools import count
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

# No test is timed: a busy machine must not turn a right answer into a failure.
settings.register_profile("untimed", deadline=None, suppress_health_check=[HealthCheck.too_slow])
# A verdict on a change must not hang on luck: there the examples are the same each time.
settings.register_profile("same-each-time", parent=settings.get_profile("untimed"), derandomize=True, database=None)
settings.load_profile("same-each-time" if os.environ.get("CI") else "untimed")

_STATE = Path(tempfile.mkdtemp(prefix="stagecall-"))
_numbers = count()


@pytest.fixture(autouse=True)
def _state(monkeypatch: pytest.MonkeyPatch) -> None:
    """What outlives a run is kept apart, from other tests and from that of whoever runs them."""
    monkeypatch.setenv("STAGECALL_STATE", str(_STATE / str(next(_numbers))))
