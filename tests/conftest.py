"""Settings of the whole suite."""

from __future__ import annotations

from hypothesis import HealthCheck, settings

# A busy machine may take its time over one example. The same examples every time, so that a verdict on a change does
# not hang on luck; `pytest --hypothesis-profile wide` looks for new ones.
settings.register_profile("steady", deadline=None, derandomize=True, suppress_health_check=[HealthCheck.too_slow])
settings.register_profile("wide", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("steady")
