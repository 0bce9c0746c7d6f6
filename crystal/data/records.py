"""The records that the data layer hands out: frozen, in fixed units, with their provenance."""

from __future__ import annotations

from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True)
class Point:
    """One liquid in equilibrium with a solid: temperature in °C and mass fraction of anhydrous salt.

    ``kind`` is one of ``saturated``, ``eutectic``, ``peritectic``, ``congruent``.
    """

    temperature_C: float
    mass_fraction: float
    kind: str = "saturated"
    source: str = ""
    provenance: str = ""
    note: str = ""

    @property
    def is_invariant(self) -> bool:
        """Whether another solid joins here, or the solid melts to its own composition."""
        return self.kind != "saturated"


@dataclass(frozen=True, slots=True)
class Branch:
    """The points of one solid's saturated liquids, ordered along the branch from its dilute end."""

    phase: str
    points: tuple[Point, ...]
    metastable: bool = False


@dataclass(frozen=True, slots=True)
class Phase:
    """A solid: formula with its water (``CuSO4.5H2O``, ``NiSO4.6H2O-alpha``, ``ice``).

    ``waters`` is moles of water per formula unit of anhydrous salt, None for ice.
    ``solid_density_g_mL`` is None where no source gives it.
    """

    formula: str
    waters: float | None
    name: str = ""
    solid_density_g_mL: float | None = None
    density_source: str = ""
    density_provenance: str = ""
    note: str = ""

    @property
    def is_ice(self) -> bool:
        return self.waters is None


@dataclass(frozen=True, slots=True)
class DensityFit:
    """Laliberté's parameters for one solute, and the range that they were fitted over."""

    solute: str
    c0: float
    c1: float
    c2: float
    c3: float
    c4: float
    t_min_C: float
    t_max_C: float
    max_mass_fraction: float
    source: str = ""
    published_as: str = ""


@dataclass(frozen=True, slots=True)
class DensityPoints:
    """Densities of one solute's solutions at one temperature, where no fit is known."""

    solute: str
    temperature_C: float
    mass_fractions: tuple[float, ...]
    densities_g_mL: tuple[float, ...]
    source: str = ""


@dataclass(frozen=True, slots=True)
class DensityShare:
    """One simple solute's part in a salt's solution density: ``moles`` of it per mole of the salt."""

    moles: float
    solute: DensityFit | DensityPoints


@dataclass(frozen=True, slots=True)
class Caution:
    """One caution: ``kind`` is heat, acid, harm, fire or waste."""

    kind: str
    text: str
    source: str = ""
    provenance: str = ""


@dataclass(frozen=True, slots=True)
class Salt:
    """Everything the data hold on one salt in water; blanks are unknown, not zero.

    ``formula`` is the anhydrous salt. ``density_shares`` is empty where the solution's density is unknown.
    """

    formula: str
    name: str
    common_names: tuple[str, ...] = ()
    cas: str = ""
    phases: tuple[Phase, ...] = ()
    branches: tuple[Branch, ...] = ()
    density_shares: tuple[DensityShare, ...] = ()
    heat_limit_C: float | None = None
    heat_limit_reason: str = ""
    curve_doubt_mass_fraction: float | None = None
    curve_doubt_basis: str = ""
    ghs_codes: tuple[str, ...] = ()
    ghs_source: str = ""
    cautions: tuple[Caution, ...] = ()
    note: str = ""
    origin: str = ""
    extra: dict[str, str] = field(default_factory=dict, hash=False)

    def phase(self, formula: str) -> Phase:
        """Return the phase of that formula; KeyError where the salt has none such."""
        for phase in self.phases:
            if phase.formula == formula:
                return phase
        raise KeyError(formula)

    def branch(self, formula: str, *, metastable: bool = False) -> Branch | None:
        """Return that phase's branch, or None where the data hold no points for it."""
        for branch in self.branches:
            if branch.phase == formula and branch.metastable == metastable:
                return branch
        return None
