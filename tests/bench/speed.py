"""Speed as ratios measured in one run: `python tests/bench/speed.py`.

Every ratio is against one `numpy.interp` of 400 000 temperatures in random order into a table of 1000 points, so that
it means the same on any machine. The last block times the command against the imports that it really uses.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile
import time
import tracemalloc
from collections.abc import Callable
from functools import partial

import numpy as np
from numpy.typing import NDArray

from crystal.bench.batch import Batch, Seen
from crystal.bench.cooling import LOOSE_BED
from crystal.bench.doubt import Doubt, Draws
from crystal.bench.evidence import learn
from crystal.bench.odds import DrawnEnds
from crystal.bench.plan import Plan
from crystal.bench.pot import Pot
from crystal.bench.window import Window
from crystal.data.catalogue import Catalogue
from crystal.physics.model import Model
from crystal.physics.others import Others

Array = NDArray[np.float64]
STATES = 400_000
REPEATS = 9
ROUNDS = 12
"""Command and imports are run by turns, so that a busy minute meets both."""
COMMAND = [
    "-m",
    "crystal",
    "reduce",
    "CuSO4",
    "--holds",
    "120 g of CuSO4.5H2O",
    "--start",
    "400 mL",
    "--cool-to",
    "5 degC",
]


def best_of(
    task: Callable[[], object], repeats: int = REPEATS, clock: Callable[[], float] = time.perf_counter
) -> float:
    """Seconds of the fastest run."""
    times = []
    for _ in range(repeats):
        start = clock()
        task()
        times.append(clock() - start)
    return min(times)


def engine_ratios() -> dict[str, float]:
    """Phase map and window against the interpolation, per salt and worst."""
    rng = np.random.default_rng(20261125)
    catalogue = Catalogue.bundled()
    found: dict[str, float] = {}
    for name in ("CuSO4", "MgSO4", "FeCl3", "Zn(NO3)2", "CaCl2", "KNO3"):
        model = Model.of(catalogue.find(name))
        t = rng.uniform(model.map.low_C, model.map.high_C, STATES)
        w = rng.uniform(0.0, 1.0, STATES)
        table_t = np.linspace(model.map.low_C, model.map.high_C, 1000)
        table_w = np.linspace(0.1, 0.9, 1000) ** 2
        interp_s = best_of(lambda t=t, x=table_t, y=table_w: np.interp(t, x, y))
        found[f"phase map over numpy.interp, {name}"] = (
            best_of(lambda m=model, w=w, t=t: m.map.look_up(w, t)) / interp_s
        )
        pot = Pot(model, 20.0, 180.0)
        ends = np.linspace(0.11, 0.75, 200)
        cool = 5.0 if name != "Zn(NO3)2" else 10.0
        ends = ends[model.map.look_up(ends, cool).known]
        found[f"window of {len(ends)} end volumes over numpy.interp, {name}"] = (
            best_of(lambda p=pot, e=ends, c=cool: Plan.of(p, c, ends=e)) / interp_s
        )
    return found


def odds_ratios() -> dict[str, float]:
    """Odds of 4096 draws at 200 end volumes against the interpolation of as many points, memory, evidence."""
    rng = np.random.default_rng(20261125)
    catalogue = Catalogue.bundled()
    states = 4096 * 200
    t = rng.uniform(0.0, 100.0, states)
    table_t, table_w = np.linspace(0.0, 100.0, 1000), np.linspace(0.1, 0.9, 1000) ** 2
    interp_s = best_of(lambda: np.interp(t, table_t, table_w))
    found: dict[str, float] = {}
    for name, cold, others in (
        ("CuSO4", 5.0, {}), ("MgSO4", 5.0, {}), ("FeCl3", 20.0, {}), ("KNO3", 10.0, {}), ("Na2SO4", 12.0, {}),
        ("KNO3", 10.0, {"HCl": 5.0}),
    ):  # fmt: skip
        pot = Pot(Model.of(catalogue.find(name)), 60.0, 300.0, 20.0, Others.of(others))
        draws = Draws.of(pot, cold, Doubt(), bed=LOOSE_BED)
        volumes = np.linspace(pot.volume_mL(), 0.25 * pot.volume_mL(), 200)

        def odds(pot: Pot = pot, draws: Draws = draws, cold: float = cold, volumes: Array = volumes) -> None:
            found = DrawnEnds.of(pot, draws, cold, volumes).odds(draws, volumes)
            assert (found.crop_p10_g <= found.crop_p90_g).all()

        label = name + "".join(f" with {other}" for other in others)
        found[f"odds of 4096 draws x 200 end volumes over numpy.interp of as many, {label}"] = (
            best_of(odds) / interp_s
        )
        tracemalloc.start()
        odds()
        found[f"peak memory of it, MB, {label}"] = tracemalloc.get_traced_memory()[1] / 1e6
        tracemalloc.stop()
        window = Window.of(pot, cold)
        assert window.saturates is not None
        end = pot.with_water(float(pot.water_for_volume(0.8 * window.saturates.end_volume_mL, 20.0)))
        due = float(pot.model.onset.first(end.mass_fraction).temperature_C)
        seen = Seen(first_crystals_C=due - 3.0, volume_mL=end.volume_mL(), mass_g=end.mass_g)
        batch = Batch(pot, cool_to_C=cold, seen=(seen,))
        found[f"evidence of first crystals and mass, ms of the processor, {label}"] = 1e3 * best_of(
            partial(learn, batch, draws)
        )
    return found


def command_ratio() -> dict[str, float]:
    """The whole command against importing the third-party modules that it really loads."""
    probe = (
        "import sys, crystal.faces.cli as c, io, contextlib, json\n"
        f"with contextlib.redirect_stdout(io.StringIO()): c.main({COMMAND[2:]!r})\n"
        "std = sys.stdlib_module_names\n"
        "print(json.dumps(sorted({m for m in sys.modules if m.split('.')[0] not in std and not m.startswith(('crystal', '_'))})))"
    )
    loaded = json.loads(
        subprocess.run([sys.executable, "-c", probe], capture_output=True, text=True, check=True).stdout
    )
    imports = (
        "import importlib\nfor m in "
        + repr(loaded)
        + ":\n    try: importlib.import_module(m)\n    except Exception: pass"
    )
    runs = {"command": [sys.executable, *COMMAND], "imports": [sys.executable, "-c", imports]}
    best = dict.fromkeys(runs, float("inf"))
    with tempfile.TemporaryDirectory() as compiled:
        # As an installed package has it: all modules compiled, ours like theirs.
        environment = {k: v for k, v in os.environ.items() if k != "PYTHONDONTWRITEBYTECODE"}
        environment["PYTHONPYCACHEPREFIX"] = compiled
        for turn in range(ROUNDS + 1):
            for name, words in runs.items():
                begun = time.perf_counter()
                subprocess.run(words, env=environment, capture_output=True, check=True)
                if turn > 0:
                    best[name] = min(best[name], time.perf_counter() - begun)
    return {
        "crystal reduce over its third-party imports": best["command"] / best["imports"],
        "crystal reduce, seconds": best["command"],
    }


if __name__ == "__main__":
    for name, value in (engine_ratios() | odds_ratios() | command_ratio()).items():
        print(f"{value:8.2f}  {name}")
