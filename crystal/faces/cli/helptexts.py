"""Help texts: what each command is for, one worked example, and the JSON keys that it answers with."""

from __future__ import annotations

from dataclasses import dataclass

MAIN = """\
How far to boil a salt solution down, what crystallises where, and why a batch set solid.

A pot is told by its content (--holds, --strength or --density) and its size (--start, --mass or --water), or made by
reactions ('crystal react', then --from). What else is dissolved in it is told by --with.
Temperatures are written "5 degC", "5 C" or "41 F"; sizes in any unit of their kind. Strengths and solubilities
count the anhydrous salt unless a hydrate is named."""

MAIN_END = """\
example:
  crystal reduce MgSO4 --holds "200 g of MgSO4.7H2O" --start "500 mL" --cool-to "5 degC"

'crystal COMMAND --help' gives an example and the JSON keys of each command, 'crystal words KEY' tells what a key counts.
Errors go to standard error, exit code 2.
Hot liquors, acids and many of the salts can hurt: every plan prints its cautions. Follow local rules; leave what
needs a licence to those who have one."""


@dataclass(frozen=True, slots=True)
class HelpText:
    """One command: the line in the list, what it is for, and the example with the JSON keys."""

    line: str
    about: str
    example: str
    keys: str

    @property
    def end(self) -> str:
        return f"example:\n  {self.example}\n\nJSON keys (absent is null, numbers unrounded):\n{self.keys}"


START = (
    "start {volume_mL, mass_g, salt_g, water_g, mass_percent, density_g_mL, read_at_degC,\n"
    "    curve {name, factor, doubt_percent, points} (null for the pure salt's), others [{formula, g, mass_percent (of the whole\n"
    "    pot)}]}"
)
_SHIFT = "shift_percent, shift_doubt_percent (what others do to the solubility, salt per water; null without)"
_ODDS = "odds {clear, crop, thick, set}, crop_g {p10, expected, p90} (crystals that drain)"
_EVIDENCE = """\
  evidence {draws, effective_draws, redrawn, widened, contradictions, inputs [{input, mean, spread}]} (null where nothing
    was seen)"""
_ROW = """\
    outcome (clear, crop, thick, set), phase, solids [{phase, g}], crystals_g, yield_percent, liquor_g, liquor_mL,
    liquor_mass_percent, crystal_volume_fraction, ice_g"""

