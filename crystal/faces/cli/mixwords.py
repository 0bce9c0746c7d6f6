"""The words of the commands on salts beside each other; imports nothing but argparse."""

from __future__ import annotations

import argparse


def add_separate(parser: argparse.ArgumentParser) -> None:
    """Two amounts, their water, the two temperatures."""
    parser.add_argument(
        "amounts", metavar="AMOUNT", nargs=2, help='each salt, as "100 g of KNO3" or "200 g of Na2SO4.10H2O"'
    )
    add = parser.add_argument_group("plan").add_argument
    add(
        "--water",
        metavar="MASS",
        required=True,
        help="water that they are dissolved in; a hydrate's own comes on top",
    )
    add("--boil-at", metavar="TEMP", help="temperature of boiling down and filtering hot (default 100 degC)")
    add("--cool-to", metavar="TEMP", required=True, help='temperature of cooling, as "5 degC"')
    add("--held", metavar="RATIO", help='liquor that clings to a gram of crystals, as "0.2" (0.12: pressed)')
    add("--most", metavar="NUMBER", help="turns at most (8)")


def add_card(parser: argparse.ArgumentParser) -> None:
    """The solubility beside another substance."""
    add = parser.add_argument_group("beside another substance").add_argument
    add(
        "--beside",
        metavar="FORMULA",
        help="chart: the solubility against this substance in the liquor, as H2SO4",
    )
    add("--at", metavar="TEMP", help="at this temperature (default 20 degC)")
