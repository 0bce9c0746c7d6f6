"""Two salts parted by turns of boiling down hot and cooling, each turn stopped while one of them still comes alone."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from crystal.bench.set_free import gas_cautions, refuse_cyanide
from crystal.bench.shift import NEAR_ROOM_K, notes_on
from crystal.errors import InputError
from crystal.physics.formula import WATER_G_MOL, molar_mass_g_mol
from crystal.physics.several import Several

Floats = NDArray[np.float64]

HELD_G_PER_G = 0.12
"""Liquor that clings to a gram of pressed crystals, g; common practice, no source."""

MARGIN = 0.03
"""Water kept above what would bring the other salt in, as a share; common practice, no source."""

LEAST_SHARE = 0.02
"""A turn that wins less of what was put in, by mass, is not made."""

MOST_TURNS = 8
_DRIEST, _SCAN, _NARROWINGS = 0.02, 121, 4


@dataclass(frozen=True, slots=True)
class Turn:
    """One turn: water taken out (``water_removed_g``; negative: added), the temperature, the crystals that come alone.

    ``purity_percent`` is of the crystals pressed and dried with the liquor that clings to them; ``yield_percent`` of the
    most of that salt that the pot's ions could ever make. ``liquor_percent`` is mass % of each salt-ion pair of the
    liquor left, by the names of the salts told, None for a pair without a common ion.
    """

    boiled: bool
    temperature_C: float
    water_removed_g: float
    salt: str
    solid: str
    crystals_g: float
    purity_percent: float
    yield_percent: float
    liquor_g: float
    liquor_percent: tuple[float, float] | None


@dataclass(frozen=True, eq=False)
class Separation:
    """The turns, what they win of each salt, and what is left."""

    salts_g: dict[str, float]
    water_g: float
    hot_C: float
    cold_C: float
    turns: tuple[Turn, ...]
    left_g: dict[str, float]
    left_water_g: float
    warnings: tuple[str, ...]
    several: Several

    @classmethod
    def of(
        cls,
        salts_g: Mapping[str, float],
        water_g: float,
        hot_C: float,
        cold_C: float,
        *,
        held_g_per_g: float = HELD_G_PER_G,
        most_turns: int = MOST_TURNS,
    ) -> Separation:
        """Plan a separation.

        Parameters
        ----------
        salts_g : mapping of str to float
            Grams of two anhydrous salts of the catalogue.
        water_g : float
            Water that they are dissolved in, g.
        hot_C, cold_C : float
            Temperatures of boiling down (crystals are filtered off hot) and of cooling, °C.
        held_g_per_g : float
            Liquor that clings to a gram of crystals.
        most_turns : int
            Turns at most.

        Raises
        ------
        InputError
            Where the two are not a pair that can be reckoned with.
        CoverageError
            Where the data of one of them do not reach a temperature.

        Notes
        -----
        A turn at the temperature not used last is made as far as one salt comes alone, with 3 % of water to spare;
        the first is the one that wins more.

        Examples
        --------
        >>> found = Separation.of({"KNO3": 100.0, "NaCl": 60.0}, 300.0, 100.0, 5.0)
        >>> [(turn.boiled, turn.salt) for turn in found.turns][:2]
        [(False, 'KNO3'), (True, 'NaCl')]
        """
        if len(salts_g) != 2:
            raise InputError(
                "separate", f"{len(salts_g)} salts", "two different salts", '"100 g of KNO3" "60 g of NaCl"'
            )
        if not cold_C < hot_C:
            raise InputError(
                "--cool-to", f"{cold_C:g} degC", f"colder than boiling down at {hot_C:g} degC", '"5 degC"'
            )
        first, second = salts_g
        refuse_cyanide(first, [second])
        several = Several(list(salts_g))
        mol = {salt: grams / molar_mass_g_mol(salt) for salt, grams in salts_g.items()}
        ions, water = several.ions_of(mol), water_g / 1000.0
        whole, put_in = ions.copy(), sum(salts_g.values())
        turns: list[Turn] = []
        while len(turns) < most_turns:
            tried = [
                one
                for boiled, t in ((True, hot_C), (False, cold_C))
                if not turns or turns[-1].boiled != boiled
                if (one := _turn(several, ions, water, t, None if boiled else hot_C)) is not None
            ]
            tried = [one for one in tried if one.grams >= LEAST_SHARE * put_in]
            if not tried:
                break
            best = max(tried, key=lambda one: one.grams)
            turn, ions, water = _made(several, best, whole, held_g_per_g, first, second)
            turns.append(turn)
        found = cls(
            dict(salts_g),
            water_g,
            hot_C,
            cold_C,
            tuple(turns),
            _as_salts(several, ions),
            1000.0 * water,
            (),
            several,
        )
        return cls(**{**found.__dict__, "warnings": tuple(_warnings(found))})

    def won(self) -> dict[str, tuple[float, float, float]]:
        """For each salt that came: crystals, g, yield, %, and the purity of them all together, %."""
        found: dict[str, tuple[float, float, float]] = {}
        for turn in self.turns:
            grams, share, pure = found.get(turn.salt, (0.0, 0.0, 0.0))
            found[turn.salt] = (
                grams + turn.crystals_g,
                share + turn.yield_percent,
                pure + turn.crystals_g * turn.purity_percent,
            )
        return {salt: (g, share, pure / g) for salt, (g, share, pure) in found.items()}


@dataclass(frozen=True, eq=False)
class _Tried:
    boiled: bool
    temperature_C: float
    ions: Floats
    water: float
    removed: float
    candidate: int
    mol: float
    grams: float


def _turn(
    several: Several, ions: Floats, water: float, temperature_C: float, clear_at_C: float | None
) -> _Tried | None:
    """As far as one salt comes alone at a temperature, after being clear at another if told; None where none does."""
    boiled = clear_at_C is None
    salts = np.array([c.salt for c in several.candidates])
    # Hot, water can only leave; before cooling some may be put in to hold the other salt back.
    most = water if boiled else 3.0 * water
    low, high = np.log(_DRIEST * water), np.log(most)
    for turn in range(_NARROWINGS):
        tried = np.exp(np.linspace(high, low, _SCAN if turn == 0 else 21))
        many = np.repeat(ions[:, None], len(tried), axis=1)
        state = several.standing(many, tried, temperature_C)
        stands = state.solids_mol > 1e-12 * ions.sum()
        alone = np.array([len(set(salts[stands[:, k]])) for k in range(len(tried))])
        bad = (alone > 1) | state.dry
        if clear_at_C is not None:
            hot = several.standing(many, tried, clear_at_C)
            bad |= hot.dry | (hot.solids_mol > 1e-12 * ions.sum()).any(axis=0)
        k = int(np.argmax(bad)) if bad.any() else len(tried)
        if k == 0:
            return None
        if k == len(tried):
            break
        low, high = np.log(tried[k]), np.log(tried[k - 1])
    stop = float(np.exp(high)) * (1.0 + MARGIN if bad.any() else 1.0)
    stop = min(stop, most)
    state = several.standing(ions, stop, temperature_C)
    if bool(state.dry) or not (state.solids_mol > 0).any():
        return None
    which = int(np.argmax(state.solids_mol))
    # One hydrate of that salt or two: told by the one with most of it, all counted.
    same = salts == salts[which]
    mol = float(state.solids_mol[same].sum())
    grams = mol * several.candidates[which].products.molar_mass_g_mol
    return _Tried(boiled, temperature_C, ions, stop, water - stop, which, mol, grams)


def _made(
    several: Several, tried: _Tried, whole: Floats, held: float, first: str, second: str
) -> tuple[Turn, Floats, float]:
    """The turn with its crystals taken out, and the ions and water that go on."""
    state = several.standing(tried.ions, tried.water, tried.temperature_C)
    crystals_g = sum(
        float(n) * c.molar_mass_g_mol for n, c in zip(state.solids_mol, several.candidates, strict=True)
    )
    dissolved_g = sum(_as_salts(several, state.liquor_mol).values())
    liquor_g = float(dissolved_g + 1000.0 * float(state.water_kg))
    share = min(held * crystals_g / liquor_g, 1.0)
    one = several.candidates[tried.candidate]
    own_dry = tried.mol * one.products.molar_mass_g_mol
    # Of what clings, the same salt is no impurity.
    clinging = share * dissolved_g
    own_clinging = share * _same_salt_g(several, state.liquor_mol, one.salt)
    purity = float(100.0 * (own_dry + own_clinging) / (own_dry + clinging))
    most = min(float(w) / n for w, n in zip(whole, one.ions, strict=True) if n > 0)
    left = state.liquor_mol * (1.0 - share)
    turn = Turn(
        tried.boiled, tried.temperature_C, float(1000.0 * tried.removed), one.salt, one.formula, crystals_g, purity,
        float(100.0 * tried.mol / most), liquor_g * (1.0 - share), liquor_percent(several, state.liquor_mol, liquor_g, first, second),
    )  # fmt: skip
    return turn, left, float(state.water_kg) * (1.0 - share)


def _same_salt_g(several: Several, liquor_mol: Floats, salt: str) -> float:
    """As much of a salt as a liquor's ions could be counted as, g."""
    counts = next(c.ions for c in several.candidates if c.salt == salt)
    return min(float(m) / n for m, n in zip(liquor_mol, counts, strict=True) if n > 0) * molar_mass_g_mol(
        salt
    )


