"""Requests to the page: queries, slider positions and uploaded batch files."""

from __future__ import annotations

import io
import json
import re
import time
from functools import cache
from pathlib import Path
from typing import Any

import batches
import pytest
import wild
from budget import fuzzed
from hypothesis import strategies as st

pytest.importorskip("flask", reason="the extra crystal[page] is not installed")

from crystal.data.catalogue import Catalogue
from crystal.faces.page.app import make_app
from crystal.faces.page.state import FIELDS

HOST = "127.0.0.1:8765"
CPU_s = 15.0
"""Processor time that one request may take; with other solutes in the pot four times that."""
SEED = "<img src=x onerror=alert(1)>\"'&{{7*7}}"
KEYS = (*(field.key for field in FIELDS), "stop", "deg", "vol", "x")
_NO_NUMBER = re.compile(r"[>\s](nan|NaN|inf|Infinity)[\s<]")


@cache
def client() -> Any:
    made = make_app(Catalogue.bundled(), 8765)
    made.config["PROPAGATE_EXCEPTIONS"] = False  # a fault shows as the 500 that a person would meet
    return made.test_client()


def ask(path: str, method: str = "GET", **more: Any) -> Any:
    begun = time.process_time()
    reply = client().open(path, method=method, headers={"Host": HOST}, **more)
    took_s = time.process_time() - begun
    told = str(more)
    assert took_s < CPU_s * (4 if "beside" in told or "with" in told else 1), f"took {took_s:.1f} s"
    return reply


def sound(reply: Any, told: str) -> None:
    body = reply.get_data(as_text=True)
    assert reply.status_code < 500, body[:500]
    assert "Traceback" not in body
    assert "site-packages" not in body
    assert str(Path(__file__).parents[2]) not in body
    if reply.is_json:
        table = json.loads(body, parse_constant=_refuse)
        html = table.get("html", "")
        assert html
    else:
        html = body if reply.mimetype == "text/html" else ""
    assert "<img src=x" not in html
    shown = _NO_NUMBER.search(html)
    assert shown is None or shown.group(1) in told, html[max(0, shown.start() - 200) : shown.end() + 50]


def _refuse(name: str) -> Any:
    raise AssertionError(f"{name} in JSON")


@st.composite
def queries(draw: st.DrawFn) -> dict[str, str]:
    """A form as it may be filled in: mostly a pot, with some fields more and now and then a wild one."""
    salt = draw(st.sampled_from(tuple(wild.SALTS)))
    solid, beside, per_100g = wild.SALTS[salt]
    water = draw(st.floats(100, 900))
    found = {"salt": salt, "water": f"{water:.4g} g", "cool": draw(wild.cold)}
    found["holds"] = f"{draw(st.floats(0.2, 2.0)) * water / 100 * per_100g:.4g} g of {solid}"
    if draw(st.integers(0, 2)) == 0:
        found = {}
    examples = {field.key: field.example for field in FIELDS}
    for key in draw(st.lists(st.sampled_from([k for k in KEYS if k != "beside"]), max_size=3)):
        stop = draw(st.floats(-10, 1000).map(str)) if key == "stop" else examples.get(key, "F")
        found[key] = (
            stop
            if draw(st.booleans())
            else draw(st.one_of(wild.wild(), st.just(SEED), st.text(max_size=140)))
        )
    if draw(st.integers(0, 15)) == 0:
        found["beside"] = draw(
            st.builds("{} of {}".format, wild.quantity(0.1, 30, "g"), st.just(beside)) | wild.wild()
        )
    return {key: text.encode("utf-8", "replace").decode("utf-8") for key, text in found.items()}


@fuzzed(30, query=queries())
def test_queries(query: dict[str, str]) -> None:
    """Every address answers, whatever the form holds; the file saved from it is read back or refused in words."""
    for path in ("/answer", "/"):
        sound(ask(path, query_string=query), str(query))
    saved = ask("/batch.toml", query_string=query)
    sound(saved, str(query))
    if saved.status_code == 200:
        sound(ask("/load", "POST", data={"file": (io.BytesIO(saved.get_data()), "b.toml")}), str(query))


@fuzzed(25, sent=batches.files(), name=st.sampled_from(["b.toml", "../../b<img src=x>.toml", ""]))
def test_uploads(sent: bytes, name: str) -> None:
    """A batch file is taken or refused in words; where it leads is sound too."""
    reply = ask("/load", "POST", data={"file": (io.BytesIO(sent), name)})
    sound(reply, str(sent))
    if reply.status_code == 303:
        sound(ask(reply.headers["Location"]), str(sent))
