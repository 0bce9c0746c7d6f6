"""Values as people, other programs and accidents write them: plausible ones by kind, and wild ones."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

from hypothesis import strategies as st

SALTS = {
    # salt: a solid to weigh out, another substance beside it, something close to saturated at 20 °C (g per 100 g of water)
    "MgSO4": ("MgSO4.7H2O", "H2SO4", 35), "CuSO4": ("CuSO4.5H2O", "H2SO4", 20), "NaCl": ("NaCl", "KCl", 36),
    "KNO3": ("KNO3", "NaCl", 31), "Na2CO3": ("Na2CO3.10H2O", "NaOH", 21), "Zn(NO3)2": ("Zn(NO3)2.6H2O", "HNO3", 118),
    "KAl(SO4)2": ("KAl(SO4)2.12H2O", "K2SO4", 6), "CaCl2": ("CaCl2.6H2O", "HCl", 74), "Na2SO4": ("Na2SO4.10H2O", "NaCl", 19),
    "FeCl2": ("FeCl2.4H2O", "HCl", 62), "Na2S2O3": ("Na2S2O3.5H2O", "NaCl", 70), "Li2SO4": ("Li2SO4.H2O", "LiCl", 34),
    "H3BO3": ("H3BO3", "NaCl", 5), "C12H22O11": ("C12H22O11", "NaCl", 200),
}  # fmt: skip
OTHER_NAMES = (
    "Epsom salt",
    "blue vitriol",
    "rock salt",
    "CuSO4.5H2O",
    "nacl",
    "sulfate",
    "copper",
    "H2O",
    "ice",
    "XyZ2",
)

_NUMBERS = (
    "0", "-0", "-5", "1e308", "1e400", "-1e308", "1e-320", "nan", "inf", "-inf", "NaN", "∞", "½", "٣", "१", "1,5", "1.5e2",
    "1.2.3", "0x10", "1_000", "1 000", "1.000,5", "+-3", "1e", "e5", ".", ",", "5 5", "99999999999999999999", "0.0000001",
    "1/3", "1/0", "1/8", "2/1", "−5", "1e9999999", "9" * 400,
)  # fmt: skip
_UNITS = (
    "g", "kg", "mL", "L", "degC", "C", "F", "K", "°C", "%", "% w/w", "g/mL", "g/L", "mol/L", "mol/kg", "g/100 g water", "W", "h",
    "min", "mm", "m", "kPa", "mbar", "mol", "Be", "volumes", "g of MgSO4.7H2O", "g of", "mol NaCl", "g of XyZ", "m^99999", "g/0",
    "g**g", "furlong", "(", "delta_degC", "g at 20 degC", "g/mL at 500 degC", "count", "dB", "pH", "1/g", "e", "US fl oz",
)  # fmt: skip
_WORDS = (
    "", " ", "g", "x", "--", "-", "=", ",", ";", "yes", "None", "true", "all", "$x$", "$\\frac{", "{0}", "%s", "%", "\\", "'\"", "[b]",
    "\x1b[31m", "‮", "a\nb", "Cu SO4", "CuSO4.", ".5H2O", "CuSO4.0H2O", "CuSO4.99999999H2O", "(" * 60, "H" * 300, "A -> ", "->",
    "__import__('os')", "lambda: 1", "#", "[[seen]]", "\udcff", "é" * 50, "Fe+++", "e-", "CuSO4·5H2O", "水", "1 g of 水",
)  # fmt: skip


def numbers() -> st.SearchStrategy[str]:
    finite = st.floats(allow_nan=False, allow_infinity=False)
    return st.one_of(
        st.sampled_from(_NUMBERS), finite.map(repr), st.integers(-(10**6), 10**6).map(str),
        st.floats(0, 1000).map("{:.4g}".format),
    )  # fmt: skip


def wild() -> st.SearchStrategy[str]:
    """Anything, no NUL in it (a command line cannot carry one)."""
    anything = st.text(st.characters(blacklist_characters="\0"), max_size=20)
    return st.one_of(
        st.builds("{} {}".format, numbers(), st.sampled_from(_UNITS)),
        st.builds("{}{}".format, numbers(), st.sampled_from(_UNITS)),
        numbers(), st.sampled_from(_WORDS), anything,
    )  # fmt: skip


def quantity(low: float, high: float, *units: str) -> st.SearchStrategy[str]:
    return st.builds("{:.4g} {}".format, st.floats(low, high), st.sampled_from(units))


def several(part: st.SearchStrategy[str], most: int = 3) -> st.SearchStrategy[str]:
    return st.lists(part, min_size=1, max_size=most).map(", ".join)


temperature = quantity(-5, 100, "degC", "C", "°C") | quantity(30, 200, "degF") | quantity(280, 370, "K")
cold = quantity(0, 35, "degC")
share = quantity(1, 99, "%") | st.floats(0.01, 0.99).map("{:.3g}".format)
volume = quantity(50, 800, "mL") | quantity(0.1, 2, "L")
mass = quantity(1, 500, "g") | quantity(0.01, 1, "kg", "lb")
size = volume | mass | quantity(5, 95, "%") | st.sampled_from(["1/2", "1/8"])
strength = st.one_of(
    quantity(1, 50, "% w/w", "%"), quantity(1, 100, "g/100 g water"), quantity(10, 500, "g/L"), quantity(0.1, 5, "mol/L", "mol/kg"),
)  # fmt: skip
density = st.builds("{:.3f} g/mL at {:.0f} degC".format, st.floats(1.0, 1.5), st.floats(10, 60)) | quantity(
    1.0, 1.6, "g/mL"
)
substance = st.sampled_from(
    ["H2SO4", "HCl", "HNO3", "NaOH", "NH3", "H2O2", "H3PO4", "NaCl", "CuSO4", "CH3COOH", "C6H8O7"]
)
solution = st.builds(
    "{} {}".format,
    strength | quantity(0.9, 1.9, "g/mL") | quantity(5, 60, "Be") | quantity(5, 50, "volumes"),
    substance,
)
amount_of_solution = st.builds("{} of {}".format, mass | volume, solution | st.just("water"))
EQUATIONS = (
    "CuO + H2SO4 -> CuSO4 + H2O", "Zn + H2SO4 -> ZnSO4 + H2", "Na2CO3 + HCl -> NaCl + CO2 + H2O",
    "MgCO3 + H2SO4 -> MgSO4 + CO2 + H2O", "NaOH + HCl -> NaCl + H2O", "FeCl2 + H2O2 + HCl -> FeCl3 + H2O",
    "Cu + HNO3 -> Cu(NO3)2 + NO + H2O", "CaCO3 + HNO3 -> Ca(NO3)2 + CO2 + H2O",
    "AgNO3 + NaCl -> AgCl + NaNO3", "K2CO3 + HCl -> KCl + H2O + CO2",
)  # fmt: skip
USED = (
    "CuO",
    "H2SO4",
    "Zn",
    "Na2CO3",
    "HCl",
    "MgCO3",
    "NaOH",
    "FeCl2",
    "H2O2",
    "Cu",
    "HNO3",
    "CaCO3",
    "AgNO3",
    "NaCl",
    "K2CO3",
)


def toml(table: Mapping[str, Any]) -> str:
    """A table as TOML: plain values first, then its tables under their headings, so that both forms of them occur."""
    plain = {k: v for k, v in table.items() if not isinstance(v, dict) and not _tables(v)}
    lines = [f"{_key(k)} = {_value(v)}" for k, v in plain.items()]
    for key, value in table.items():
        if isinstance(value, dict):
            lines += ["", f"[{_key(key)}]", *(f"{_key(k)} = {_value(v)}" for k, v in value.items())]
        elif _tables(value):
            for one in value:
                lines += ["", f"[[{_key(key)}]]", *(f"{_key(k)} = {_value(v)}" for k, v in one.items())]
    return "\n".join(lines) + "\n"


def _tables(value: Any) -> bool:
    return isinstance(value, list) and bool(value) and all(isinstance(one, dict) for one in value)


def _key(key: str) -> str:
    return key if key.isascii() and key.replace("_", "").isalnum() else _value(key)


def _value(value: Any) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, dict):
        return "{" + ", ".join(f"{_key(k)} = {_value(v)}" for k, v in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(map(_value, value)) + "]"
    if isinstance(value, str):
        return json.dumps(value.replace("\udcff", "?"), ensure_ascii=False).replace("\x7f", "\\u007f")
    return repr(value)


_BYTES = (
    b"\0",
    b"\xff",
    b"\xef\xbb\xbf",
    b"\r",
    b"\n",
    b'"',
    b"=",
    b"[",
    b",",
    b"\xe2\x80\xa8",
    b"1e999",
    b"nan",
)


def mutated(content: bytes) -> st.SearchStrategy[bytes]:
    """The bytes after accidents: cut, doubled, overwritten, with strange bytes in between."""

    @st.composite
    def of(draw: st.DrawFn) -> bytes:
        found = content
        for _ in range(draw(st.sampled_from([1, 1, 2, 4]))):
            at = draw(st.integers(0, len(found)))
            to = min(len(found), at + draw(st.integers(0, 40)))
            kind = draw(st.sampled_from(["cut", "double", "put", "end", "flip"]))
            if kind == "cut":
                found = found[:at] + found[to:]
            elif kind == "double":
                found = found[:to] + found[at:]
            elif kind == "end":
                found = found[:at]
            elif kind == "flip" and at < len(found):
                found = found[:at] + bytes([found[at] ^ (1 << draw(st.integers(0, 7)))]) + found[at + 1 :]
            else:
                found = found[:at] + draw(st.sampled_from(_BYTES) | st.binary(max_size=6)) + found[at:]
        return found

    return of()
