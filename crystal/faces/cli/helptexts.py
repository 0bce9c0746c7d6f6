"""Help texts: what each command is for, one worked example, and the JSON keys that it answers with."""

from __future__ import annotations

from dataclasses import dataclass

MAIN = """\
How far to boil a salt solution down, what crystallises where, and why a batch set solid.

A pot is told by its content (--holds, --strength or --density) and its size (--start, --mass or --water).
Temperatures are written "5 degC", "5 C" or "41 F"; sizes in any unit of their kind. Strengths and solubilities
count the anhydrous salt unless a hydrate is named."""

MAIN_END = """\
example:
  crystal reduce MgSO4 --holds "200 g of MgSO4.7H2O" --start "500 mL" --cool-to "5 degC"

'crystal COMMAND --help' gives an example and the JSON keys of each command. Errors go to standard error, exit code 2.
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


_START = "start {volume_mL, mass_g, salt_g, water_g, mass_percent, density_g_mL, read_at_degC}"
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
  formula, name, common_names, cas, covers_degC, heat_limit_degC, heat_limit_reason, curve_doubt_mass_percent,
  curve_doubt_basis, note, edition,
  solids [{phase, name, waters, solid_density_g_mL, density_is_estimate, density_source, density_provenance,
    stable_degC [low, high], points, metastable_points, error_mean_mass_percent, error_max_mass_percent, predicted}],
  cautions [{kind, text, source, provenance}], sources [{key, citation}], warnings""",
    ),
    "reduce": HelpText(
        "how far to boil down: the window and the advice",
        """\
How far to reduce a pot so that it gives a crop that pours off when it has cooled: where crystals begin, where the crop
stops pouring off, where it sets solid, what each end point gives, and which one to stop at.""",
        'crystal reduce "Epsom salt" --holds "200 g of MgSO4.7H2O" --start "500 mL" --cool-to "5 degC"',
        f"""\
  salt, {_START},
  cool_to_degC, read_at_degC, boil_at_degC, bed_fraction,
  saturates {{end_volume_mL, fraction_of_start, end_mass_g, mass_percent}},
  pours_off_down_to, sets_solid_below {{end_volume_mL, fraction_of_start, end_mass_g}} (null if never),
  bands [{{from_mL, to_mL, outcome, phase}}],
  ends [{{end_volume_mL, fraction_of_start, end_mass_g, water_removed_g, mass_percent, slurry_mL,
    first_crystals_degC, solids_while_hot [{{phase, g}}] (null where not in the data),
{_ROW}}}],
  advice {{end_volume_mL, fraction_of_start, end_mass_g, density_g_mL, crystals_g, outcome, reason}},
  want {{crystals_g, end_volume_mL, fraction_of_start, end_mass_g, outcome, feed_factor, feed_volume_mL, feed_mass_g}},
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
  salt, {_START},
  end {{end_volume_mL, fraction_of_start, end_mass_g, water_removed_g, mass_percent}},
  rows [{{cool_to_degC,
{_ROW}}}],
  warnings""",
    ),
    "path": HelpText(
        "the way of a batch over the phase map",
        "The states that a batch goes through: start, boiled down, first crystals, changes of solid, end.",
        'crystal path "potash alum" --holds "80 g of KAl(SO4)2.12H2O" --start "600 mL" --reduce-to "300 mL" --cool-to "10 degC"',
        f"""\
  salt, {_START},
  steps [{{step, temperature_degC, mass_percent, salt_g, water_g, phase, crystals_g, liquor_g, liquor_mass_percent}}],
  warnings""",
    ),
    "explain": HelpText(
        "why a batch turned out as it did, and how to save it",
        """\
Why a batch turned out as it did. BATCH.toml tells what was planned and what was seen:

  title = "Epsom salt, second try"
  salt = "MgSO4"
  [start]            # two of volume, mass, water / holds, strength, density; also at, vessel
  volume = "500 mL"
  holds = "200 g of MgSO4.7H2O"
  [reduce]           # to or remove; also read_at, boil_at, bed
  to = "150 mL"
  [cool]
  to = "5 degC"
  [[seen]]           # outcome: clear, crop, thick, set; also crystals, weighed (wet or dry), solid, first_crystals, at
  outcome = "set solid\"""",
        "crystal explain batch.toml",
        """\
  salt, title, start and end as 'crystal yield' has them, expected (one of its rows),
  outcome_expected, outcome_seen, agrees, reasons [{cause, text}],
  would_have_worked {end_volume_mL, fraction_of_start, crystals_g} or null,
  rescue {add_water_g, warm_to_degC, cool_to_degC, crystals_g, outcome} or null, warnings
  cause is one of too_far_reduced, not_far_enough, too_cold, not_cold_enough, hydrate_water, hot_solid, supersaturated,
  more_salt, less_salt, other_solutes, other_hydrate, melted, losses, unexplained.""",
    ),
    "demo": HelpText(
        "an invented batch from window to explanation, with charts",
        "An invented batch, worked through with the other commands; its charts and its batch file go into a folder.",
        "crystal demo --folder crystal-demo",
        "  none: the demo is for people",
    ),
}
