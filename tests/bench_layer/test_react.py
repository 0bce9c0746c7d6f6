"""Reactions carried out: published examples, the balance of mass and elements, chaining, gas, heat, refusals."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import pytest
from held import Held
from hypothesis import assume, given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from crystal.bench.made import Charge, MadePot, Reacted
from crystal.bench.react import react
from crystal.data.reagents import Reagents
from crystal.errors import InputError
from crystal.physics.density import SolutionDensity
from crystal.physics.equation import Equation
from crystal.physics.species import Species

PUBLISHED = Path(__file__).parents[1] / "published" / "stoichiometry.csv"
ROWS = list(csv.DictReader(PUBLISHED.open(encoding="utf-8", newline="")))


def mass_g_mol(formula: str) -> float:
    return Species.parse(formula).molar_mass_g_mol


class Example:
    """A published example: its own molar masses turn grams into moles, so that the balance is what is tested."""

    def __init__(self, row: dict[str, str]) -> None:
        self.masses: dict[str, float] = json.loads(row["molar_masses_json"])
        self.asked: dict[str, list] = json.loads(row["asked_json"])
        self.charged_g: dict[str, float] = {}
        self.made: Reacted | None = None
        if row["equation"]:
            equation = Equation.parse(row["equation"])
            charges = [self.charge(c, equation) for c in json.loads(row["charges_json"])]
            hydrates = [ask[1] for ask in self.asked.values() if ask[0] == "hydrate"]
            self.made = react(equation, charges, hydrates=hydrates)

    def mass(self, formula: str) -> float:
        return self.masses.get(formula, mass_g_mol(formula))

    def charge(self, told: dict, equation: Equation) -> Charge:
        formula = told["formula"]
        if "needed_for" in told:
            base = told["needed_for"]
            mol = equation.proportions_mol(base, self.charged_g[base] / self.mass(base))[formula]
            told["solution_g"] = 100 * mol * self.mass(formula) / told["mass_percent"]
        solution_g = told.get("solution_g", told.get("g"))
        grams = told["g"] if "g" in told else solution_g * told["mass_percent"] / 100
        self.charged_g[formula] = solution_g
        return Charge(formula, grams / self.mass(formula) * mass_g_mol(formula), solution_g - grams)

    def dissolved_g(self) -> dict[str, float]:
        assert self.made is not None
        return {f: g / mass_g_mol(f) * self.mass(f) for f, g in self.made.pot.dissolved_g.items()}

    def answer(self, kind: str, formula: str, *more: float) -> float:
        if kind == "per_kg":
            return more[0] / mass_g_mol(formula)
        assert self.made is not None
        if kind == "charged":
            return self.charged_g[formula]
        if kind == "hydrate":
            (product,) = [p for p in self.made.products if p.hydrate == formula]
            assert product.hydrate_g is not None
            return product.hydrate_g / mass_g_mol(formula) * self.mass(formula)
        if kind in ("product", "yield"):
            (product,) = [p for p in self.made.products if p.formula == formula]
            grams = product.mol * self.mass(formula)
            return grams if kind == "product" else 100 * more[0] / grams
        liquor_g = self.made.pot.water_g + sum(self.dissolved_g().values())
        return liquor_g if kind == "liquor" else 100 * self.dissolved_g()[formula] / liquor_g


ASKED = [(row, key) for row in ROWS for key in json.loads(row["expected_json"])]


def published(row: dict[str, str], key: str) -> Held:
    """One answer that a published example asks for."""
    example = Example(row)
    expected = json.loads(row["expected_json"])[key]
    found = example.answer(*example.asked[key])
    return Held(row["citation"], found, expected, float(row["tolerance_percent"]) / 100)


@pytest.mark.parametrize(
    ("row", "key"), ASKED, ids=lambda value: value if isinstance(value, str) else value["id"]
)
def test_published_example(row: dict[str, str], key: str) -> None:
    published(row, key).check()


# ---- what must add up --------------------------------------------------------------------------------------------

SYMBOLS = ("H", "O", "S", "Fe", "Na", "Cl")


def atoms_of(grams: dict[str, float]) -> dict[str, float]:
    """Moles of each element in so many grams of each formula."""
    found: dict[str, float] = {}
    for formula, g in grams.items():
        species = Species.parse(formula)
        for symbol, n in species.counts:
            found[symbol] = found.get(symbol, 0.0) + g / species.molar_mass_g_mol * float(n)
    return found


@st.composite
def reactions(draw: st.DrawFn) -> tuple[str, list[Charge]]:
    """Random substances with random coefficients, their atoms dealt out to one or two products, and amounts of each."""
    left = [
        draw(st.dictionaries(st.sampled_from(SYMBOLS), st.integers(1, 5), min_size=1, max_size=4))
        for _ in range(draw(st.integers(1, 3)))
    ]
    numbers = [draw(st.integers(1, 7)) for _ in left]
    total = {s: sum(n * a.get(s, 0) for n, a in zip(numbers, left, strict=True)) for s in SYMBOLS}
    first = {s: draw(st.integers(0, n)) for s, n in total.items()}
    second = {s: n - first[s] for s, n in total.items()}
    right = [
        "".join(f"{s}{n}" for s, n in atoms.items() if n) for atoms in (first, second) if any(atoms.values())
    ]
    formulas = ["".join(f"{s}{n}" for s, n in atoms.items()) for atoms in left]
    species = [Species.parse(f) for f in (*formulas, *right)]
    assume(len({s.counts for s in species}) == len(species))
    grams, water = st.floats(0.01, 1e4), st.floats(0.0, 1e4)
    others = st.dictionaries(st.sampled_from(["KBr", "K2SO4"]), st.floats(0.0, 100.0))
    charges = [Charge(f, draw(grams), draw(water), draw(others)) for f in formulas]
    text = " + ".join(f"{n} {f}" for n, f in zip(numbers, formulas, strict=True))
    return f"{text} -> {' + '.join(right)}", charges


@given(reactions(), st.floats(0.01, 1.0), st.floats(0.0, 0.9), st.booleans())
def test_mass_and_elements_are_kept(
    case: tuple[str, list[Charge]], conversion: float, lost_fraction: float, first_stays: bool
) -> None:
    text, charges = case
    stays = [str(text.split(" -> ")[1].split(" + ")[0])] if first_stays else []
    made = react(text, charges, conversion=conversion, lost_fraction=lost_fraction, undissolved=stays)
    put_in_g: dict[str, float] = {}
    for charge in charges:
        for formula, g in (
            (charge.formula, charge.grams), ("H2O", charge.water_g), *charge.others_g.items(),
        ):  # fmt: skip
            put_in_g[formula] = put_in_g.get(formula, 0.0) + g
    gas_g = sum(gas.g for gas in made.gas)
    assert_allclose(made.pot.mass_g + gas_g + made.lost_g, sum(put_in_g.values()), rtol=1e-9)
    kept = 1.0 - lost_fraction
    pot_g = {formula: g / kept for formula, g in made.pot.dissolved_g.items()}
    pot_g["H2O"] = pot_g.get("H2O", 0.0) + made.pot.water_g / kept
    out = [pot_g, dict(made.pot.undissolved_g), {gas.formula: gas.g for gas in made.gas}]
    found: dict[str, float] = {}
    for part in out:
        for symbol, mol in atoms_of(part).items():
            found[symbol] = found.get(symbol, 0.0) + mol
    expected = atoms_of(put_in_g)
    scale = sum(expected.values())
    for symbol in {*found, *expected}:
        assert_allclose(found.get(symbol, 0.0), expected.get(symbol, 0.0), rtol=1e-9, atol=1e-12 * scale)


@given(reactions(), st.floats(0.01, 1.0))
def test_products_and_left_overs_are_what_was_put_in(
    case: tuple[str, list[Charge]], conversion: float
) -> None:
    """The limiting reagent has no excess, no other could be used up first, and products follow the extent."""
    text, charges = case
    made = react(text, charges, conversion=conversion)
    equation = Equation.parse(text)
    water_g = sum(charge.water_g for charge in charges)
    possible = []
    for term, charge in zip(equation.reactants, charges, strict=True):
        grams = charge.grams + (water_g if term.species.is_water else 0.0)
        possible.append(grams / term.species.molar_mass_g_mol / float(term.coefficient))
    assert_allclose(made.extent_mol, conversion * min(possible), rtol=1e-12)
    assert made.limiting == equation.reactants[possible.index(min(possible))].species.formula
    for product, term in zip(made.products, equation.products, strict=True):
        assert_allclose(product.mol, float(term.coefficient) * made.extent_mol, rtol=1e-12)
        assert_allclose(product.g, product.mol * mass_g_mol(product.formula), rtol=1e-12)
    for left in made.left_over:
        place = [term.species.formula for term in equation.reactants].index(left.formula)
        need = float(equation.reactants[place].coefficient) * min(possible)
        had = float(equation.reactants[place].coefficient) * possible[place]
        assert_allclose(left.excess_mol, had - need, atol=1e-9 * had)
        assert_allclose(left.mol, had - conversion * need, atol=1e-9 * had)
        assert_allclose(left.excess_percent, 100 * (had / need - 1), rtol=1e-6, atol=1e-7)


# ---- one step ----------------------------------------------------------------------------------------------------


def zinc(**how: object) -> Reacted:
    return react(
        "Zn + H2SO4 -> ZnSO4 + H2",
        [Charge("Zn", 65.38), Charge("H2SO4", 98.078 * 1.2, water_g=500.0)],
        **how,  # type: ignore[arg-type]
    )


def test_zinc_in_dilute_acid() -> None:
    made = zinc(hydrates=["ZnSO4.7H2O"])
    assert made.equation == "Zn + H2SO4 -> ZnSO4 + H2"
    assert made.limiting == "Zn"
    salt, hydrogen = made.products
    assert_allclose([salt.mol, salt.g, hydrogen.mol], [1.0, 161.44, 1.0], rtol=1e-4)
    assert (salt.hydrate, salt.where, hydrogen.where) == ("ZnSO4.7H2O", "dissolved", "gas")
    assert_allclose(salt.hydrate_g, 287.55, rtol=1e-4)
    metal, acid = made.left_over
    assert (metal.formula, metal.mol, metal.where) == ("Zn", 0.0, "undissolved")
    assert_allclose([acid.mol, acid.excess_mol, acid.excess_percent], [0.2, 0.2, 20.0], rtol=1e-4)
    assert made.pot.salt == "ZnSO4"
    assert_allclose([made.pot.salt_g, made.pot.water_g], [161.44, 500.0], rtol=1e-4)
    assert_allclose(made.pot.others_g["H2SO4"], 19.6156, rtol=1e-4)
    assert made.pot.undissolved_g == {}
    # 153.9 kJ/mol: CRC Handbook, enthalpy of formation of the zinc ion. All of it in the water: 153900/(4.18 x 500).
    assert_allclose(made.heat_kJ, 153.9, rtol=1e-3)
    assert_allclose(made.temperature_rise_K, 73.6, rtol=2e-3)
    assert any("up to 74 K" in text and "cold water" in text for text in made.warnings)
    assert any(
        text.startswith("H2, 24.1 L:") and "flame" in text and "hood" in text and "open air" in text
        for text in made.warnings
    )
    assert any("infinite dilution" in text and "25 °C" in text for text in made.notes)


def test_a_pot_that_could_boil_over_is_told() -> None:
    strong = react("Zn + H2SO4 -> ZnSO4 + H2", [Charge("Zn", 65.38), Charge("H2SO4", 100.0, water_g=300.0)])
    assert any("enough to boil it over" in text for text in strong.warnings)
    assert not any("boil it over" in text for text in zinc().warnings)


def test_litres_of_gas() -> None:
    """24.055 L/mol at 20 °C and 22.414 L/mol at 0 °C, 101.325 kPa: molar volume of an ideal gas, CODATA."""
    assert_allclose(zinc().gas[0].L, 24.055, rtol=2e-4)
    assert_allclose(zinc(room_C=0.0).gas[0].L, 22.414, rtol=2e-4)
    assert_allclose(zinc(pressure_kPa=2 * 101.325).gas[0].L, 12.0275, rtol=2e-4)


def test_conversion_and_losses() -> None:
    made = zinc(conversion=0.9, lost_fraction=0.05)
    metal, _ = made.left_over
    assert_allclose([made.products[0].mol, metal.mol, metal.excess_mol], [0.9, 0.1, 0.0], atol=1e-9)
    assert_allclose(made.pot.salt_g, 0.95 * 0.9 * 161.44, rtol=1e-4)
    assert_allclose(made.pot.water_g, 475.0)
    assert_allclose(made.pot.undissolved_g["Zn"], 6.538, rtol=1e-6)
    assert_allclose(made.lost_g, 0.05 * (0.9 * 161.44 + 0.3 * 98.078 + 500), rtol=1e-4)
    assert_allclose(made.heat_kJ, 0.9 * 153.9, rtol=1e-3)
    assert any("lies undissolved" in note and "Zn" in note for note in made.notes)
    assert any("g of liquor is lost" in note for note in made.notes)


def test_exact_proportions_leave_nothing() -> None:
    copper_oxide, acid = mass_g_mol("CuO"), mass_g_mol("H2SO4")
    made = react(
        "CuO + H2SO4 -> CuSO4 + H2O", [Charge("CuO", 0.3 * copper_oxide), Charge("H2SO4", 0.3 * acid, 100.0)]
    )
    assert made.pot.others_g == {}
    assert made.pot.undissolved_g == {}
    assert_allclose(made.pot.water_g, 100 + 0.3 * mass_g_mol("H2O"), rtol=1e-12)
    assert any("CuO and H2SO4 are in exact proportion" in note for note in made.notes)


def test_rounding_leaves_no_traces_of_what_is_used_up() -> None:
    acid, metal = mass_g_mol("H2SO4"), mass_g_mol("Al")
    for tenths in range(1, 60):
        made = react(
            "2 Al + 3 H2SO4 -> Al2(SO4)3 + 3 H2",
            [Charge("Al", 0.2 * tenths * metal), Charge("H2SO4", 0.3 * tenths * acid, 100.0)],
        )
        assert (made.pot.others_g, made.pot.undissolved_g) == ({}, {}), tenths


def test_water_that_reacts_comes_out_of_the_pot() -> None:
    lime = react("CaO + H2O -> Ca(OH)2", [Charge("CaO", 56.077), Charge("H2O", 100.0)])
    assert_allclose(lime.pot.water_g, 100 - 18.015, rtol=1e-4)
    assert_allclose(lime.pot.undissolved_g["Ca(OH)2"], 74.09, rtol=1e-3)
    assert lime.pot.salt is None
    assert any("No dissolved salt was made" in text for text in lime.warnings)
    assert any("well known, no source" in note for note in lime.notes)
    dry = react("CaO + H2O -> Ca(OH)2", [Charge("CaO", 56.077), Charge("H2O", 9.0)])
    assert dry.limiting == "H2O"
    assert dry.pot.water_g == 0.0
    assert [left.formula for left in dry.left_over] == ["CaO"]


def test_hydrates_bring_their_water() -> None:
    soda, acid = Charge("Na2CO3.10H2O", 286.14), Charge("HCl", 72.922, water_g=300.0)
    made = react("Na2CO3 + HCl -> NaCl + CO2 + H2O", [soda, acid])
    assert_allclose(made.pot.water_g, 300 + 11 * 18.015, rtol=1e-4)
    assert_allclose(made.pot.salt_g, 2 * 58.44, rtol=1e-4)
    assert [gas.formula for gas in made.gas] == ["CO2"]
    assert any("foams" in text and "displaces air" in text for text in made.warnings)
    # The crystals' own enthalpy is used: less heat than from soda ash, for the crystal water must be set free.
    ash = react("Na2CO3 + HCl -> NaCl + CO2 + H2O", [Charge("Na2CO3", 105.99), Charge("HCl", 72.922, 300.0)])
    crystals_kJ = -4081.3 - (-1130.7 - 10 * 285.8)  # enthalpies of formation, NBS tables and CRC Handbook
    assert ash.heat_kJ is not None
    assert made.heat_kJ is not None
    assert_allclose(made.heat_kJ - ash.heat_kJ, crystals_kJ, atol=0.2)
    dissolved = react("Na2CO3 + HCl -> NaCl + CO2 + H2O", [Charge("Na2CO3.10H2O", 286.14, 500.0), acid])
    in_water = react("Na2CO3 + HCl -> NaCl + CO2 + H2O", [Charge("Na2CO3", 105.99, 500.0), acid])
    assert_allclose(dissolved.heat_kJ, in_water.heat_kJ, rtol=1e-3)


def test_hydrate_as_a_product_is_dissolved_in_the_pot_unless_told_solid() -> None:
    charges = [Charge("CuO", 79.545), Charge("H2SO4", 98.078, water_g=300.0)]
    made = react("CuO + H2SO4 + H2O -> CuSO4.5H2O", charges)
    assert made.pot.salt == "CuSO4"
    assert_allclose([made.pot.salt_g, made.pot.water_g], [159.61, 318.015], rtol=1e-4)
    assert_allclose([made.products[0].g, made.products[0].anhydrous_g], [249.68, 159.61], rtol=1e-4)
    solid = react("CuO + H2SO4 + H2O -> CuSO4.5H2O(s)", charges)
    assert_allclose(solid.pot.undissolved_g["CuSO4.5H2O"], 249.68, rtol=1e-4)
    assert_allclose(solid.pot.water_g, 300 - 4 * 18.015, rtol=1e-4)


@pytest.mark.parametrize(
    ("text", "charges", "gas", "words"),
    [
        ("MnO2 + HCl -> MnCl2 + Cl2 + H2O", ["MnO2", "HCl"], "Cl2", "poisonous"),
        ("Cu + HNO3 -> Cu(NO3)2 + NO + H2O", ["Cu", "HNO3"], "NO", "poisonous"),
        ("Cu + HNO3 -> Cu(NO3)2 + NO2 + H2O", ["Cu", "HNO3"], "NO2", "poisonous"),
        ("Cu + H2SO4 -> CuSO4 + SO2 + H2O", ["Cu", "H2SO4"], "SO2", "poisonous"),
        ("FeS + HCl -> FeCl2 + H2S", ["FeS", "HCl"], "H2S", "poisonous"),
        ("KCN + HCl -> KCl + HCN", ["KCN", "HCl"], "HCN", "kills"),
        ("H2O2 -> H2O + O2", ["H2O2"], "O2", "fiercely"),
        ("NaOH + NH4Cl -> NaCl + NH3(g) + H2O", ["NaOH", "NH4Cl"], "NH3", "poisonous"),
    ],
)
def test_each_gas_has_its_caution(text: str, charges: list[str], gas: str, words: str) -> None:
    made = react(text, [Charge(formula, 50.0, 200.0) for formula in charges])
    assert [one.formula for one in made.gas] == [gas]
    assert words in made.gas[0].caution
    assert any(warning.startswith(f"{gas},") and words in warning for warning in made.warnings)


def test_ammonia_stays_in_the_water_unless_told_to_leave() -> None:
    charges = [Charge("NaOH", 40.0, 100.0), Charge("NH4Cl", 53.5, 100.0)]
    stays = react("NaOH + NH4Cl -> NaCl + NH3 + H2O", charges)
    leaves = react("NaOH + NH4Cl -> NaCl + NH3 + H2O", charges, gases={"NH3"})
    assert stays.gas == ()
    assert_allclose(stays.pot.others_g["NH3"], 17.03, rtol=1e-3)
    assert "NH3" not in leaves.pot.others_g
    assert_allclose(leaves.gas[0].g, 17.03, rtol=1e-3)


def test_gas_led_in_and_not_used_leaves() -> None:
    made = react("FeCl2 + Cl2 -> FeCl3", [Charge("FeCl2", 126.75, 300.0), Charge("Cl2", 70.9)])
    assert_allclose(made.gas[0].mol, 0.5, rtol=1e-3)
    assert "poisonous" in made.gas[0].caution
    assert made.left_over[1].where == "gas"


def test_what_stays_undissolved() -> None:
    charges = [Charge("BaCl2", 20.8, 100.0), Charge("Na2SO4", 14.2, 100.0)]
    listed = react("BaCl2 + Na2SO4 -> BaSO4 + NaCl", charges)
    assert list(listed.pot.undissolved_g) == ["BaSO4"]
    assert listed.pot.salt == "NaCl"
    assert any("BaSO4" in note and "no source" in note for note in listed.notes)
    charges = [Charge("Ca(NO3)2", 16.4, 100.0), Charge("(NH4)2C4H4O6", 20.0, 100.0)]
    text = "Ca(NO3)2 + (NH4)2C4H4O6 -> CaC4H4O6 + NH4NO3"
    assert react(text, charges).pot.undissolved_g == {}
    told = react(text, charges, undissolved={"CaC4H4O6"})
    assert list(told.pot.undissolved_g) == ["CaC4H4O6"]
    assert not any("no source" in note and "CaC4H4O6" in note for note in told.notes)


def test_missing_heat_is_named() -> None:
    made = react("NaOH + C4H6O6 -> NaHC4H4O6 + H2O", [Charge("NaOH", 40.0, 100.0), Charge("C4H6O6", 150.0)])
    assert made.heat_kJ is None
    assert made.temperature_rise_K is None
    assert made.heat_missing == ("C4H6O6 (neat)", "NaHC4H4O6 (dissolved)")
    assert any("NaHC4H4O6 (dissolved)" in note for note in made.notes)


def test_a_reaction_that_cools_gives_negative_heat() -> None:
    made = react("NaHCO3 + HCl -> NaCl + CO2 + H2O", [Charge("NaHCO3", 84.0), Charge("HCl", 36.46, 200.0)])
    assert made.heat_kJ is not None
    assert made.heat_kJ < 0
    assert not any("raise the pot" in text for text in made.warnings)


def test_the_salt_of_the_pot() -> None:
    charges = [Charge("NaOH", 40.0, 100.0), Charge("CH3COOH", 60.05, 100.0)]
    made = react("NaOH + CH3COOH -> CH3COONa + H2O", charges)
    assert made.pot.salt == "NaC2H3O2"  # the catalogue's spelling
    assert made.products[0].formula == "CH3COONa"
    unknown = react("LiOH + HBr -> LiBr + H2O", [Charge("LiOH", 24.0, 100.0), Charge("HBr", 81.0, 100.0)])
    assert unknown.pot.salt == "LiBr"
    assert any("no saturation curve of LiBr" in text for text in unknown.warnings)
    known = react(
        "AgNO3 + 2 Na2S2O3 -> Na3Ag(S2O3)2 + NaNO3",
        [Charge("AgNO3", 17.0, 100.0), Charge("Na2S2O3", 31.6, 100.0)],
    )
    assert known.pot.salt == "NaNO3"
    acid = zinc(pot_salt="H2SO4")
    assert acid.pot.salt == "H2SO4"
    assert "ZnSO4" in acid.pot.others_g
    with pytest.raises(InputError, match=r"salt of the pot: got CuSO4.*ZnSO4"):
        zinc(pot_salt="CuSO4")


# ---- two steps ---------------------------------------------------------------------------------------------------


def solution(formula: str, mass_fraction: float, volume_mL: float) -> Charge:
    """So much of a reagent's solution at 20 °C, by the density model."""
    density = SolutionDensity.of(Reagents.bundled().find(formula).salt)
    mass_g = volume_mL * float(density.density_g_mL(mass_fraction, 20.0))
    return Charge(formula, mass_g * mass_fraction, mass_g * (1 - mass_fraction))


