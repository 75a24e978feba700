"""What holds for every test."""

import os
import tempfile

from hypothesis import HealthCheck, settings

# No test is timed: a busy machine must not turn a right answer into a failure.
settings.register_profile("untimed", deadline=None, suppress_health_check=[HealthCheck.too_slow])
# A verdict on a change must not hang on luck: there the examples are the same each time.
settings.register_profile("same-each-time", parent=settings.get_profile("untimed"), derandomize=True, database=None)
settings.load_profile("same-each-time" if os.environ.get("CI") else "untimed")

# What outlives a run is kept apart from that of whoever runs the tests.
os.environ["STAGECALL_STATE"] = tempfile.mkdtemp(prefix="stagecall-")
