"""The page without a network: the application, asked as its own machine asks it."""

from __future__ import annotations

import pytest

pytest.importorskip("flask", reason="the extra crystal[page] is not installed")

from crystal.data.catalogue import Catalogue
from crystal.faces.page.app import make_app

PORT = 8765
HOST = f"127.0.0.1:{PORT}"


@pytest.fixture(scope="session")
def app():
    made = make_app(Catalogue.bundled(), PORT)
    made.config["PROPAGATE_EXCEPTIONS"] = (
        False  # a fault in the page shows as the 500 that a person would meet
    )
    return made


@pytest.fixture(scope="session")
def ask(app):
    client = app.test_client()

    def asked(path, method="GET", headers=None, **more):
        return client.open(path, method=method, headers={"Host": HOST, **(headers or {})}, **more)

    return asked


def spaced(text):
    """The text with plain spaces where a number is kept on one line with its unit."""
    return text.replace("\xa0", " ")
