"""Measured solubilities beside a second solute against the prediction: ``python tests/bench/mixtures.py``.

No parameter is fitted to these rows. Errors are relative, in mol of the salt per kg of water; the amount of the other
substance per kg of water is taken as measured. Beside the prediction stand the plain curve (the other ignored) and a bare
product of molalities (ions in common counted, activities left out).
"""

from __future__ import annotations

import csv
import sys
from dataclasses import dataclass
from pathlib import Path

import numpy as np

ROOT = Path(__file__).parents[2]
sys.path.insert(0, str(ROOT))

from crystal.data.catalogue import Catalogue  # noqa: E402
from crystal.physics.formula import molar_mass_g_mol  # noqa: E402
from crystal.physics.ion_parameters import ions_in  # noqa: E402
from crystal.physics.model import Model  # noqa: E402
from crystal.physics.products import Products  # noqa: E402
from crystal.physics.saturation import Beside  # noqa: E402

TABLE = ROOT / "tests" / "published" / "mixtures.csv"
WITHIN = 1.05
"""A solution that uses up to this much of the parameters' range counts as inside; the ranges are printed to 2-4 digits."""


@dataclass(frozen=True)
class Compared:
    """One row: measured molality and the three answers; ``used`` is the share of the range that the solution uses."""

    system: str
    solid: str
    temperature_C: float
    other_molality: float
    measured: float
    predicted: float
    plain: float
    bare: float
    used: float
    own_branch: bool

    @property
    def inside(self) -> bool:
        return self.used <= WITHIN

    def error(self, of: str) -> float:
        return float(getattr(self, of) / self.measured - 1.0)


def compared(*, mixing: bool = True) -> list[Compared]:
    """Every row that holds some of the other substance."""
    catalogue = Catalogue.bundled()
    found = []
    with TABLE.open(encoding="utf-8", newline="") as file:
        for row in csv.DictReader(file):
            if float(row["other_mass_percent"]) > 0:
                found.append(_compared(row, catalogue, mixing))
    return found


def _compared(row: dict[str, str], catalogue: Catalogue, mixing: bool) -> Compared:
    salt = row["solid"].split(".")[0]
    model = Model.of(catalogue.find(salt))
    products = Products(model, mixing=mixing)
    t, own, other = (float(row[k]) for k in ("temperature_C", "salt_mass_percent", "other_mass_percent"))
    water_kg = (100.0 - own - other) / 1000.0
    measured = own / molar_mass_g_mol(salt) / water_kg
    b = other / molar_mass_g_mol(row["other"]) / water_kg
    beside = Beside(products, {row["other"]: 1.0})
    assert beside.known, (row, beside.missing)
    (product,) = (p for p in products.of_solids if p.solid.formula == row["solid"])
    ln_k, _ = product.at(t)
    none = Beside(products, {row["other"]: 1.0})
    middle = float(np.interp(t, *_curve(products, product)))
    plain = float(none.saturated(product, ln_k, middle, 0.0))
    predicted = float(beside.saturated(product, ln_k, plain, b))
    return Compared(
        row["system"], row["solid"], t, b, measured, predicted, plain, _bare(salt, row["other"], plain, b),
        float(beside.reach_used(measured, b)), bool(product.is_own(t)),
    )  # fmt: skip


def _curve(products: Products, product) -> tuple[np.ndarray, np.ndarray]:
    pieces = [p for p in product.solid.pieces if p.side == "lean"]
    t = np.concatenate([p.temperature_C for p in pieces])
    return t, products.molality(np.concatenate([p.mass_fraction for p in pieces]))


def _bare(salt: str, other: str, plain: float, b: float) -> float:
    """Where the product of molalities is that of the pure saturated solution."""
    mine, theirs = dict(ions_in(salt)), dict(ions_in(other))

    def ln_product(a: float, b: float) -> float:
        return sum(n * np.log(n * a + theirs.get(ion, 0) * b) for ion, n in mine.items())

    low, high, wanted = 1e-9, plain, ln_product(plain, 0.0)
    for _ in range(200):
        middle = (low + high) / 2
        low, high = (low, middle) if ln_product(middle, b) > wanted else (middle, high)
    return (low + high) / 2


ANSWERS = ("predicted", "plain", "bare")


def summary(rows: list[Compared]) -> dict[str, tuple[float, float]]:
    """Median and 90th percentile of the relative error, for each of the answers."""
    return {of: tuple(np.percentile([abs(row.error(of)) for row in rows], [50, 90])) for of in ANSWERS}  # type: ignore[misc]


def over_systems(rows: list[Compared]) -> dict[str, tuple[float, float]]:
    """The median of the systems' medians, and of the systems' 90th percentiles."""
    each = [summary([r for r in rows if r.system == s]) for s in sorted({r.system for r in rows})]
    return {of: tuple(np.median([s[of] for s in each], axis=0)) for of in ANSWERS}  # type: ignore[misc]


NEAR_C = 60.0
"""The measured mixtures were all taken from 0 °C up to this, or at 90 °C."""


def groups(rows: list[Compared]) -> dict[str, list[Compared]]:
    """The rows by how far the parameters are stretched."""
    inside = [r for r in rows if r.inside]
    return {
        "all rows": rows,
        "inside the range": inside,
        "inside, 0-60 °C": [r for r in inside if r.temperature_C <= NEAR_C],
    }


def _line(name: str, rows: list[Compared]) -> str:
    parts = [f"{100 * m:7.1f} {100 * p:7.1f}" for m, p in summary(rows).values()]
    return f"{name:18} {len(rows):4} {sum(r.inside for r in rows):6}  " + "   ".join(parts)


def main() -> None:
    for mixing in (True, False):
        rows = compared(mixing=mixing)
        print(
            f"\ntheta and psi {'used' if mixing else 'left out'}; relative error in molality, %: median, 90th percentile"
        )
        print(f"{'system':18} rows inside        predicted        plain curve       bare product")
        for name, chosen in groups(rows).items():
            for system in sorted({r.system for r in chosen}):
                print(_line(system, [r for r in chosen if r.system == system]))
            print(_line(name, chosen))
            medians = over_systems(chosen)
            print(
                f"{'  median of systems':30} "
                + "   ".join(f"{100 * m:7.1f} {100 * p:7.1f}" for m, p in medians.values())
            )
    if "--rows" in sys.argv:
        for r in compared():
            print(
                f"{r.system:14} {r.solid:14} {r.temperature_C:5.1f} other {r.other_molality:6.3f} measured {r.measured:7.4f} "
                f"predicted {r.predicted:7.4f} ({100 * r.error('predicted'):+6.1f} %) plain {r.plain:7.4f} used {r.used:4.2f}"
                f"{'' if r.own_branch else ' beyond its branch'}"
            )


if __name__ == "__main__":
    main()
