"""Help texts of the commands on what comes out of the pot."""

from __future__ import annotations

from crystal.faces.cli.helptexts import START, HelpText

_STREAM = "{mass_g, salt_g, water_g, others_g {formula: g}, liquor_mass_percent}"
_LEDGER = "ledger {in, out [{name and the same}], gap_g}"
_SOLUTES = """[{formula, g, g_per_100g_water, own_solubility_g_per_100g_water, own_solid,
    saturation_percent}]"""

COMMANDS = {
    "harvest": HelpText(
        "crystals drained, washed and dried: mass, purity, yield, and where every gram went",
        """\
What one pot gives when its crystals are drained, washed and dried: liquor that clings, what a wash dissolves and pushes
out, mass wet and dry, the true yield against what a wet weighing would tell, purity after each wash, and a table that sums.
With --purity also how often to recrystallise and what that costs.""",
        'crystal harvest CuSO4 --holds "120 g of CuSO4.5H2O" --start "400 mL" --with "3 g of Na2SO4" --reduce-to "150 mL" '
        '--cool-to "10 degC" --wash "15 mL"',
        f"""\
  salt, {START},
  end as 'crystal yield' has it, cool_to_degC, outcome, phase, method, held_g_per_g, enclosed_g_per_g, displaced_percent,
  crystals_g (before any wash), crystals_dry_g, crystals_wet_g, liquor_held_g, washed_away_g (crystals that the washes
    dissolve), dried_off_g, purity_percent (no other solute, by mass of the dry crop), yield_percent (salt in the dry crop
    over the salt in the pot), apparent_yield_percent (the wet weight taken as crystals),
  weighed [{{weighed_g, wet, expected_g, agrees, held_g_per_g, text}}] (each crop weighed under [[seen]] against the wet
    or the dry one reckoned; held_g_per_g is the liquor that a wet weighing means),
  stages [{{stage, crystals_g, crystals_wet_g, crystals_dry_g, liquor_held_g, purity_percent, others_g}}],
  liquor, washings {_STREAM},
  liquor_solutes {_SOLUTES},
  purifying {{wanted_percent, reached, why, rounds [{{add_water_g, warm_to_degC, crystals_dry_g, purity_percent,
    yield_percent}}]}} (null without --purity),
  {_LEDGER}, warnings""",
    ),
    "crops": HelpText(
        "crop after crop from one pot, until there is a reason to stop",
        """\
Reduce, cool and drain the same pot again and again: where to stop each time, what each crop gives and how pure it is, and
why to end. Each end point keeps the margin that 'crystal reduce' keeps; with --risk the joint odds that any of the crops does
not pour stay under it, shared out so that most is won (beside other solutes evenly), and splits tells what fewer crops would
win. That holds where each liquor is weighed and boiled down in proportion. A pot that has set is thinned first.""",
        'crystal crops MgSO4 --holds "200 g of MgSO4.7H2O" --start "500 mL" --with "2 g of NaCl" --cool-to "5 degC"',
        f"""\
  salt, {START}, cool_to_degC,
  crops [{{crop, kind (reduce, rescue), end_volume_mL, end_mass_g, end_mass_share_percent (of the mass before reducing),
    water_removed_g (negative: added), warm_to_degC,
    cool_to_degC, outcome, phase, crystals_g, crystals_wet_g, crystals_dry_g, purity_percent, yield_percent,
    cumulative_yield_percent, margin_kept, odds_not_pouring_percent, liquor_g, liquor_others_g_per_g,
    liquor_solutes as in 'crystal harvest'}}],
  stopped_because, stopped_rule (number, sets, small, purity, joins, impurity, dry),
  splits [{{crops, crop_risks_percent [..], odds_any_percent (each liquor weighed and its end shifted in proportion),
    odds_any_by_marks_percent, yield_percent, end_volumes_mL}}] (odds null without --risk, and beside others),
  liquor, washings {_STREAM},
  {_LEDGER}, warnings""",
    ),
    "keep": HelpText(
        "does it melt in the room, crumble or keep: drying, jars, humidity",
        """\
Whether a solid takes up water until it is a puddle, keeps, or loses its water and crumbles in a room's air; how warm it may
be dried; what to keep it in. From published humidities over saturated solutions and between hydrates; where they are
missing that is said ('window unknown'), and state is null. How fast a puddle forms is not claimed.""",
        'crystal keep "Epsom salt" --at "22 degC" --humidity "60 %"',
        """\
  salt, solid, temperature_degC, humidity_percent, dew_point_degC (null where frost comes instead),
  state (deliquesces, stable, effloresces; null where the data do not tell), turns_to (a higher hydrate, or null),
  stable_humidity_percent [low, high] (null where not known),
  lower, upper {humidity_percent, doubt_percent, basis, source, provenance}, melts_degC (melts or changes; null without end in the
  data), dry_below_degC, room_air_too_dry_from_degC (the room's air, warmed, dries it out from there), keep_in,
  desiccant_refused, window [{temperature_degC, low_percent, high_percent}], warnings""",
    ),
}
