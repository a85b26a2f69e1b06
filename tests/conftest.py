"""What holds for every test: nothing in them is timed, and one browser serves them all."""

from hypothesis import HealthCheck, settings

from tests.browser import browser  # noqa: F401 - a fixture

settings.register_profile(
    "untimed", deadline=None, suppress_health_check=[HealthCheck.too_slow]
)
settings.load_profile("untimed")
