"""Help texts of the commands on what was seen: the log of a batch, a curve fitted to a liquor."""

from __future__ import annotations

from crystal.faces.cli.helptexts import HelpText

COMMANDS = {
    "log": HelpText(
        "write down what was seen of a batch, in its file",
        """\
Adds what was seen to a batch file as a [[seen]] table; everything else in the file stays as it is, comments too. The new
file takes the old one's place only when it is whole. 'crystal reduce --batch' and 'crystal explain' then count it in.
Understood are sentences such as

  first crystals at 31 degC, 220 mL        no crystals at 33 degC
  boils at 103.5 degC, 180 mL              hydrometer 1.24 g/mL at 20 degC, 250 mL
  pot weighs 310 g, 220 mL                 crystals 95 g dry
  outcome set solid, at 4 degC             solid MgSO4.7H2O

A volume is the one that the mark shows then, taken at the batch's reading temperature; without one it is that of the end
point.""",
        'crystal log batch.toml "first crystals at 31 degC, 220 mL"',
        "  batch, seen {the keys that were added}, observations",
    ),
    "calibrate": HelpText(
        "fit the curve of a liquor that is not the pure salt to its own first crystals",
        """\
Fits a factor on the grams that 100 g of water hold, from first crystals that you saw in that liquor, and its uncertainty.
Cool slowly with a crystal in it: crystals that come late make the factor too large. --curve and --curve-file then put the
fitted curve in place of the pure salt's in every command that takes a pot, or [curve] with file and name in a batch file;
answers on it say so.""",
        'crystal calibrate "old liquor" CuSO4 --point "31 degC = 18.5 % w/w" --point "45 degC = 22.9 % w/w" --save liquors.toml',
        """\
  name, salt, factor, doubt_percent (standard uncertainty of the factor),
  points [{temperature_degC, mass_percent, pure_mass_percent, fitted_mass_percent}], saved_in, warnings""",
    ),
}
