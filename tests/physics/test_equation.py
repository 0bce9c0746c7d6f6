"""Equations: reading, exact balancing against a computer algebra system, refusals, and enthalpies of formation."""

from __future__ import annotations

import csv
from collections import Counter
from fractions import Fraction
from math import gcd

import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from crystal.data.catalogue import Catalogue, bundled_folder
from crystal.data.enthalpies import bundled_enthalpies
from crystal.data.fates import bundled_gases, bundled_insoluble
from crystal.errors import InputError
from crystal.physics.equation import Equation
from crystal.physics.formula import Hydrate
from crystal.physics.heat import enthalpy_of_formation_kJ_mol, heat_given_off_kJ, ions_of
from crystal.physics.species import Species
from crystal.physics.stoichiometry import elementary_balances, totals

SALTS = list(Catalogue.bundled().salts)
# Weak acids, molecules, and salts of ions that the data lack.
WITHOUT_IONS = {
    *("KCr(SO4)2", "Na2B4O7", "H3BO3", "C6H8O7", "H2C2O4", "C4H6O6", "KNaC4H4O6", "KHC4H4O6"),
    *("Na3C6H5O7", "C12H22O11", "CH4N2O", "C2H5NO2"),
}

EQUATIONS = [
    "Zn + H2SO4 -> ZnSO4 + H2",
    "Al + H2SO4 -> Al2(SO4)3 + H2",
    "Mg + HCl -> MgCl2 + H2",
    "Fe + HCl -> FeCl2 + H2",
    "FeCl2 + H2O2 + HCl -> FeCl3 + H2O",
    "FeSO4 + H2O2 + H2SO4 -> Fe2(SO4)3 + H2O",
    "CuO + H2SO4 -> CuSO4 + H2O",
    "CuO + H2SO4 + H2O -> CuSO4.5H2O",
    "CuCO3.Cu(OH)2 + H2SO4 -> CuSO4 + CO2 + H2O",
    "Cu + HNO3 -> Cu(NO3)2 + NO + H2O",
    "Cu + HNO3 -> Cu(NO3)2 + NO2 + H2O",
    "Cu + H2SO4 -> CuSO4 + SO2 + H2O",
    "Cu + H2O2 + H2SO4 -> CuSO4 + H2O",
    "Ag + HNO3 -> AgNO3 + NO + H2O",
    "Na2CO3 + HCl -> NaCl + CO2 + H2O",
    "Na2CO3.10H2O + HNO3 -> NaNO3 + CO2 + H2O",
    "CaCO3 + HNO3 -> Ca(NO3)2 + CO2 + H2O",
    "NaOH + H3PO4 -> Na3PO4 + H2O",
    "KOH + H3PO4 -> K2HPO4 + H2O",
    "Al + KOH + H2O -> KAl(OH)4 + H2",
    "Al + KOH + H2SO4 + H2O -> KAl(SO4)2.12H2O + H2",
    "FeSO4.7H2O + (NH4)2SO4 -> (NH4)2Fe(SO4)2.6H2O + H2O",
    "K2Cr2O7 + C2H5OH + H2SO4 + H2O -> KCr(SO4)2.12H2O + CH3CHO",
    "KMnO4 + HCl -> KCl + MnCl2 + Cl2 + H2O",
    "MnO2 + HCl -> MnCl2 + Cl2 + H2O",
    "KMnO4 + FeSO4 + H2SO4 -> K2SO4 + MnSO4 + Fe2(SO4)3 + H2O",
    "K2Cr2O7 + FeSO4 + H2SO4 -> K2SO4 + Cr2(SO4)3 + Fe2(SO4)3 + H2O",
    "K4Fe(CN)6 + Cl2 -> K3[Fe(CN)6] + KCl",
    "K4Fe(CN)6 + H2SO4 + H2O -> K2SO4 + FeSO4 + (NH4)2SO4 + CO",
    "Na2S2O3 + I2 -> Na2S4O6 + NaI",
    "Na2B4O7.10H2O + HCl -> NaCl + H3BO3 + H2O",
    "FeCl3.3.5H2O -> FeCl3 + H2O",
    "C6H8O7 + NaHCO3 -> Na3C6H5O7 + CO2 + H2O",
    "CuSO4 + NH3 + H2O -> Cu(NH3)4SO4.H2O",
    "P4 + HNO3 + H2O -> H3PO4 + NO",
    "FeS2 + O2 -> Fe2O3 + SO2",
    "Ca3(PO4)2 + H2SO4 -> CaSO4 + H3PO4",
    "Ca5(PO4)3F + H2SO4 -> CaSO4 + H3PO4 + HF",
]