def _as_salts(several: Several, ions_mol: Floats) -> dict[str, float]:
    """Ions counted as salts, g: as the two that were told, and where that does not do as those of the exchange.

    Which salt an ion is counted under is a convention; the sum of grams is not.
    """
    left = np.asarray(ions_mol, float).copy()
    found: dict[str, float] = {}
    order = [*several.salts, *(c.salt for c in several.candidates if c.salt not in several.salts)]
    for salt in dict.fromkeys(order):
        counts = next(c.ions for c in several.candidates if c.salt == salt)
        mol = max(min(float(m) / n for m, n in zip(left, counts, strict=True) if n > 0), 0.0)
        left -= mol * counts
        if mol > 0:
            found[salt] = float(mol) * molar_mass_g_mol(salt)
    return found


def liquor_percent(
    several: Several, liquor_mol: Floats, liquor_g: float, first: str, second: str
) -> tuple[float, float] | None:
    """Mass % of two salts with a common ion in a liquor; None for a pair without one."""
    if len(several.ions) != 3:
        return None
    grams = []
    for salt, other in ((first, second), (second, first)):
        mine = next(c.ions for c in several.candidates if c.salt == salt)
        theirs = next(c.ions for c in several.candidates if c.salt == other)
        own = np.flatnonzero((mine > 0) & (theirs == 0))[0]
        grams.append(100.0 * float(liquor_mol[own] / mine[own]) * molar_mass_g_mol(salt) / liquor_g)
    return grams[0], grams[1]


