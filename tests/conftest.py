"""Settings of all tests: no time limit on a generated case, so that a slow machine shows no false faults."""

from __future__ import annotations

from hypothesis import HealthCheck, settings

settings.register_profile("dryfit", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("dryfit")
