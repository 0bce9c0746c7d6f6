"""Whatever is done to pots, cakes and liquors, in any order: salt, water and each other solute are all still there."""

from __future__ import annotations

from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule
from salts import model

from crystal.bench.batch import Batch
from crystal.bench.crops import Crops, Stops
from crystal.bench.harvest import SATURATED, WATER, Cake, Draining, Harvest, Wash
from crystal.bench.ledger import Ledger, Matter
from crystal.bench.pot import Pot
from crystal.bench.purity import joined
from crystal.bench.rescue import Rescue
from crystal.errors import CoverageError, InputError
from crystal.physics.others import Others

AT_C = st.floats(3.0, 30.0)
SHARE = st.floats(0.05, 0.95)
AMOUNT = st.one_of(st.just(0.0), st.floats(0.01, 20.0))


class Bench(RuleBasedStateMachine):
    """Pots, wet cakes and waste; what came from outside is kept apart and compared after every step."""

    @initialize(
        salt=st.sampled_from(["CuSO4", "MgSO4", "KNO3", "Na2SO4", "NiSO4", "KAl(SO4)2"]),
        w=st.floats(0.02, 0.3),
        acid=AMOUNT,
        other=AMOUNT,
    )
    def begin(self, salt: str, w: float, acid: float, other: float) -> None:
        start = Pot(model(salt), 1000 * w, 1000 * (1 - w), others=Others.of({"HCl": acid, "NaCl": other}))
        self.like = start
        self.pots: list[Pot] = [start]
        self.cakes: list[tuple[Cake, Draining]] = []
        self.gone = Matter()
        self.came = Matter.of(start)

    def take(self) -> Pot:
        return self.pots.pop(0)

    def put(self, matter: Matter) -> None:
        if matter.salt_g > 1e-6 and matter.water_g > 1e-6:
            self.pots.append(matter.pot(self.like))
        else:
            self.gone = self.gone + matter

    @rule(w=st.floats(0.02, 0.3), grams=st.floats(50.0, 500.0))
    def another_batch(self, w: float, grams: float) -> None:
        more = Matter(w * grams, (1 - w) * grams, {"NaCl": 0.01 * grams})
        self.came = self.came + more
        self.pots.append(more.pot(self.like))

    @precondition(lambda self: self.pots)
    @rule(part=SHARE)
    def boil_down(self, part: float) -> None:
        pot = self.take()
        self.gone = self.gone + Matter(water_g=(1 - part) * pot.water_g)
        self.pots.append(pot.with_water(part * pot.water_g))

    @precondition(lambda self: self.pots)
    @rule(grams=st.floats(1.0, 300.0))
    def thin(self, grams: float) -> None:
        pot = self.take()
        self.came = self.came + Matter(water_g=grams)
        self.pots.append(pot.with_water(pot.water_g + grams))

    @precondition(lambda self: self.pots)
    @rule(part=SHARE)
    def pour_some_off(self, part: float) -> None:
        pot = self.take()
        self.pots += [pot.scaled(part), pot.scaled(1 - part)]

    @precondition(lambda self: len(self.pots) > 1)
    @rule()
    def join(self) -> None:
        both = self.take(), self.take()
        self.pots.append(joined(both))

    @precondition(lambda self: self.pots)
    @rule(
        at_C=AT_C, held=st.floats(0.0, 1.0), enclosed=st.floats(0.0, 0.1), spilled=st.floats(0.0, 2.0),
        wash=st.one_of(st.none(), st.tuples(st.floats(1.0, 50.0), AT_C, st.sampled_from([WATER, SATURATED]))),
    )  # fmt: skip
    def harvest(self, at_C, held, enclosed, spilled, wash) -> None:
        how = Draining.by(held_g_per_g=held, enclosed_g_per_g=enclosed)
        pot = self.pots[0]
        try:
            washes = () if wash is None else (Wash(*wash),)
            found = Harvest.of(pot, at_C, how, washes, spilled_g=spilled)
        except (CoverageError, InputError):
            return
        self.take()
        self.cakes.append((found.cake, how))
        self.put(found.liquor)
        self.gone = self.gone + found.spilled
        self.put(found.washed_off)
        self.came = self.came + Matter.sum(found.brought)

    @precondition(lambda self: self.cakes)
    @rule(
        wash=st.tuples(st.floats(1.0, 50.0), AT_C, st.sampled_from([WATER, SATURATED]), st.floats(0.0, 1.0))
    )
    def wash(self, wash) -> None:
        cake, how = self.cakes[0]
        try:
            after, ran_off, brought = cake.washed(Wash(*wash), how)
        except CoverageError:
            return
        self.cakes[0] = after, how
        self.put(ran_off)
        self.came = self.came + brought

    @precondition(lambda self: self.cakes)
    @rule()
    def dry_and_bottle(self) -> None:
        cake, _ = self.cakes.pop(0)
        self.gone = self.gone + cake.dried + cake.drying_loss

    @precondition(lambda self: self.cakes)
    @rule(at_C=AT_C)
    def recrystallise(self, at_C: float) -> None:
        cake, how = self.cakes[0]
        dry = cake.dried
        if dry.salt_g <= 1e-6:
            return
        pot = dry.pot(self.like)
        try:
            plan = Rescue.of(Batch(pot, cool_to_C=at_C), pot.salt_g, pot.water_g)
            if plan is None:
                return
            found = Harvest.of(pot.with_water(pot.water_g + plan.add_water_g), at_C, how)
        except (CoverageError, InputError):
            return
        self.cakes[0] = found.cake, how
        self.gone = self.gone + cake.drying_loss
        self.came = self.came + Matter(water_g=plan.add_water_g)
        self.put(found.liquor)

    @precondition(lambda self: self.pots)
    @rule(at_C=AT_C, spilled=st.floats(0.0, 5.0))
    def two_crops(self, at_C: float, spilled: float) -> None:
        try:
            found = Crops.of(self.pots[0], at_C, stops=Stops(most=2), spilled_g=spilled)
        except CoverageError:
            return
        except InputError as error:
            assert error.what == "--spilled"  # noqa: PT017
            return
        self.take()
        for crop in found.crops:
            self.gone = (
                self.gone + crop.harvest.cake.dried + crop.harvest.cake.drying_loss + crop.harvest.spilled
            )
            boiled = Matter(water_g=abs(crop.water_removed_g))
            if crop.water_removed_g > 0:
                self.gone = self.gone + boiled
            else:
                self.came = self.came + boiled
        self.put(Matter.of(found.left))

    @invariant()
    def every_gram_is_there(self) -> None:
        if not hasattr(self, "came"):
            return
        here = (
            self.gone + Matter.sum(Matter.of(p) for p in self.pots) + Matter.sum(c.all for c, _ in self.cakes)
        )
        limit = 1e-9 * max(self.came.mass_g, 1.0)
        assert abs(here.salt_g - self.came.salt_g) <= limit
        assert abs(here.water_g - self.came.water_g) <= limit
        for name in {*here.others_g, *self.came.others_g}:
            assert abs(here.others_g.get(name, 0.0) - self.came.others_g.get(name, 0.0)) <= limit, name

    @invariant()
    def nothing_is_negative(self) -> None:
        if not hasattr(self, "came"):
            return
        for cake, _ in self.cakes:
            for part in (cake.crystals, cake.enclosed, cake.clinging, cake.dried):
                assert min(part.salt_g, part.water_g, *part.others_g.values(), 0.0) >= -1e-9


TestBench = Bench.TestCase
TestBench.settings = settings(max_examples=20, stateful_step_count=12, deadline=None)


def test_a_solute_that_only_one_side_has_is_a_gap_of_its_whole_mass():
    with_acid, without = Matter(1.0, 9.0, {"HCl": 0.25}), Matter(1.0, 9.0)
    for brought, found in ((with_acid, without), (without, with_acid)):
        assert Ledger((("pot", brought),), (("liquor", found),)).gap_g == 0.25
    assert Ledger((("pot", with_acid),), (("liquor", with_acid),)).gap_g == 0.0
