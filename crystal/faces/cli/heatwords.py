"""The words of the commands on heat and time; imports nothing but argparse."""

from __future__ import annotations

import argparse
from typing import Any


class _EndPoint(argparse.Action):
    """The end of reducing under either of its names; errors are to call it as the person did."""

    def __call__(
        self,
        parser: argparse.ArgumentParser,
        namespace: argparse.Namespace,
        values: Any,
        option: str | None = None,
    ) -> None:
        if namespace.reduce_to is not None:
            parser.error(f"{option} is given beside {namespace.reduce_to_named}, which means the same")
        namespace.reduce_to, namespace.reduce_to_named = values, option


def add_air(group: argparse._ArgumentGroup) -> None:
    """The air's pressure, by altitude or barometer."""
    group.add_argument(
        "--altitude", metavar="HEIGHT", help='height above the sea, as "800 m" (default: sea level)'
    )
    group.add_argument(
        "--pressure", metavar="PRESSURE",
        help='or the air\'s own pressure, as "94.5 kPa" (not reduced to sea level)',
    )  # fmt: skip


def add_reduction(group: argparse._ArgumentGroup) -> None:
    """How far the pot is boiled down."""
    group.add_argument(
        "--reduce-to", "--end", metavar="SIZE", dest="reduce_to", action=_EndPoint,
        help='end of reducing, as "190 mL", "270 g", "40 %%", "1/8", "1.45 g/mL" or "26 %% w/w"; either name will do',
    )  # fmt: skip
    group.add_argument(
        "--remove", metavar="AMOUNT", help='or water taken out, as "300 g" or "5 %%" of the water'
    )


def add_end(group: argparse._ArgumentGroup) -> None:
    """The end point, and where its volume is read."""
    add_reduction(group)
    group.add_argument(
        "--read-at", metavar="TEMP", help="temperature at which the end volume is read (default 20 degC)"
    )


def add_marks(parser: argparse.ArgumentParser) -> None:
    """An end point in four ways, or what a reading means."""
    group = parser.add_argument_group("end point")
    add_end(group)
    add_air(group)
    group.add_argument(
        "--tare", metavar="MASS", help='mass of the empty vessel, as "312 g": adds it to the mark'
    )
    group.add_argument(
        "--reading", metavar="READING",
        help='instead of --reduce-to: what the pot shows, boiling as "104.5 degC" or by the hydrometer as "1.30 g/mL at 60 degC"',
    )  # fmt: skip


def add_boil(parser: argparse.ArgumentParser) -> None:
    """Water, heat and hours of boiling down."""
    group = parser.add_argument_group("boiling down")
    add_end(group)
    add_air(group)
    add = group.add_argument
    add("--boil-at", metavar="TEMP", help="temperature at which the pot stands (default: where it boils)")
    add("--power", metavar="POWER", help='the heater\'s power, as "500 W"')
    add("--efficiency", metavar="SHARE", help='share of it that reaches the pot, as "50 %%" (the default)')
    group = parser.add_argument_group("the pot's own log")
    add = group.add_argument
    add(
        "--log", metavar="FILE",
        help="CSV with time_h or time_min, and volume_mL or mass_g (and temperature_degC)",
    )  # fmt: skip
    add("--log-read-at", metavar="TEMP", help="temperature of the logged volumes (default: the pot's own)")
    add(
        "--reading-error",
        metavar="SHARE",
        help='how far a logged volume may be misread, as "5 %%" (the default)',
    )
    add(
        "--warm-up",
        metavar="TIME",
        help='readings before it are left out, as "30 min" (default: found in the log)',
    )
    add("--follow", action="store_true", help="read --log again as it grows, a line for each new reading")
    add("--every", metavar="TIME", help='how often --follow looks, as "20 s" (the default)')
    add(
        "--patience",
        metavar="TIME",
        help='--follow ends after so long without a new reading (default "30 min")',
    )


def add_cool(parser: argparse.ArgumentParser) -> None:
    """A pot on its way down."""
    group = parser.add_argument_group("cooling")
    add_end(group)
    add = group.add_argument
    add("--cool-to", metavar="TEMP", help='temperature that the pot is cooled to, as "5 degC"')
    add("--cool-from", metavar="TEMP", help="temperature of the hot pot (default 100 degC)")
    add("--bed", metavar="SHARE", help="solids' share of the settled crystals' volume (0.55; needles 0.40)")
    group = parser.add_argument_group("a curve to lead it along")
    add = group.add_argument
    add("--hours", metavar="TIME", help='time for the controlled curve, as "8 h" (the default)')
    add(
        "--exponent",
        metavar="NUMBER",
        help="of that curve (default 3, for a seeded pot; 4 unseeded; 1 straight)",
    )
    add("--size", metavar="LENGTH", help='crystals wanted, as "2 mm": tells how much seed')
    add("--seed-size", metavar="LENGTH", help='size of the seed, as "0.3 mm" (the default)')
    group = parser.add_argument_group("left to itself")
    add = group.add_argument
    add("--readings", metavar="READINGS", help='two or three, as "0 min 90 degC; 20 min 75 degC"')
    add("--surroundings", metavar="TEMP", help="what it cools towards; three readings find it themselves")
    add("--night", metavar="TEMPS", help='a low and a high of the forecast, as "-3, 6 degC"')
    add(
        "--insulated-from",
        metavar="TEMP",
        help="crystals come here in a pot that keeps its heat: where does it end?",
    )