def test_iron_acid_and_peroxide_are_nearly_balanced() -> None:
    """Common practice, no source: 20 g of iron, 200 mL of 18.5 % HCl, 200 mL of 3 % H2O2."""
    first = react("Fe + 2 HCl -> FeCl2 + H2", [Charge("Fe", 20.0), solution("HCl", 0.185, 200.0)])
    assert first.limiting == "Fe"
    assert_allclose(first.gas[0].mol, 0.358, rtol=1e-3)
    second = react(
        "2 FeCl2 + H2O2 + 2 HCl -> 2 FeCl3 + 2 H2O", [solution("H2O2", 0.03, 200.0)], after=first.pot
    )
    left = {one.formula: one for one in second.left_over}
    assert 0 < left["HCl"].excess_percent < 15  # of what the second step needs, a third of the whole
    assert 0 < left["HCl"].mol / (3 * 0.358) < 0.05
    peroxide_mol = solution("H2O2", 0.03, 200.0).grams / mass_g_mol("H2O2")
    assert_allclose(peroxide_mol, 0.358 / 2, rtol=0.02)
    assert_allclose(second.products[0].mol, 0.358, rtol=0.01)
    assert second.pot.salt == "FeCl3"
    assert any("below 60 °C" in text for text in second.warnings)
    put_in = 20.0 + solution("HCl", 0.185, 200.0).mass_g + solution("H2O2", 0.03, 200.0).mass_g
    assert_allclose(second.pot.mass_g + first.gas[0].g, put_in, rtol=1e-12)


