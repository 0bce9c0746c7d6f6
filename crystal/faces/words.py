"""How the program says things to a person: outcomes in words, numbers to the digits that mean something."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Sequence

from crystal.data.records import Caution, Salt

OUTCOME_MEANS = {
    "clear": "no crystals",
    "crop": "crystals under liquor that pours off",
    "thick": "a wet cake, no free liquor above it",
    "set": "set solid",
}

LOCAL_RULES = (
    "Follow local rules; leave disposal, and any work you are unsure of, to licensed or qualified people."
)

NO_LIQUID_MARK = "no mark, solid stands in it wherever the data tell"
"""What is said of volume and hydrometer where the pot is never clear."""

PLAIN_TOO = ", --plain leaves it out"
"""What a sentence on others in the pot says of the command line alone."""

_NUMBER_AND_UNIT = re.compile(
    r"(?<=\d) (?:(?:mass )?%|fl oz|[°k]?[CFKJg]|°Bé|m?L|mm?|min|h|g/mL|kPa|W)(?!\w)"
)
_CODE = re.compile(r"^(?P<code>H\d{3}): (?P<text>.*?)(?: \(check[^()]*\))?\.$")


def three(value: float) -> str:
    """Three significant digits, without an exponent for the sizes of a bench.

    Examples
    --------
    >>> three(0.012345), three(12.345), three(1234.5), three(0.0)
    ('0.0123', '12.3', '1230', '0')
    """
    if abs(value) < 1e-9 or not math.isfinite(value):  # what rounding leaves of nothing is nothing
        return f"{value + 0.0:.0f}"
    digits = 2 - math.floor(math.log10(abs(value)))
    rounded = round(value, digits)
    if abs(rounded) < 1e-4:
        return f"{value:.2e}"
    return f"{rounded:.{max(2 - math.floor(math.log10(abs(rounded))), 0)}f}"


def grams(value: float) -> str:
    """A mass: '12.3 g'."""
    return f"{three(value)} g"


def millilitres(value: float) -> str:
    """A volume: '123 mL'."""
    return f"{three(value)} mL"


def celsius(value: float) -> str:
    """A temperature: '20 °C', to a tenth where it has one.

    Examples
    --------
    >>> celsius(20.0), celsius(31.349), celsius(-0.04)
    ('20 °C', '31.3 °C', '0 °C')
    """
    return f"{round(value, 1) + 0.0:g} °C"


def prose(text: str) -> str:
    """A sentence of the bench with its temperatures written as print writes them: '20 °C'."""
    return text.replace(" degC", " °C")


def unbroken(text: str) -> str:
    """The same with every number kept on one line with its unit.

    Examples
    --------
    >>> unbroken("40.6 mass % at 5 °C, 6 fl oz or 12 g of it").replace("\\xa0", "_")
    '40.6_mass_% at 5_°C, 6_fl_oz or 12_g of it'
    """
    return _NUMBER_AND_UNIT.sub(lambda found: found[0].replace(" ", "\xa0"), text)


def without_options(text: str) -> str:
    """A sentence without the options of the command line, for where there is none.

    Examples
    --------
    >>> without_options("It is reckoned with, --plain leaves it out. Read it hot (--read-at) or weigh it.")
    'It is reckoned with. Read it hot or weigh it.'
    """
    return re.sub(rf"{re.escape(PLAIN_TOO)}|\s*\(--[a-z-]+\)", "", text)


def listed(parts: Sequence[str]) -> str:
    """Parts as print lists them: 'a, b and c'."""
    return " and ".join([", ".join(parts[:-1]), parts[-1]] if len(parts) > 1 else parts)


def percent(fraction: float) -> str:
    """A fraction as a percentage to three digits: '44.1 %'."""
    return f"{three(100 * fraction)} %"


def per_cent(value: float) -> str:
    """Odds in whole per cent; what rounds to none or all is said so only where it is.

    Examples
    --------
    >>> per_cent(0.0), per_cent(0.001), per_cent(0.514), per_cent(0.9991)
    ('0', '<1', '51', '>99')
    """
    if 0.0 < value < 0.005:
        return "<1"
    return ">99" if 0.995 <= value < 1.0 else f"{100 * value:.0f}"


def outcome_word(outcome: str | None) -> str:
    """The outcome as a person reads it; what is not in the data is said so."""
    return {None: "not in the data", "set": "set solid"}.get(outcome, outcome) or ""


def outcome_phrase(outcome: str | None) -> str:
    """The outcome with its meaning: 'crop (crystals under liquor that pours off)'."""
    if outcome is None or outcome == "set":
        return outcome_word(outcome)
    return f"{outcome} ({OUTCOME_MEANS[outcome]})"


def spans(intervals: Iterable[tuple[float, float]]) -> str:
    """Temperature intervals: '-4 to 68 °C; 70 to 100 °C'."""
    return "; ".join(f"{low:.4g} to {high:.4g} °C" for low, high in intervals) or "none"


def short_cautions(salt: Salt) -> list[str]:
    """The few cautions that belong on every plan: one line for each kind, hazard codes in one line.

    Of the lines on acid the one on boiling comes first, as a plan boils; else the last, for the data's order runs
    from what holds for every salt to what holds for this one.
    """
    plain: dict[str, list[Caution]] = {}
    codes = []
    for caution in salt.cautions:
        found = _CODE.match(caution.text)
        if found:
            codes.append(f"{found['text']} ({found['code']})")
        else:
            plain.setdefault(caution.kind, []).append(caution)
    lines = []
    if plain.get("heat"):
        lines.append(f"Heat: {plain['heat'][0].text}")
    if plain.get("acid"):
        boiling = [c for c in plain["acid"] if "boil" in c.text]
        lines.append(f"Acid: {(boiling or plain['acid'][-1:])[0].text}")
    if plain.get("fire"):
        lines.append(f"Fire: {plain['fire'][0].text}")
    if codes:
        lines.append(f"Harm: {salt.name}: {'; '.join(codes)}. Check the supplier's safety data sheet.")
    elif plain.get("harm"):
        lines.append(f"Harm: {plain['harm'][-1].text}")
    if plain.get("waste"):
        lines.append(f"Spent liquor: {plain['waste'][0].text}")
    lines.append(LOCAL_RULES)
    return lines
