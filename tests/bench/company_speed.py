"""Speed of mixtures: ``python tests/bench/company_speed.py``. Aims: 1e5 states of 4 ions in 1 s; windows at most 10 times.

Seconds are of the processor's own time, so that what else runs on the machine counts little.
"""

from __future__ import annotations

import sys
import time
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[2]))

from crystal.bench.pot import Pot
from crystal.bench.window import Window
from crystal.data.catalogue import Catalogue
from crystal.physics.model import Model
from crystal.physics.others import Others
from crystal.physics.pitzer import Pitzer
from crystal.physics.several import Several

STATES, REPEATS = 100_000, 7
POTS = (("CuSO4", 76.0, {"H2SO4": 20.0}), ("NaCl", 90.0, {"HCl": 12.0}), ("KNO3", 100.0, {"NaNO3": 30.0}),
        ("NaCl", 90.0, {"KCl": 40.0}), ("Na2SO4", 80.0, {"NaCl": 25.0}))  # fmt: skip


def best(task, repeats: int = REPEATS) -> float:
    times = []
    for _ in range(repeats):
        start = time.process_time()
        task()
        times.append(time.process_time() - start)
    return min(times)


def states_s() -> float:
    """Seconds for 1e5 states of Na, Mg, Cl, SO4."""
    m = np.random.default_rng(1).random((4, STATES)) * 2
    m[3] = np.minimum(m[3], (m[0] + 2 * m[1]) / 2)
    m[2] = m[0] + 2 * m[1] - 2 * m[3]
    pitzer = Pitzer.of(("Na+", "Mg+2", "Cl-", "SO4-2"))
    return best(lambda: pitzer.activities(m))


def window_ratios() -> dict[str, tuple[float, float]]:
    """A window with company over the plain one, when the curves are there, and the seconds of making them."""
    found = {}
    for salt, grams, others in POTS:
        model = Model.of(Catalogue.bundled().find(salt))
        plain, beside = (Pot(model, grams, 340.0, others=Others.of(o)) for o in ({}, others))
        start = time.process_time()
        Window.of(beside, 15.0)
        first = time.process_time() - start
        # By turns, so that a busy moment meets both.
        turns = [
            (best(lambda b=beside: Window.of(b, 15.0), 5), best(lambda p=plain: Window.of(p, 15.0), 5))
            for _ in range(8)
        ]
        ratio = min(b for b, _ in turns) / min(p for _, p in turns)
        found[f"{salt} beside {next(iter(others))}"] = ratio, first
    return found


def main() -> None:
    print(f"1e5 states of 4 ions: {states_s():.3f} s")
    for name, (ratio, first) in window_ratios().items():
        print(f"window, {name}: {ratio:.1f} times the plain window (first time {1000 * first:.0f} ms)")
    several = Several(["KNO3", "NaCl"])
    rng = np.random.default_rng(1)
    ions = several.ions_of({"KNO3": rng.uniform(0.5, 6.0, 1000), "NaCl": rng.uniform(0.5, 6.0, 1000)})
    print(
        f"1000 pots of a reciprocal pair: {best(lambda: several.standing(ions, np.ones(1000), 20.0)):.3f} s"
    )


if __name__ == "__main__":
    main()