def test_dissolve_then_neutralise_the_free_acid() -> None:
    first = zinc()
    second = react("ZnO + H2SO4 -> ZnSO4 + H2O", [Charge("ZnO", 20.0)], after=first.pot)
    assert second.limiting == "H2SO4"
    assert second.pot.salt == "ZnSO4"
    assert_allclose(second.pot.salt_g, 1.2 * 161.44, rtol=1e-4)
    assert_allclose(second.pot.water_g, 500 + 0.2 * 18.015, rtol=1e-4)
    assert_allclose(second.pot.undissolved_g["ZnO"], 20 - 0.2 * 81.38, rtol=1e-3)
    assert second.pot.filtered().undissolved_g == {}
    assert second.pot.filtered().salt_g == second.pot.salt_g
    third = react("ZnO + H2SO4 -> ZnSO4 + H2O", [Charge("H2SO4", 1.0, 9.0)], after=second.pot)
    assert third.limiting == "H2SO4"
    assert third.pot.undissolved_g["ZnO"] < second.pot.undissolved_g["ZnO"]


def test_what_does_not_react_rides_along() -> None:
    pot = MadePot("ZnSO4", 100.0, 300.0, {"H2SO4": 9.8078, "sugar": 5.0}, {"sand": 2.0})
    made = react("H2SO4 + 2 NaOH -> Na2SO4 + 2 H2O", [Charge("NaOH", 8.0, 20.0, {"NaCl": 1.0})], after=pot)
    assert made.pot.salt == "Na2SO4"
    assert made.pot.others_g["ZnSO4"] == 100.0
    assert made.pot.others_g["sugar"] == 5.0
    assert made.pot.others_g["NaCl"] == 1.0
    assert made.pot.undissolved_g == {"sand": 2.0}
    assert_allclose(made.pot.mass_g, pot.mass_g + 29.0, rtol=1e-12)
    kept = react("H2SO4 + 2 NaOH -> Na2SO4 + 2 H2O", [Charge("NaOH", 8.0)], after=pot, pot_salt="ZnSO4")
    assert kept.pot.salt_g == 100.0


