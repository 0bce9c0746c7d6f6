"""Shared by all tests: how hard hypothesis tries, and models made once.

With CI set in the environment the examples are the same in every run; without it they differ and so find more.
"""

from __future__ import annotations

import os

from hypothesis import HealthCheck, settings

_SLOW_START = [HealthCheck.too_slow]
settings.register_profile("desk", deadline=None, max_examples=60, suppress_health_check=_SLOW_START)
settings.register_profile(
    "ci", deadline=None, max_examples=60, derandomize=True, suppress_health_check=_SLOW_START
)
settings.load_profile("ci" if os.environ.get("CI") else "desk")
