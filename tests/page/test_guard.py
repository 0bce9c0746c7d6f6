"""The page answers its own machine alone, and what is sent from elsewhere is refused."""

from __future__ import annotations

import io
import re

import pytest

from tests.page.conftest import HOST
from tests.page.test_page import POT


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
