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
    """A batch as a table."""
    salt = draw(st.sampled_from(tuple(wild.SALTS)))
    solid, beside, per_100g = wild.SALTS[salt]
    odd = draw(st.integers(0, 3))  # in a quarter of the cases all is plausible

    def value(example: str) -> Any:
        if not odd or draw(st.integers(0, 5)):
            return example.replace("MgSO4.7H2O", solid).replace("HCl", beside)
        return draw(st.one_of(wild.wild(), _ODD))

    water = draw(st.floats(100, 900))
    table: dict[str, Any] = {
        "title": draw(st.text(max_size=30) | st.sampled_from(["Trial", "$\\frac{", "[b]x[/b]"])),
        "salt": salt,
    }
    table["start"] = {
        "water": value(f"{water:.4g} g"),
        "holds": value(f"{draw(st.floats(0.2, 2.0)) * water / 100 * per_100g:.4g} g of {solid}"),
    }
    table["cool"] = {"to": value(draw(wild.cold))}
    table["reduce"] = {"to": value(draw(wild.quantity(20, 95, "%")))}
    for section, keys in _KEYS.items():
        if section in ("start", "cool", "reduce"):
            chosen = draw(
                st.lists(st.sampled_from(sorted(keys)), max_size=1 if draw(st.integers(0, 2)) else 2)
            )
        else:
            chosen = (
                draw(st.lists(st.sampled_from(sorted(keys)), max_size=3))
                if draw(st.integers(0, 3)) == 0
                else []
            )
        for key in chosen:
            example = value(keys[key][1])
            table.setdefault(section, {})[key] = (
                [example] if key in _LISTS and draw(st.booleans()) else example
            )
    for section, known in (("seen", SEEN), ("crop", _CROP)):
        if draw(st.integers(0, 2)) == 0:
            table[section] = [
                {key: value(known[key]) for key in draw(st.lists(st.sampled_from(sorted(known)), max_size=3))}
                for _ in range(draw(st.integers(1, 2)))
            ]
    if draw(st.integers(0, 7)) == 0:
        step = {
            key: value(example)
            for key, example in _STEP.items()
            if key in ("equation", "use") or draw(st.integers(0, 4)) == 0
        }
        table["made"] = {"step": [step]} | ({"volume": value(_MADE["volume"])} if draw(st.booleans()) else {})
        table.pop("start" if draw(st.booleans()) else "salt")
    if odd:
        for key in draw(st.lists(st.sampled_from(sorted(table)), max_size=1)):
            if draw(st.integers(0, 3)) == 0:
                table.pop(key)
        if draw(st.integers(0, 5)) == 0:
            table[
                draw(st.text(max_size=8) | st.sampled_from(["sat", "starts", "seen", "reduce", "made"]))
            ] = draw(_ODD)
    return table


def files() -> st.SearchStrategy[bytes]:
    """A batch file's bytes."""
    return st.one_of(
        tables().map(lambda table: wild.toml(table).encode("utf-8", "replace")),
        tables().map(lambda table: wild.toml(table).encode("utf-8", "replace")).flatmap(wild.mutated),
        wild.mutated(BATCH.encode()),
        st.binary(max_size=60),
    )
