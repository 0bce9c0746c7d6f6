"""A batch as it was planned and as it was seen."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from crystal.bench.cooling import LOOSE_BED
from crystal.bench.doubt import Doubt, Draws
from crystal.bench.pot import Pot
from crystal.physics.vapour import STANDARD_kPa


@dataclass(frozen=True, slots=True)
class Seen:
    """One observation; what was not looked at is None.

    Parameters
    ----------
    outcome : {'clear', 'crop', 'thick', 'set'}, optional
        What the cooled pot was.
    crystals_g : float, optional
        Crystals weighed, g; ``wet`` tells whether liquor still clung to them.
    solid : str, optional
        Formula of the solid that came, where the person knows it.
    first_crystals_C : float, optional
        Temperature at which the first crystals showed on cooling, °C.
    temperature_C : float, optional
        Temperature of the pot when it was looked at, where that was not the planned one, °C.
    volume_mL : float, optional
        Volume as it was read when the observation was made; the end point's where none was read.
    mass_g : float, optional
        Mass of the pot's content (tared) at that volume, g.
    no_crystals_C : float, optional
        Temperature at which no crystals had shown yet on cooling, °C.
    density_g_mL, density_at_C : float, optional
        Hydrometer reading, g/mL, and its temperature, °C.
    boiling_C : float, optional
        Temperature at which the pot boiled at that volume, °C.
    """

    outcome: str | None = None
    crystals_g: float | None = None
    wet: bool = False
    solid: str | None = None
    first_crystals_C: float | None = None
    temperature_C: float | None = None
    volume_mL: float | None = None
    mass_g: float | None = None
    no_crystals_C: float | None = None
    density_g_mL: float | None = None
    density_at_C: float = 20.0
    boiling_C: float | None = None


@dataclass(frozen=True, eq=False)
class Batch:
    """One batch: the pot at the start, how far it is reduced, how far it is cooled, what was seen.

    ``end_water_g`` is the water left at the end of the reducing; None where no end point was given. ``end_weighed`` tells
    that the end point was met by the pot's mass and not by a volume; ``doubt`` is how uncertain all that was told is.
    """

    start: Pot
    title: str = ""
    end_water_g: float | None = None
    cool_to_C: float | None = None
    read_at_C: float = 20.0
    boil_at_C: float | None = None
    bed: float = LOOSE_BED
    vessel_mL: float | None = None
    pressure_kPa: float = STANDARD_kPa
    seen: tuple[Seen, ...] = ()
    end_weighed: bool = False
    doubt: Doubt = field(default_factory=Doubt)

    @property
    def end(self) -> Pot:
        """The pot at the end point, or as it started where none was given."""
        if self.end_water_g is None:
            return self.start
        return self.start.with_water(self.end_water_g, self.read_at_C)

    def draws(self) -> Draws:
        """What may be true of it before anything is seen; needs a cooling temperature."""
        assert self.cool_to_C is not None
        return Draws.of(self.start, self.cool_to_C, self.doubt, bed=self.bed)

    @property
    def outcome_seen(self) -> str | None:
        """The last outcome that was seen."""
        words = [s.outcome for s in self.seen if s.outcome is not None]
        return words[-1] if words else None

    def with_seen(self, seen: Seen) -> Batch:
        """The same batch with one more observation."""
        return replace(self, seen=(*self.seen, seen))
