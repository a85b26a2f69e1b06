"""What holds for every test: nothing in them is timed."""

from hypothesis import HealthCheck, settings

settings.register_profile(
    "untimed", deadline=None, suppress_health_check=[HealthCheck.too_slow]
)
settings.load_profile("untimed")
