"""Batch files: every key there is with plausible and wild values, other types, unknown keys, and damaged bytes."""

from __future__ import annotations

from typing import Any

import wild
from belongings import BATCH
from hypothesis import strategies as st

from crystal.faces.batchfile import _CROP, _KEYS, _LISTS, _MADE, _STEP
from crystal.faces.observations import KEYS as SEEN

_ODD = st.recursive(
    st.one_of(
        st.text(max_size=20),
        st.integers(),
        st.floats(),
        st.booleans(),
        st.just("a\0b"),
        st.just("$x$ <img src=x> {{7*7}}"),
    ),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=6), inner, max_size=3),
    max_leaves=6,
)
"""Values of any type that TOML has."""


@st.composite
def tables(draw: st.DrawFn) -> dict[str, Any]:
    """A batch as a table, plausible; then mostly one thing in it is spoiled, or two."""
    salt = draw(st.sampled_from(tuple(wild.SALTS)))
    solid, beside, per_100g = wild.SALTS[salt]
    title = draw(st.text(max_size=30) | st.sampled_from(["Trial", "$\\frac{", "[b]x[/b]", "$x"]))
    table: dict[str, Any] = {"title": title, "salt": salt}
    water = draw(st.floats(100, 900))
    holds = f"{draw(st.floats(0.2, 2.0)) * water / 100 * per_100g:.4g} g of {solid}"
    pots = ({"water": f"{water:.4g} g", "holds": holds}, {"volume": f"{1.2 * water:.4g} mL", "holds": holds},
            {"volume": draw(wild.volume), "strength": draw(wild.strength)}, {"mass": draw(wild.mass), "strength": draw(wild.strength)},
            {"volume": draw(wild.volume), "density": draw(wild.density)})  # fmt: skip
    table["start"] = draw(st.sampled_from((pots[0], *pots)))
    table["reduce"] = {"to": draw(wild.quantity(20, 95, "%"))}
    table["cool"] = {"to": draw(wild.cold)}

    def example(text: str) -> str:
        return text.replace("MgSO4.7H2O", solid).replace("HCl", beside)

    for key in draw(st.lists(st.sampled_from(["vessel", "at", "with"]), max_size=1)):
        if key != "with" or draw(st.integers(0, 3)) == 0:
            text = example(_KEYS["start"][key][1])
            table["start"][key] = [text] if key in _LISTS and draw(st.booleans()) else text
    for section in draw(
        st.lists(st.sampled_from(["reduce", "doubt", "harvest", "keep", "curve"]), max_size=2, unique=True)
    ):
        keys = draw(
            st.lists(st.sampled_from([k for k in _KEYS[section] if k != "remove"]), max_size=3, unique=True)
        )
        for key in keys:
            table.setdefault(section, {}).setdefault(key, example(_KEYS[section][key][1]))
    for section, known in (("seen", SEEN), ("crop", _CROP)):
        if draw(st.integers(0, 2)) == 0:
            chosen = st.lists(st.sampled_from(sorted(known)), min_size=1, max_size=3, unique=True)
            table[section] = [
                {key: example(known[key]) for key in draw(chosen)} for _ in range(draw(st.integers(1, 2)))
            ]
    if draw(st.integers(0, 7)) == 0:
        step: dict[str, Any] = {
            "equation": "CuO + H2SO4 -> CuSO4 + H2O",
            "use": ["CuO=36 g", "H2SO4=250 g of 20 % w/w"],
        }
        step |= {
            key: _STEP[key]
            for key in draw(st.lists(st.sampled_from(["converted", "lost"]), max_size=2, unique=True))
        }
        table["made"] = {"step": [step]} | ({"volume": _MADE["volume"]} if draw(st.booleans()) else {})
        del table["start"], table["salt"]
    for _ in range(draw(st.sampled_from([0, 0, 1, 1, 1, 1, 2]))):
        _spoil(draw, table)
    return table


def _spoil(draw: st.DrawFn, table: dict[str, Any]) -> None:
    """Change one value, leave one out, or put in what no batch has."""
    places = [table] + [
        one
        for value in table.values()
        for one in (value if isinstance(value, list) else [value])
        if isinstance(one, dict)
    ]
    place = draw(st.sampled_from(places))
    kind = draw(st.sampled_from(["value"] * 6 + ["drop", "put"]))
    if kind == "put" or not place:
        key = draw(
            st.text(max_size=8) | st.sampled_from(["sat", "starts", "seen", "reduce", "made", "to", "mass"])
        )
        place[key] = draw(_ODD | wild.wild())
    else:
        key = draw(st.sampled_from(sorted(place)))
        if kind == "drop":
            del place[key]
        else:
            place[key] = draw(st.one_of(wild.wild(), wild.wild(), _ODD))


def files() -> st.SearchStrategy[bytes]:
    """A batch file's bytes; in a quarter of the cases damaged, or no batch file at all."""
    written = tables().map(lambda table: wild.toml(table).encode("utf-8", "replace"))
    damaged = written.flatmap(wild.mutated) | wild.mutated(BATCH.encode()) | st.binary(max_size=60)
    return st.one_of(written, written, written, damaged)