COMMANDS = {
    "salts": HelpText(
        "list the salts that are covered, or find one",
        "List the salts that are covered; with TEXT those whose formula, hydrates, name or common name hold it.",
        'crystal salts "copper sulfate"',
        "  a list of {formula, name, solids, covers_degC [[low, high], ...]}",
    ),
    "card": HelpText(
        "everything the data hold on one salt",
        "Everything the data hold on one salt: solids, ranges, densities, errors, cautions and sources.",
        'crystal card "Epsom salt" --chart epsom.png',
        """\
  formula, name, common_names, cas, covers_degC, heat_limit_degC, heat_limit_reason,
  heat_limits [{limit (begins, work_below, breaks_down), temperature_degC, reason, source, provenance}],
  boiling {range_mass_percent, highest_mass_percent, highest_degC, highest_error_K, saturated_degC, saturated_mass_percent,
    source, provenance} (at one atmosphere), curve_doubt_mass_percent, curve_doubt_basis, note, edition,
  solids [{phase, name, waters, solid_density_g_mL, density_is_estimate, density_source, density_provenance,
    stable_degC [low, high], points, metastable_points, error_mean_mass_percent, error_max_mass_percent, predicted}],
  cautions [{kind, text, source, provenance}], sources [{key, citation}], warnings""",
    ),
    "words": HelpText(
        "what a word, a unit or a JSON key of the answers means",
        """\
The glossary from which column titles, axis labels and JSON keys draw: what each quantity counts per what, its unit and
symbol, and whether the word is the trade's, an open standard's or this program's own. Without WORD all of it.""",
        "crystal words liquor_mass_percent",
        "  a list of {key, kind, term, heading (the term where room is scarce), symbol, unit, basis, origin}",
    ),
    "reduce": HelpText(
        "how far to boil down: the window and the advice",
        """\
How far to reduce a pot so that it gives a crop that pours off when it has cooled: where crystals begin, where the crop
stops pouring off, where it sets solid, what each end point gives, and which one to stop at.""",
        'crystal reduce "Epsom salt" --holds "200 g of MgSO4.7H2O" --start "500 mL" --cool-to "5 degC"',
        f"""\
  salt, {START},
  cool_to_degC, read_at_degC, boil_at_degC, bed_fraction,
  saturates {{end_volume_mL, fraction_of_start, end_mass_g, mass_percent}},
  pours_off_down_to, sets_solid_below {{end_volume_mL, fraction_of_start, end_mass_g}} (null if never),
  bands [{{from_mL, to_mL, outcome, phase}}],
  ends [{{end_volume_mL, fraction_of_start, end_mass_g, water_removed_g, mass_percent, slurry_mL,
    first_crystals_degC, solids_while_hot [{{phase, g}}] (null where not in the data),
{_ROW},
    {_ODDS}}}],
  advice {{end_volume_mL, fraction_of_start, end_mass_g, density_g_mL, crystals_g, outcome, reason, odds and crop_g as above,
    odds_not_pouring_fraction, risk_fraction, risk_kept, least_odds_not_pouring_fraction, safe_from_mL, safe_to_mL}},
  doubts [{{input, costs_g, how, measured_better_g, then_safe_from_mL, then_safe_to_mL}}],
{_EVIDENCE},
  marks {{...}} (of the advised end point, keys as 'crystal marks --help' tells; null without one),
  want {{crystals_g, end_volume_mL, fraction_of_start, end_mass_g, outcome, feed_factor, feed_volume_mL, feed_mass_g}},
  {_SHIFT},
  warnings
  fraction_of_start is the end volume at its reading temperature over the start volume at its own; in want, over the
  feed's volume.""",
    ),
    "yield": HelpText(
        "crystals at one or several temperatures",
        """\
What a pot gives at one or several final temperatures. Without --reduce-to or --remove it is cooled as it is. With
--solubility and --crystals a hand calculation is checked: that solubility, that hydrate, whatever the data say.""",
        'crystal yield CuSO4 --holds "120 g of CuSO4.5H2O" --water "200 g" --cool-to "20, 10, 0 degC"',
        f"""\
  salt, {START},
  end {{end_volume_mL, fraction_of_start, end_mass_g, water_removed_g, mass_percent}},
  rows [{{cool_to_degC,
{_ROW},
    {_SHIFT}}}],
  warnings""",
    ),
    "path": HelpText(
        "the way of a batch over the phase map",
        "The states that a batch goes through: start, boiled down, first crystals, changes of solid, end.",
        'crystal path "potash alum" --holds "80 g of KAl(SO4)2.12H2O" --start "600 mL" --reduce-to "300 mL" --cool-to "10 degC"',
        f"""\
  salt, {START},
  steps [{{step, temperature_degC, mass_percent, salt_g, water_g, phase, solids [{{phase, g}}], crystals_g, liquor_g,
    liquor_mass_percent}}],
  {_SHIFT},
  warnings""",
    ),
    "dilute": HelpText(
        "make a strength from a stock, or say what a mixture comes to",
        """\
How much stock and how much water, or weaker stock, make a wanted strength, by mass and by volume; what the volume
shortcut C1·V1 = C2·V2 would have said; in which order to pour. With --mix: what given amounts come to.
Strengths: "31 % w/w HCl", "180 g/L", "2 mol/L", "2 mol/kg", "35 g/100 g water", "1.16 g/mL", "sg 1.16", "20 Be",
"10 volumes H2O2".""",
        'crystal dilute --stock "31 % w/w HCl" --target "18.5 % w/w" --make "200 mL"',
        """\
  solute, stock_mass_percent, target_mass_percent, weaker_mass_percent, temperature_degC, stock_mL, stock_g,
  stock_density_g_mL, water_mL, water_g (of the weaker stock with --and), final_mL, final_g, final_density_g_mL,
  contraction_mL, by_volume_shortcut_mL, shortcut_off_percent, shortcut_mass_percent, warnings
  With --mix: solute, portions [{mass_percent, volume_mL, mass_g, density_g_mL}], mass_g, volume_mL, solute_g,
  mass_percent, density_g_mL, temperature_degC, contraction_mL, warnings""",
    ),
    "strength": HelpText(
        "one strength told on every basis, Baumé and volumes among them",
        """\
A solution of an acid, an alkali, ammonia, peroxide or a salt told on every basis. It may be given as a strength, a
density, a specific gravity (60/60 °F), degrees Baumé (US scale, modulus 145, unless 'rational', 144.3, is said) or
volumes of peroxide.""",
        'crystal strength "42 Be US HNO3"',
        """\
  solute, mass_percent, g_per_L, mol_per_L, mol_per_kg_water, g_per_100g_water, density_g_mL, temperature_degC,
  specific_gravity_20_4_degC, specific_gravity_60_60_degF, baume_us_degrees, baume_rational_degrees (null where the
  scale has none for a liquid lighter than water), peroxide_volumes, warnings""",
    ),
    "react": HelpText(
        "carry a reaction out: what limits it, what is made, the pot that remains",
        """\
What a reaction makes and leaves. Formulas without charges; coefficients may be left out. --use is repeatable:
"Zn=32.7 g", "ZnO=0.4 mol", "H2SO4=500 g of 12 % w/w", "HCl=200 mL of 18.5 % w/w", "CuSO4=25 g of CuSO4.5H2O",
"H2O=100 mL". After --then comes the next reaction in the same pot with its own --use. The answer as JSON in a file is
what --from takes; --save begins a batch file with the reactions under [made], for every other command and for log.""",
        'crystal react "Zn + H2SO4 -> ZnSO4 + H2" --use "Zn=32.7 g" --use "H2SO4=500 g of 12 % w/w" --json > made.json',
        """\
  equation, limiting, extent_mol,
  products [{formula, mol, g, anhydrous_g, where (dissolved, undissolved, gas, water), hydrate, hydrate_g}],
  left_over [{formula, mol, g, where, excess_mol, excess_g, excess_percent}], heat_kJ (given off), temperature_rise_K,
  lost_g: these of the last reaction; gas [{formula, mol, g, L (20 degC, 101.3 kPa), step}] of all,
  pot {salt, salt_g, water_g, others_g {}, undissolved_g {}, added_water_g, liquor_g, mass_percent, volume_mL,
    density_g_mL, read_at_degC} at the end (null from mass_percent on where the salt is not in the data),
  steps [the same keys for each reaction, with its own pot and notes], notes, warnings""",
    ),
    "assay": HelpText(
        "how much salt is really there, from what was measured",
        """\
Anhydrous salt in a solution by hydrometer, by a part dried to a known solid, by titration, or by the temperature of
the first crystals; each with its doubt. Several are held against one another.""",
        'crystal assay CuSO4 --volume "400 mL" --density "1.18 g/mL at 20 degC" --dried "2.9 g of CuSO4.5H2O" '
        '--dried-from "10 mL"',
        """\
  salt, volume_mL, mass_g (one of them null), read_at_degC,
  assays [{method (density, drying, titration, first crystals), formula, salt_g, doubt_g, assumption, warnings}],
  comparisons [{more, less (methods), difference_g, combined_doubt_g, agree, sentence (null where they agree)}], warnings""",
    ),
    "explain": HelpText(
        "why a batch turned out as it did, and how to save it",
        """\
Why a batch turned out as it did. BATCH.toml tells what was planned and what was seen:

  title = "Epsom salt, second try"
  salt = "MgSO4"
  [start]            # two of volume, mass, water / holds, strength, density; also at, vessel, with = ["12 g of HCl"]
  volume = "500 mL"
  holds = "200 g of MgSO4.7H2O"
  [made]             # instead of [start]'s facts and of salt: reactions, as 'crystal react' has them; also volume, at
  [[made.step]]      # equation, use; also converted, lost, undissolved, gas
  equation = "MgO + H2SO4 -> MgSO4 + H2O"
  use = ["MgO=33 g", "H2SO4=500 g of 16 % w/w"]
  [reduce]           # to or remove; also read_at, boil_at, bed, altitude or pressure, want
  to = "150 mL"
  [cool]
  to = "5 degC"
  [[seen]]           # outcome: clear, crop, thick, set; also crystals, weighed (wet or dry), solid, first_crystals, at
  outcome = "set solid\"""",
        "crystal explain batch.toml",
        f"""\
  salt, title, start and end as 'crystal yield' has them, expected (one of its rows),
  outcome_expected, outcome_seen, agrees, {_ODDS},
  verdict (certain, within_odds, outside_odds; null where no outcome was seen), luck, reasons [{{cause, text}}],
  suspects [{{cause, off_K, off_factor, times_doubt, odds_fraction, support}}], tests,
{_EVIDENCE},
  would_have_worked {{end_volume_mL, fraction_of_start, crystals_g, odds}} or null,
  rescue {{add_water_g, warm_to_degC, cool_to_degC, crystals_g, outcome}} or null, warnings
  cause is one of too_far_reduced, not_far_enough, too_cold, not_cold_enough, hydrate_water, hot_solid, supersaturated,
  more_salt, less_salt, other_solutes, other_hydrate, melted, losses, loose_bed, dense_bed, unexplained.""",
    ),
    "sheet": HelpText(
        "one printed page to stand beside the hotplate",
        """\
A batch on one side of paper, as a page of HTML for the browser to print: what is in the pot, where to stop, told in every
way with boxes to tick, window and path, cooling, harvest, cautions, lines to log on, the sources of the numbers. The
batch file's own end point is taken where it tells one, else the advised one.""",
        "crystal sheet batch.toml -o sheet.html",
        "  none: the sheet is for people",
    ),
    "page": HelpText(
        "the same in a browser: drag the end point and watch",
        """\
A page in the browser, served by this machine to itself alone until Ctrl-C: describe the pot, drag the end volume, see
window, odds, end marks, path and reasons. The page's address holds the batch; it opens and saves batch files.
It needs the extra: pip install "crystal[page]".""",
        "crystal page --no-browser",
        "  none: the page is for people",
    ),
    "demo": HelpText(
        "an invented batch from window to explanation, with charts",
        "An invented batch, worked through with the other commands; its charts and its batch file go into a folder.",
        "crystal demo --folder crystal-demo",
        "  none: the demo is for people",
    ),
}