# ---- refusals ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("grams", [0.0, -1.0, float("nan"), float("inf")])
def test_amounts_must_be_above_zero(grams: float) -> None:
    with pytest.raises(InputError, match="amount of Zn"):
        Charge("Zn", grams)


@pytest.mark.parametrize("grams", [-1.0, float("nan"), float("inf")])
def test_what_comes_along_must_not_be_negative(grams: float) -> None:
    with pytest.raises(InputError, match="water with HCl"):
        Charge("HCl", 10.0, grams)
    with pytest.raises(InputError, match="NaCl with HCl"):
        Charge("HCl", 10.0, 5.0, {"NaCl": grams})


@pytest.mark.parametrize("conversion", [0.0, -0.1, 1.0001, float("nan")])
def test_conversion_lies_between_nothing_and_all(conversion: float) -> None:
    with pytest.raises(InputError, match=r"conversion.*more than 0 and at most 1"):
        zinc(conversion=conversion)


@pytest.mark.parametrize("lost", [1.0, -0.1, float("nan")])
def test_not_all_can_be_lost(lost: float) -> None:
    with pytest.raises(InputError, match=r"loss.*from 0 to less than 1"):
        zinc(lost_fraction=lost)


@pytest.mark.parametrize(
    ("how", "match"),
    [
        ({"room_C": float("nan")}, "room temperature"),
        ({"pressure_kPa": 0.0}, "pressure"),
        ({"hydrates": ["CuSO4.5H2O"]}, r"hydrate: got CuSO4.5H2O.*ZnSO4"),
        ({"undissolved": ["Xx"]}, "'Xx' is not an element's"),
    ],
)
def test_refuses_what_does_not_fit(how: dict, match: str) -> None:
    with pytest.raises(InputError, match=match):
        zinc(**how)


@pytest.mark.parametrize(
    ("charges", "match"),
    [
        ([Charge("Zn", 10.0)], "amount of H2SO4: got none.*stands on the left of Zn"),
        ([Charge("H2SO4", 10.0, 50.0)], "amount of Zn: got none"),
        ([Charge("Zn", 10.0), Charge("HCl", 10.0)], r"charge: got HCl.*a reagent of the equation \(Zn, H2SO4\)"),
        ([Charge("Zn", 10.0), Charge("h2so4", 10.0)], "did you mean H2SO4"),
    ],
)  # fmt: skip
def test_refuses_charges_that_do_not_fit(charges: list[Charge], match: str) -> None:
    with pytest.raises(InputError, match=match):
        react("Zn + H2SO4 -> ZnSO4 + H2", charges)


def test_water_without_amount_is_missing_too() -> None:
    with pytest.raises(InputError, match="amount of H2O: got none"):
        react("CaO + H2O -> Ca(OH)2", [Charge("CaO", 10.0)])
