"""What holds for all tests: examples made up by hypothesis may take their time, as where other work is done too."""

from hypothesis import HealthCheck, settings

_now = settings()  # in CI other than at a desk
settings.register_profile(
    "patient", _now, deadline=None, suppress_health_check=[*_now.suppress_health_check, HealthCheck.too_slow])
settings.load_profile("patient")
