"""The words on doubt, risk, calibrated curves and observations; imports nothing but argparse."""

from __future__ import annotations

import argparse


def add_doubt(group: argparse._ArgumentGroup) -> None:
    """How uncertain the inputs are, and the risk that the advice may bear."""
    group.add_argument(
        "--doubt", metavar="PAIRS",
        help='standard uncertainties, as "volume=5 %%, temperature=2 K, holds=3 %%" or "volume=measuring cylinder"; also mass, '
        "curve, density, bed",
    )  # fmt: skip
    group.add_argument(
        "--risk",
        metavar="SHARE",
        help="odds of a pot that does not pour that the advice may bear (default 5 %%)",
    )


def add_curve(group: argparse._ArgumentGroup) -> None:
    """A calibrated curve in place of the pure salt's."""
    group.add_argument("--curve", metavar="NAME", help="calibrated curve of the liquor, by its name")
    group.add_argument(
        "--curve-file",
        metavar="FILE",
        help="file that 'crystal calibrate' saved it in (one curve in it needs no name)",
    )


def add_log(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("batch", metavar="BATCH.toml", help="batch file that it is added to")
    parser.add_argument("seen", metavar="SEEN", help='what was seen, as "first crystals at 31 degC, 220 mL"')


def add_calibrate(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("name", metavar="NAME", help='what the liquor is called, as "old liquor"')
    parser.add_argument("salt", metavar="SALT", help="formula, hydrate, name or common name")
    parser.add_argument(
        "--point", metavar="POINT", action="append", dest="points",
        help='first crystals: temperature and the strength of the liquor, as "31 degC = 20 %% w/w" (repeatable)',
    )  # fmt: skip
    parser.add_argument(
        "--save",
        metavar="FILE",
        help="file that the curve is added to, by its name (.toml); others in it stay",
    )