def _warnings(found: Separation) -> list[str]:
    first, second = found.salts_g
    said = []
    if not found.turns:
        said.append(
            f"At neither temperature does one of the two come alone in a worthwhile amount: {first} and {second} are not "
            "parted this way."
        )
    said += [
        f"Known of {note.system}: {note.statement}. Solids that are not in the data, double salts among them, are not "
        "reckoned with."
        for note in notes_on(first, (second,))
    ]
    away = max(abs(found.hot_C - 25.0), abs(found.cold_C - 25.0))
    if away > NEAR_ROOM_K:
        said.append(
            f"What the salts do to each other is reckoned with parameters of 25 °C, up to {away:.0f} K away: take a tenth off "
            "each yield as its doubt, and more for strong hot liquors."
        )
    exchanged = sorted({turn.salt for turn in found.turns} - set(found.salts_g))
    if exchanged:
        verb = ("comes", "was") if len(exchanged) == 1 else ("come", "were")
        said.append(
            f"The ions change partners: {' and '.join(exchanged)} {verb[0]}, which {verb[1]} not put in."
        )
    added = [turn for turn in found.turns if turn.water_removed_g < -1e-6 * found.water_g]
    if added:
        said.append(
            "Where water is added it keeps the other salt dissolved on cooling: add it to the hot filtered liquor."
        )
    said.append(
        "Crystals of a hot turn are filtered off hot, through a warmed funnel, or the other salt joins them."
    )
    return said + gas_cautions(first, [second])


def isotherm_percent(
    several: Several, first: str, second: str, temperature_C: float, points: int = 61
) -> list[Floats]:
    """Saturated liquors of two salts with a common ion at a temperature, one array (2, n) of mass % for each solid.

    Raises
    ------
    InputError
        Where the two share no ion.
    """
    if len(several.ions) != 3:
        raise InputError(
            "--chart",
            f"{first} and {second}",
            "a pair with a common ion: others do not fit on a plane",
            "NaCl KCl",
        )
    lines: dict[str, list[tuple[float, float]]] = {}
    for rich, poor in ((first, second), (second, first)):
        much = np.full(points, _plenty(several, rich, temperature_C))
        some = np.linspace(0.0, 1.0, points) ** 1.5 * _plenty(several, poor, temperature_C)
        state = several.standing(several.ions_of({rich: much, poor: some}), np.ones(points), temperature_C)
        for k in range(points):
            if state.dry[k]:
                continue
            solids = [several.candidates[i].formula for i in np.flatnonzero(state.solids_mol[:, k] > 1e-9)]
            liquor = state.liquor_mol[:, k]
            grams = sum(_as_salts(several, liquor).values()) + 1000.0 * float(state.water_kg[k])
            at = liquor_percent(several, liquor, grams, first, second)
            assert at is not None
            for solid in solids:
                lines.setdefault(solid, []).append(at)
    return [np.array(sorted(set(line))).T for line in lines.values()]


def _plenty(several: Several, salt: str, temperature_C: float) -> float:
    """Moles of a salt on a kg of water that leave solid and liquor."""
    one = next(c for c in several.candidates if c.salt == salt and c.product.is_own(temperature_C))
    pieces = [p for p in one.product.solid.pieces if p.side == "lean" and p.covers(temperature_C)]
    pure = float(one.products.molality(pieces[0].mass_fraction_at(temperature_C)))
    most = 1000.0 / (one.waters * WATER_G_MOL) if one.waters else np.inf
    return min(1.5 * pure, 0.5 * (pure + most))
