"""How long the page takes to redraw while the slider is dragged, as a multiple of the engine's own time in the same run.

    python tests/bench/page.py

Printed, never asserted: a timed test fails on a busy machine.
"""

from __future__ import annotations

import statistics
import sys
import time
from collections.abc import Callable
from functools import partial
from pathlib import Path
from urllib.parse import urlencode

sys.path.insert(0, str(Path(__file__).parents[2]))

from crystal.data.catalogue import Catalogue
from crystal.faces.page.app import make_app
from crystal.faces.page.state import State
from crystal.faces.page.work import Workbench

LIMIT_MS = 150
"""What a redraw may take at the median."""

POTS = (
    {"salt": "MgSO4", "holds": "200 g of MgSO4.7H2O", "volume": "500 mL", "cool": "5 degC"},
    {"salt": "Na2CO3", "holds": "150 g of Na2CO3.10H2O", "volume": "500 mL", "cool": "10 degC"},
    {
        "salt": "MgSO4",
        "holds": "200 g of MgSO4.7H2O",
        "volume": "500 mL",
        "cool": "5 degC",
        "beside": "12 g of H2SO4",
    },
    {"salt": "potash alum", "holds": "80 g of KAl(SO4)2.12H2O", "volume": "800 mL", "cool": "10 degC"},
)
DRAGGED = 40


def seconds(work: Callable[[], object]) -> float:
    """Of the processor, so that a busy machine does not count."""
    began = time.process_time()
    work()
    return time.process_time() - began


def main() -> None:
    catalogue = Catalogue.bundled()
    client = make_app(catalogue, 8765).test_client()
    bench = Workbench(catalogue)
    for pot in POTS:

        def engine(stop: float, pot: dict[str, str] = pot) -> None:
            bench.stopped(State.of({**pot, "stop": f"{stop:.2f}"}))

        def page(stop: float, pot: dict[str, str] = pot) -> None:
            reply = client.get(
                "/answer?" + urlencode({**pot, "stop": f"{stop:.2f}"}), headers={"Host": "127.0.0.1:8765"}
            )
            assert reply.json["html"].count("<svg") == 2

        new = seconds(partial(page, 300.0))
        engine(300.0)
        stops = [150.0 + 5.01 * i for i in range(DRAGGED)]
        timed = [(seconds(partial(page, stop)), seconds(partial(engine, stop))) for stop in stops]
        a, b = (statistics.median(column) for column in zip(*timed, strict=True))
        name = " beside ".join(pot[key] for key in ("salt", "beside") if key in pot)
        print(
            f"{name}: a new pot {1000 * new:.0f} ms; a drag {1000 * a:.0f} ms at the median "
            f"({'within' if 1000 * a <= LIMIT_MS else 'OVER'} {LIMIT_MS} ms), {a / b:.2f} times the engine's {1000 * b:.0f} ms"
        )


if __name__ == "__main__":
    main()