def balanced_by_sympy(equation: Equation) -> list[int]:
    """The null space of the element matrix, exact, scaled to the smallest whole numbers."""
    sympy = pytest.importorskip("sympy")
    terms = [*equation.reactants, *equation.products]
    signs = [1] * len(equation.reactants) + [-1] * len(equation.products)
    symbols = sorted({symbol for term in terms for symbol in term.species.atoms})
    matrix = sympy.Matrix(
        [
            [
                sign * sympy.Rational(*term.species.atoms.get(symbol, Fraction(0)).as_integer_ratio())
                for sign, term in zip(signs, terms, strict=True)
            ]
            for symbol in symbols
        ]
    )
    (vector,) = matrix.nullspace()
    scaled = vector * sympy.ilcm(*(entry.q for entry in vector))
    whole = [int(entry) // gcd(*(int(n) for n in scaled)) for entry in scaled]
    sign = 1 if whole[0] > 0 else -1
    return [sign * n for n in whole]


def agrees_with_sympy(text: str) -> bool:
    equation = Equation.parse(text)
    ours = [term.coefficient for term in (*equation.reactants, *equation.products)]
    return ours == balanced_by_sympy(equation)


@pytest.mark.parametrize("text", EQUATIONS)
def test_balances_as_a_computer_algebra_system_does(text: str) -> None:
    assert agrees_with_sympy(text)


def test_the_comparison_is_made_on_many_equations() -> None:
    assert len(set(EQUATIONS)) >= 30


@pytest.mark.parametrize(
    ("text", "balanced"),
    [
        ("2 Al + 3 H2SO4 = Al2(SO4)3 + 3 H2", "2 Al + 3 H2SO4 -> Al2(SO4)3 + 3 H2"),
        ("2Al+3H2SO4→Al2(SO4)3+3H2", "2 Al + 3 H2SO4 -> Al2(SO4)3 + 3 H2"),
        ("N2 + H2 ⇌ NH3", "N2 + 3 H2 -> 2 NH3"),
        ("H2 + 1/2 O2 -> H2O", "H2 + 1/2 O2 -> H2O"),
        ("H2 + ½ O2 -> H2O", "H2 + 1/2 O2 -> H2O"),
        ("H2 + 0.5 O2 => H2O", "H2 + 1/2 O2 -> H2O"),
        ("4 Zn + 4 H2SO4 -> 4 ZnSO4 + 4 H2", "4 Zn + 4 H2SO4 -> 4 ZnSO4 + 4 H2"),
        ("Zn(s) + H2SO4 (aq) -> ZnSO4(aq) + H2↑", "Zn + H2SO4 -> ZnSO4 + H2"),
        ("CuSO₄·5H₂O -> CuSO4 + H2O", "CuSO4.5H2O -> CuSO4 + 5 H2O"),
        (
            "2 KClO3 + 4 HCl -> 2 KCl + 2 ClO2 + Cl2 + 2 H2O",
            "2 KClO3 + 4 HCl -> 2 KCl + 2 ClO2 + Cl2 + 2 H2O",
        ),
    ],
)
def test_reads_what_chemists_write(text: str, balanced: str) -> None:
    assert str(Equation.parse(text)) == balanced
    assert str(Equation.parse(balanced)) == balanced


def test_ambiguous_but_balanced_as_written_is_kept_and_said() -> None:
    text = "CaO + MgO + CO2 + SO3 -> CaCO3 + MgSO4"
    equation = Equation.parse(text)
    assert str(equation) == text
    assert "CaO + CO2 -> CaCO3; MgO + SO3 -> MgSO4" in equation.note
    assert Equation.parse("2 CaO + MgO + 2 CO2 + SO3 -> 2 CaCO3 + MgSO4").note == ""


@pytest.mark.parametrize(
    ("text", "match"),
    [
        ("2 Fe + HCl -> FeCl2 + H2", r"Cl has 1 on the left and 2 on the right.*balanced it reads Fe \+ 2 HCl -> FeCl2 \+ H2"),
        ("Zn + HCl -> ZnSO4 + H2", "Cl stands only on the left, O stands only on the right, S stands only"),
        ("2 Zn + HCl -> ZnCl2", "H stands only on the left"),
        ("KClO3 + HCl -> KCl + Cl2 + ClO2 + H2O", r"mixes 2 reactions.*5 KClO3 \+ 6 HCl.*KClO3 \+ 6 HCl.*write the coefficients"),
        ("KClO3 + 5 HCl -> KCl + Cl2 + ClO2 + H2O", r"Cl has 6 on the left and 4 on the right.*mixes 2 reactions"),
        ("NaCl -> NaCl2", "no amounts above 0.*Cl has 1 on the left and 2 on the right"),
        ("2 NaCl -> 2 NaCl2", "no amounts of these substances balance"),
        ("CuO + H2SO4 -> CuSO4.5H2O", "no amounts above 0 make it so"),
        ("H2 + O2 + N2 -> H2O + N2O + N2O4 + H2O2 + NH3 + O3 + HNO3", "mixes"),
        ("Zn + CuSO4 + Fe -> ZnSO4 + Cu + Zn2Fe5S", "no amount above 0 of Fe, Zn2Fe5S fits"),
        ("Zn + 2H+ -> Zn2+ + H2", "charges and electrons are not used"),
        ("Zn^2+ + 2 OH- -> Zn(OH)2", "neutral"),
        ("Zn²⁺ + SO4²⁻ -> ZnSO4", "neutral"),
        ("Fe + e- -> Fe", "neutral"),
        ("Fe + 2e-->Fe", "neutral"),
        ("Fe2+ + 2 e- = Fe", "neutral"),
        ("Zn H2SO4", "no arrow"),
        ("Zn -> ZnO -> ZnSO4", "2 arrows"),
        ("-> ZnO", "the left is empty"),
        ("Zn + H2SO4 ->", "the right is empty"),
        ("0 Zn + HCl -> ZnCl2 + H2", "coefficients above 0"),
        ("1/0 Zn + HCl -> ZnCl2 + H2", "coefficients above 0"),
        ("Zn + 2 -> ZnCl2", "a formula behind the number"),
        ("Zn + H2O + H2SO4 -> ZnSO4 + H2 + H2O", "H2O is written twice"),
        ("Fe2(So4)3 + NaOH -> Fe(OH)3 + Na2SO4", r"did you mean Fe2\(SO4\)3\?"),
        ("nacl -> Na + Cl2", "did you mean NaCl"),
        ("Xy + O2 -> XyO", "'Xy' is not an element's"),
        ("coinsfhonscpb" * 4 + " -> Co", "is not an element's, for example"),
        ("Al2(SO4 -> Al", "bracket"),
        ("Al2SO4)3 -> Al", "bracket"),
        ("Al2(SO4]3 -> Al", "bracket"),
        ("Ca()2 -> Ca", "bracket"),
        ("H0 -> H", "count, above 0"),
        ("CuSO4.0H2O -> CuSO4", "counts above 0"),
        ("CuSO4.xH2O -> CuSO4 + H2O", "'x' is not an element's"),
        ("Zn & HCl -> ZnCl2", "element symbols with counts"),
        (" + ".join(f"H{n}" for n in range(1, 18)) + " -> H40", "16 substances at most"),
    ],
)  # fmt: skip
def test_refuses(text: str, match: str) -> None:
    with pytest.raises(InputError, match=match):
        Equation.parse(text)


@given(st.text(alphabet="HOSZnFe0123456789()[]+-> .·=^/½(aq)s", max_size=40))
def test_any_text_is_read_and_balanced_or_refused(text: str) -> None:
    try:
        equation = Equation.parse(text)
    except InputError:
        return
    on_left, on_right = (
        totals([term.coefficient for term in side], [term.species.atoms for term in side])
        for side in (equation.reactants, equation.products)
    )
    assert on_left == on_right


BODIES = st.recursive(
    st.lists(
        st.tuples(st.sampled_from(["H", "O", "Fe", "Cl", "S", "Na", "Co", "C"]), st.integers(1, 12)),
        min_size=1,
        max_size=3,
    ),
    lambda inner: st.lists(st.tuples(inner, st.integers(1, 4)), min_size=1, max_size=2),
    max_leaves=4,
)


def _written(body: list, opening: str = "(") -> tuple[str, dict[str, int]]:
    """A formula of nested groups and what it must count up to."""
    text, atoms = "", {}
    for part, number in body:
        if isinstance(part, str):
            inner_text, inner = part, {part: 1}
        else:
            inner_text, inner = _written(part, "[" if opening == "(" else "(")
            inner_text = f"{opening}{inner_text}{')' if opening == '(' else ']'}"
        text += inner_text + (str(number) if number > 1 else "")
        for symbol, n in inner.items():
            atoms[symbol] = atoms.get(symbol, 0) + number * n
    return text, atoms


@given(BODIES, st.integers(0, 24))
def test_formulas_of_nested_groups_count_up(body: list, half_waters: int) -> None:
    text, atoms = _written(body)
    if half_waters:
        text += f".{half_waters / 2:g}H2O"
        atoms["H"] = atoms.get("H", 0) + half_waters
        atoms["O"] = atoms.get("O", 0) + Fraction(half_waters, 2)
    species = Species.parse(text)
    assert species.atoms == atoms
    assert species.waters == Fraction(half_waters, 2)


@pytest.mark.parametrize(
    "formula", ["CuSO4.5H2O", "FeCl3.3.5H2O", "KAl(SO4)2.12H2O", "NaCl", "Ca5(PO4)3F", "CdSO4.2.6666667H2O"]
)
def test_molar_masses_agree_with_the_hydrates(formula: str) -> None:
    assert_allclose(
        Species.parse(formula).molar_mass_g_mol, Hydrate.parse(formula).molar_mass_g_mol, rtol=1e-12
    )


ELEMENTS = ("H", "O", "S", "Fe", "Na")


@st.composite
def balanced(draw: st.DrawFn) -> tuple[list[dict], list[dict], list[int]]:
    """Random substances of which the last is made so that random whole coefficients balance."""
    left_count, right_count = draw(st.integers(1, 4)), draw(st.integers(0, 3))
    count = left_count + right_count
    numbers = draw(st.lists(st.integers(1, 9), min_size=count, max_size=count))
    substance = st.dictionaries(st.sampled_from(ELEMENTS), st.integers(1, 6), min_size=1, max_size=4)
    columns = [draw(substance) for _ in range(count)]
    rest = {
        symbol: sum((n if i < left_count else -n) * columns[i].get(symbol, 0) for i, n in enumerate(numbers))
        for symbol in ELEMENTS
    }
    given_left = {symbol: Fraction(-n) for symbol, n in rest.items() if n < 0}
    given_right = {symbol: Fraction(n) for symbol, n in rest.items() if n > 0}
    fractions = [{symbol: Fraction(n) for symbol, n in column.items()} for column in columns]
    left, right = fractions[:left_count], fractions[left_count:]
    order = numbers[:left_count]
    if given_left:
        left, order = [*left, given_left], [*order, 1]
    order = [*order, *numbers[left_count:]]
    if given_right or not right:
        right, order = [*right, given_right], [*order, 1]
    return left, right, order


@given(balanced())
def test_every_balance_is_exact_and_none_is_missed(case: tuple[list[dict], list[dict], list[int]]) -> None:
    """Each elementary balance adds up, exactly; the known balance is a non-negative sum of them."""
    left, right, known = case
    rays = elementary_balances(left, right)
    assert rays
    for ray in rays:
        assert any(ray)
        assert min(ray) >= 0
        assert gcd(*ray) == 1
        on_left, on_right = totals(ray[: len(left)], left), totals(ray[len(left) :], right)
        symbols = {*on_left, *on_right}
        assert {s: on_left.get(s, 0) for s in symbols} == {s: on_right.get(s, 0) for s in symbols}
    remaining = [Fraction(n) for n in known]
    while any(remaining):  # takes out one elementary balance after another; each pass empties one place
        inside = [ray for ray in rays if all(r or not x for x, r in zip(ray, remaining, strict=True))]
        assert inside, (rays, remaining)
        step = min(r / x for x, r in zip(inside[0], remaining, strict=True) if x)
        remaining = [r - step * x for x, r in zip(inside[0], remaining, strict=True)]
        assert min(remaining) >= 0


def test_proportions() -> None:
    equation = Equation.parse("2 Al + 3 H2SO4 -> Al2(SO4)3 + 3 H2")
    found = equation.proportions_mol("H2SO4", 1.5)
    assert {formula: round(mol, 12) for formula, mol in found.items()} == {
        "Al": 1.0, "H2SO4": 1.5, "Al2(SO4)3": 0.5, "H2": 1.5,
    }  # fmt: skip
    with pytest.raises(InputError, match="one of the equation's: Al, H2SO4"):
        equation.proportions_mol("Zn", 1.0)


# Magnetite stands in the library's list with eight hydrogens too many.
# Zinc nitrate hexahydrate is written there with one nitrate too few; potassium carbonate sesquihydrate for two units.
SLIPS_OF_THE_LIBRARY = {"1317-61-9", "10196-18-6", "6381-79-9"}


def _rows() -> list[dict[str, str]]:
    with (bundled_folder() / "enthalpies.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def test_formulas_of_the_enthalpies_fit_their_registry_numbers() -> None:
    """The formulas are ours, the CAS numbers the source's: held against the chemicals library's list."""
    chemicals = pytest.importorskip("chemicals")
    checked = 0
    for row, record in zip(_rows(), bundled_enthalpies(), strict=True):
        if record.ion is not None or row["cas"] in SLIPS_OF_THE_LIBRARY:
            continue
        try:
            listed = chemicals.search_chemical(row["cas"]).formula
        except ValueError:
            continue
        ours = Species.parse(row["formula"])
        off = Counter(ours.atoms)
        off.subtract(Species.parse(listed).atoms)
        # The library writes some hydrates with one water, whatever they hold: so much water may be missing there.
        waters = off["O"] if ours.waters else 0
        assert +off == +Counter({"H": 2 * waters, "O": waters}), row
        assert min(off.values()) >= 0, row
        checked += 1
    assert checked > 100


def test_every_listed_formula_is_read() -> None:
    formulas = [gas.formula for gas in bundled_gases()] + list(bundled_insoluble())
    formulas += [record.ion[0] if record.ion else record.formula for record in bundled_enthalpies()]
    assert len(formulas) > 300
    for formula in formulas:
        assert Species.parse(formula).counts, formula


@pytest.mark.parametrize("formula", SALTS)
def test_ions_add_up_to_their_salt(formula: str) -> None:
    species = Species.parse(formula)
    ions = ions_of(species)
    if ions is None:
        assert formula in WITHOUT_IONS
        return
    assert sum(number * ion.charge for number, ion in ions) == 0
    atoms: dict[str, Fraction] = {}
    for number, ion in ions:
        for symbol, n in ion.counts:
            atoms[symbol] = atoms.get(symbol, Fraction(0)) + number * n
    assert atoms == species.atoms


@pytest.mark.parametrize(
    ("text", "expected_kJ", "tolerance_kJ"),
    [
        # 55.8 kJ per mole of water: strong acid and strong base, any textbook of general chemistry; from memory.
        ("HCl + NaOH -> NaCl + H2O", 55.8, 0.3),
        ("HNO3 + KOH -> KNO3 + H2O", 55.8, 0.3),
        # 218.7 kJ: zinc displaces copper (Daniell cell), textbook value; from memory.
        ("Zn + CuSO4 -> ZnSO4 + Cu", 218.7, 1.0),
        # 153.9 kJ: zinc in dilute acid, CRC Handbook, enthalpy of formation of the zinc ion.
        ("Zn + H2SO4 -> ZnSO4 + H2", 153.9, 0.1),
        # 98 kJ per mole of liquid, less its heat of dissolving (3.4): peroxide's decay, textbook value; from memory.
        ("H2O2 -> H2O + 1/2 O2", 94.6, 0.5),
    ],
)
def test_heats_of_well_known_reactions(text: str, expected_kJ: float, tolerance_kJ: float) -> None:
    equation = Equation.parse(text)
    state = {"H2O": "l", "H2": "g", "O2": "g", "Zn": "s", "Cu": "s"}
    amounts = [
        (sign * float(term.coefficient), term.species, state.get(term.species.formula, "aq"))
        for sign, side in ((-1, equation.reactants), (1, equation.products))
        for term in side
    ]
    heat_kJ, missing = heat_given_off_kJ(amounts)
    assert missing == ()
    assert heat_kJ is not None
    assert_allclose(heat_kJ, expected_kJ, atol=tolerance_kJ)


def test_heats_that_are_not_known_name_what_is_missing() -> None:
    tartaric = Species.parse("C4H6O6")
    assert enthalpy_of_formation_kJ_mol(tartaric, "aq") is None
    assert heat_given_off_kJ([(-1.0, tartaric, "aq"), (1.0, Species.parse("H2O"), "l")]) == (
        None,
        ("C4H6O6 (dissolved)",),
    )
    cancels = [(-0.3, tartaric, "aq"), (0.1, tartaric, "aq"), (0.2, tartaric, "aq")]
    heat_kJ, missing = heat_given_off_kJ([*cancels, (1.0, Species.parse("H2O"), "l")])
    assert missing == ()
    assert_allclose(heat_kJ, 285.8)


def test_no_ammonium_where_none_is_written_and_no_ions_of_weak_acids() -> None:
    assert ions_of(Species.parse("CH4N2O")) is None  # urea, made of the atoms of ammonium cyanate
    assert [ion.formula for _, ion in ions_of(Species.parse("NH4OCN")) or ()] == ["NH4+", "OCN-"]
    assert ions_of(Species.parse("CH3COOH")) is None
    assert ions_of(Species.parse("HF")) is None
    assert [ion.formula for _, ion in ions_of(Species.parse("H2SO4")) or ()] == ["H+", "SO4-2"]
