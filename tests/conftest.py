"""Profiles for hypothesis: repeatable, never failed by the clock."""

import os

from hypothesis import HealthCheck, settings

settings.register_profile(
    "ci",
    deadline=None,
    derandomize=True,
    max_examples=60,
    suppress_health_check=[HealthCheck.too_slow],
)
settings.register_profile(
    "deep",
    deadline=None,
    derandomize=True,
    max_examples=2000,
    suppress_health_check=[HealthCheck.too_slow],
)
settings.load_profile(os.environ.get("FORMULATE_HYPOTHESIS", "ci"))
