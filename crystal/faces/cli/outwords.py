"""The words of the commands on what comes out of the pot; imports nothing but argparse."""

from __future__ import annotations

import argparse


def add_harvest(parser: argparse.ArgumentParser, *, crops: bool = False) -> None:
    """How crystals are drained, washed and dried."""
    add = parser.add_argument_group("harvest").add_argument
    add("--method", metavar="METHOD", help="drained (the default), pressed or suction")
    add(
        "--held",
        metavar="RATIO",
        help='liquor held per gram of crystals, as "0.2" (0.25, 0.12 or 0.08 by method)',
    )
    add("--enclosed", metavar="RATIO", help='liquor shut up inside the crystals, as "0.5 %%" of them (none)')
    add(
        "--wash", metavar="AMOUNT", action="append",
        help='wash with so much, as "20 mL" (repeatable); at the cooling temperature unless --wash-at',
    )  # fmt: skip
    add("--wash-at", metavar="TEMP", help="temperature of the wash")
    add(
        "--wash-with", metavar="LIQUID", help='"water" (the default) or "saturated solution" of the pure salt'
    )
    add(
        "--contact",
        metavar="SHARE",
        help='how near to saturation the wash water gets, as "50 %%" (100 %%: the most)',
    )
    add(
        "--displaced",
        metavar="SHARE",
        help="old liquor pushed out by as much wash as is held (50 %%; suction 70 %%)",
    )
    add(
        "--spilled",
        metavar="MASS",
        help='liquor lost in pouring, as "5 g"' + (" (less with the later crops)" if crops else ""),
    )
    if crops:
        return
    add("--purity", metavar="SHARE", help='recrystallise until it is as pure as "99.9 %%"')


def add_crops(parser: argparse.ArgumentParser) -> None:
    """When to stop, the risk, and what is joined."""
    add = parser.add_argument_group("crops").add_argument
    add("--cool-to", metavar="TEMP", help='temperature of each crop, as "5 degC"')
    add("--read-at", metavar="TEMP", help="temperature at which the end volumes are read (default 20 degC)")
    add("--boil-at", metavar="TEMP", help="temperature at which the water is driven off (default 100 degC)")
    add("--bed", metavar="SHARE", help="solids' share of the settled crystals' volume (0.55; needles 0.40)")
    add("--most", metavar="NUMBER", help="crops at most (5)")
    add("--least", metavar="MASS", help="smallest dry crop worth a round (3 %% of the salt)")
    add("--purity", metavar="SHARE", help='smallest purity of a crop, as "99 %%"')
    add("--ceiling", metavar="RATIO", help='other solutes per gram of salt in the liquor at most, as "0.3"')
    add(
        "--risk",
        metavar="SHARE",
        help='odds that any crop does not pour, all together, as "5 %%" (else the margin)',
    )
    add("--washings-back", action="store_true", help="the washings go back into the pot")
    add(
        "--join", metavar="FILE", action="append",
        help="liquor of another batch, from the --json of harvest or crops (repeatable); the pot may then be left out",
    )  # fmt: skip


def add_keep(parser: argparse.ArgumentParser) -> None:
    """The solid and the air."""
    parser.add_argument(
        "salt", metavar="SALT", nargs="?", help="the solid: formula, hydrate, name or common name"
    )
    add = parser.add_argument_group("the room").add_argument
    add("--at", metavar="TEMP", help='temperature, as "22 degC" (20 degC)')
    add("--humidity", metavar="SHARE", help='relative humidity, as "60 %%"')
    add("--dew-point", metavar="TEMP", help='or the air\'s dew point, as "12 degC"')
    add("--batch", metavar="FILE", help="batch file with [keep] instead of SALT")
