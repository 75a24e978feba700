"""What holds for every test."""

from hypothesis import HealthCheck, settings

# No test is timed: a busy machine must not turn a right answer into a failure.
settings.register_profile("untimed", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("untimed")
