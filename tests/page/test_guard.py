"""The page answers its own machine alone, what is sent from elsewhere is refused, and whatever it is sent stays text.

Here 500 hostile requests that cost little; ``tests/fuzz`` draws pots that reach deep.
"""

from __future__ import annotations

import io
import re
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from crystal.faces.page.state import BY_KEY
from tests.page.conftest import HOST
from tests.page.test_page import POT

QUIET = settings(
    max_examples=250, deadline=None, database=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)  # fmt: skip
SEED = "<img src=x onerror=alert(1)>\"'&{{7*7}}"


@pytest.mark.parametrize(
    "host", ["example.com", "127.0.0.1", "127.0.0.1:1", "localhost.example.com:8765", "[::1]:8765"]
)
def test_a_foreign_host_is_refused(ask, host):
    assert ask("/", headers={"Host": host}).status_code == 400


@pytest.mark.parametrize("host", [HOST, "localhost:8765", "LOCALHOST:8765"])
def test_its_own_host_is_served(ask, host):
    assert ask("/", headers={"Host": host}).status_code == 200


@pytest.mark.parametrize(
    ("headers", "status"),
    [
        ({"Origin": "http://example.com"}, 403),
        ({"Origin": "null"}, 403),
        ({"Origin": "http://localhost:8765"}, 403),
        ({"Sec-Fetch-Site": "cross-site"}, 403),
        ({"Sec-Fetch-Site": "same-site"}, 403),
        ({"Origin": f"http://{HOST}", "Sec-Fetch-Site": "same-origin"}, 303),
    ],
)
def test_a_form_posted_from_elsewhere_is_refused(ask, headers, status):
    sent = {"file": (io.BytesIO(b'salt = "MgSO4"'), "b.toml")}
    assert ask("/load", "POST", headers=headers, data=sent).status_code == status


@pytest.mark.parametrize("path", ["/", "/answer", "/batch.toml", "/nothing", "/static/page.js"])
def test_every_answer_is_guarded(ask, path):
    headers = ask(path).headers
    policy = headers["Content-Security-Policy"]
    assert policy.startswith("default-src 'none'")
    assert "unsafe" not in policy
    assert "http" not in policy
    assert "frame-ancestors 'none'" in policy
    assert headers["X-Content-Type-Options"] == "nosniff"
    assert headers["Referrer-Policy"] == "same-origin"


def test_page_has_no_inline_script_style_or_outside_address(ask):
    from urllib.parse import urlencode

    page = ask("/?" + urlencode(POT)).get_data(as_text=True)
    assert re.findall(r"<script[^>]*>[^<]*</script>", page) == [
        '<script src="/static/page.js" defer></script>'
    ]
    assert not re.search(r"\sstyle=|<style|\son[a-z]+=|https?://|javascript:", page)


def test_too_much_is_refused(ask):
    sent = {"file": (io.BytesIO(b"#" * 70_000), "b.toml")}
    assert ask("/load", "POST", data=sent).status_code == 413
    assert ask("/answer?salt=" + "x" * 9000).status_code == 414


@pytest.mark.parametrize(
    "path", ["/static/../app.py", "/static/%2e%2e/app.py", "/static//etc/passwd", "/etc/passwd"]
)
def test_no_file_of_the_machine_can_be_read(ask, path):
    assert ask(path, follow_redirects=True).status_code == 404


texts = st.one_of(
    st.text(max_size=140),
    st.just(SEED),
    st.sampled_from(["MgSO4", "NaCl", "rock salt", "KAl(SO4)2", "CuSO4.5H2O", "set", "clear"]),
    st.builds(
        "{:g} {}".format, st.floats(allow_nan=True, allow_infinity=True),
        st.sampled_from(["g", "mL", "degC", "F", "%", "g of MgSO4.7H2O", "mol NaCl", "g/mL", "% w/w", "mol/kg", "kg", "L"]),
    ),
)  # fmt: skip
KEYS = (*BY_KEY, "stop", "deg", "vol", "left", "x")


def sound(reply):
    body = reply.get_data(as_text=True)
    assert reply.status_code < 500, body[:500]
    assert "Traceback" not in body
    assert str(Path(__file__).parents[2]) not in body
    assert "site-packages" not in body
    if not reply.mimetype.startswith("application/"):
        assert "<img" not in body
    return body


@QUIET
@given(over=st.dictionaries(st.sampled_from(KEYS), texts, max_size=6), base=st.integers(0, 4))
def test_no_query_breaks_the_page(ask, over, base):
    query = {**(POT if base == 0 else {}), **over}
    reply = ask("/answer", query_string=query)
    sound(reply)
    assert "<img" not in reply.json["html"]
    if base:  # a pot that nobody could fill in costs little: the whole page and its file too
        sound(ask("/", query_string=query))
        sound(ask("/batch.toml", query_string=query))


tables = st.recursive(
    st.one_of(st.text(max_size=40), st.integers(), st.floats(), st.booleans(), st.just(SEED)),
    lambda inner: st.one_of(
        st.lists(inner, max_size=3),
        st.dictionaries(st.sampled_from(["salt", "start", "reduce", "cool", "seen", "made", "step", "to", "holds", "volume"]), inner),
    ),
    max_leaves=8,
)  # fmt: skip


def toml(value):
    import json

    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, dict):
        return "{" + ", ".join(f"{key} = {toml(one)}" for key, one in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(map(toml, value)) + "]"
    return json.dumps(value, ensure_ascii=False) if isinstance(value, str) else repr(value)


@QUIET
@given(
    sent=st.one_of(
        st.binary(max_size=300),
        st.dictionaries(
            st.sampled_from(["salt", "title", "start", "reduce", "cool", "seen", "made"]), tables
        ).map(
            lambda table: "\n".join(f"{key} = {toml(value)}" for key, value in table.items()).encode(
                "utf-8", "replace"
            )
        ),
    ),
    name=st.one_of(st.just("b.toml"), st.just("../../b<img>.toml")),
)
def test_no_upload_breaks_the_page(ask, sent, name):
    reply = ask("/load", "POST", data={"file": (io.BytesIO(sent), name)})
    sound(reply)
    if reply.status_code == 303:
        sound(ask(reply.headers["Location"]))
