"""How long the tests with drawn input try: a set number of cases, or for so many minutes.

``CRYSTAL_FUZZ_MINUTES=20 python -m pytest tests/fuzz -q -s`` shares the minutes out among them, draws other cases every time, goes
on after a fault and tells all of them at the end.
"""

from __future__ import annotations

import os
import time
import traceback
from collections.abc import Callable
from typing import Any

from hypothesis import HealthCheck, Phase, given, seed, settings
from running import ANSWERED

MINUTES = float(os.environ.get("CRYSTAL_FUZZ_MINUTES", "0"))
PARTS = 9
"""Tests that share the minutes."""
ROUND = 10
"""Cases under one seed in a long run."""
MOST_FAULTS = 12

_HOW = {
    "deadline": None,
    "database": None,
    "suppress_health_check": list(HealthCheck),
    "print_blob": False,
}


def fuzzed(examples: int, **drawn: Any) -> Callable[[Callable[..., None]], Callable[[], None]]:
    """Make a test of a function that takes what is drawn; cases are not made smaller, which would take minutes."""

    def of(body: Callable[..., None]) -> Callable[[], None]:
        def test() -> None:
            if not MINUTES:
                settings(max_examples=examples, phases=(Phase.generate,), **_HOW)(given(**drawn)(body))()
                return
            _for_minutes(body, drawn, 60.0 * MINUTES / PARTS)

        test.__name__, test.__doc__, test.__module__ = body.__name__, body.__doc__, body.__module__
        return test

    return of


def _names() -> list[str]:
    return sorted({name for name, _ in ANSWERED if ANSWERED[name, 0]})


def _for_minutes(body: Callable[..., None], drawn: dict[str, Any], seconds: float) -> None:
    how = settings(max_examples=ROUND, phases=(Phase.generate,), derandomize=False, **_HOW)
    until, number, cases, faults = time.monotonic() + seconds, time.time_ns(), 0, {}
    while time.monotonic() < until and len(faults) < MOST_FAULTS:
        number += 1
        done = 0

        def counted(**case: Any) -> None:
            nonlocal done
            done += 1
            body(**case)

        try:
            seed(number)(how(given(**drawn)(counted)))()
        except Exception as error:
            place = traceback.extract_tb(error.__traceback__)[-1]
            text = "\n".join([str(error), *getattr(error, "__notes__", [])])
            key = (type(error).__name__, place.filename, place.lineno, text[:60])
            if key not in faults:
                print(f"\n{key[0]} at {place.filename}:{place.lineno}\n{text}", flush=True)
            faults[key] = text
        cases += done
    print(f"\n{body.__name__}: {cases} cases, {len(faults)} faults")
    print(
        "  ended with 0 / 2: "
        + ", ".join(f"{name} {ANSWERED[name, 0]}/{ANSWERED[name, 2]}" for name in _names())
    )
    ANSWERED.clear()
    assert not faults, "\n\n".join(f"{key[0]}: {text}" for key, text in faults.items())
