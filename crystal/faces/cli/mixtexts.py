"""Help texts of the commands on salts beside each other."""

from __future__ import annotations

from crystal.faces.cli.helptexts import HelpText

COMMANDS = {
    "separate": HelpText(
        "two salts parted by turns of boiling down hot and cooling",
        """\
Plans how two salts in one pot are parted: in turns the pot is boiled down and filtered hot, or cooled, each time only as far
as one salt still comes alone. Tells what each turn wins, how pure it is with the liquor that clings, and what is left.
Salts that share an ion, and pairs that change partners (saltpetre and common salt give potassium chloride too).""",
        'crystal separate "100 g of KNO3" "60 g of NaCl" --water "300 g" --cool-to "5 degC"',
        """\
  salts [{formula, g}], water_g, boil_at_degC, cool_to_degC, held_g_per_g,
  turns [{turn (boil or cool), temperature_degC, water_removed_g (below 0: added), salt, phase, crystals_g (pressed, dry,
    without what clings), purity_percent (with what clings), yield_percent (of the most of that salt that the ions give),
    liquor_g}],
  won [{salt, crystals_g, yield_percent, purity_percent}],
  left {water_g, salts [{formula, g}]} (ions counted as salts), warnings""",
    ),
}
