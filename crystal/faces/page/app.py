"""The page's server: four addresses, each a plain reading of the query, guarded for one machine alone."""

from __future__ import annotations

import math
from typing import Any

from flask import Flask, Response, jsonify, redirect, render_template, request

from crystal.bench.cooling import OUTCOMES
from crystal.bench.doubt import INSTRUMENTS
from crystal.data.catalogue import Catalogue
from crystal.errors import CrystalError
from crystal.faces.page import view
from crystal.faces.page.speech import Speech
from crystal.faces.page.state import BY_KEY, FIELDS, LEFT_ASIDE, State
from crystal.faces.page.work import Stopped, Workbench
from crystal.faces.titles import term_of
from crystal.faces.words import listed, outcome_word, unbroken

LARGEST_UPLOAD = 64 * 1024
LONGEST_QUERY = 8 * 1024

_HEADERS = {
    "Content-Security-Policy": (
        "default-src 'none'; style-src 'self'; script-src 'self'; img-src 'self'; connect-src 'self'; "
        "form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
    ),
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Cache-Control": "no-store",
}


def make_app(catalogue: Catalogue, port: int) -> Flask:
    """The page as a WSGI application.

    Parameters
    ----------
    catalogue : Catalogue
        The salts.
    port : int
        The port that it is served from: requests that name another host are refused.
    """
    app = Flask(__name__)
    app.jinja_env.filters["unbroken"] = unbroken
    app.jinja_env.globals["term"] = lambda key: term_of(key).term
    app.config["MAX_CONTENT_LENGTH"] = LARGEST_UPLOAD
    app.config["MAX_FORM_MEMORY_SIZE"] = LARGEST_UPLOAD
    app.jinja_env.trim_blocks = app.jinja_env.lstrip_blocks = True
    bench = Workbench(catalogue)
    names = view.names_of(catalogue)
    hosts = {f"{name}:{port}" for name in ("127.0.0.1", "localhost")}
    if port == 80:
        hosts |= {"127.0.0.1", "localhost"}

    def page(state: State, load_fault: str = "") -> str:
        stopped, faults = _worked(bench, state)

        def told(keys: list[str]) -> bool:
            return any(state[key] or key in faults for key in keys)

        return render_template(
            "page.html", state=state, fields=BY_KEY, faults=faults, load_fault=load_fault, names=names,
            answer=None if stopped is None else view.answer(stopped, state),
            slider=None if stopped is None else _slider(stopped, state),
            seen=[(word, outcome_word(word)) for word in OUTCOMES], instruments=INSTRUMENTS.items(), told=told,
            doubts=[key for key in BY_KEY if key.startswith("doubt_")],
            left=listed([LEFT_ASIDE[key] for key in state.left]),
        )  # fmt: skip

    @app.before_request
    def guard() -> tuple[str, int] | None:
        if request.host.lower() not in hosts:
            return "This page answers on its own machine alone.", 400
        if len(request.query_string) > LONGEST_QUERY:
            return "The address is too long.", 414
        if request.method not in ("GET", "HEAD") and not _is_own(f"http://{request.host.lower()}"):
            return "Only the page itself may send here.", 403
        return None

    @app.after_request
    def protect(response: Response) -> Response:
        for name, value in _HEADERS.items():
            response.headers[name] = value
        return response

    @app.get("/")
    def whole() -> str:
        return page(State.of(request.args))

    @app.get("/answer")
    def part() -> Response:
        state = State.of(request.args)
        stopped, faults = _worked(bench, state)
        if stopped is None:
            return jsonify(
                query=state.query, faults=faults, html=render_template("nothing.html", faults=faults)
            )
        shown = view.answer(stopped, state)
        said = f"{shown['size']['volume']}: {shown['word']}, {shown['crystals'] or 'unknown'} of crystals"
        return jsonify(
            query=state.query, faults={}, html=render_template("answer.html", answer=shown), said=said,
            **_slider(stopped, state),
        )  # fmt: skip

    @app.get("/batch.toml")
    def save() -> Response:
        state = State.of(request.args)
        stopped, _ = _worked(bench, state.unseen)
        end = "" if stopped is None else f"{stopped.end.end_volume_mL:.6g} mL"
        return Response(
            state.batch_file(end),
            mimetype="application/toml",
            headers={"Content-Disposition": 'attachment; filename="batch.toml"'},
        )

    @app.post("/load")
    def load() -> Any:
        sent = request.files.get("file")
        try:
            state = State.loaded(b"" if sent is None else sent.read(), catalogue)
        except CrystalError as error:
            return page(State.of({}), f"{error}."), 422
        return redirect(f"/?{state.query}", 303)

    @app.errorhandler(404)
    @app.errorhandler(405)
    @app.errorhandler(413)
    def refused(error: Any) -> tuple[str, int]:
        words = {
            413: "The file is larger than 64 kB: a batch file is a page of text.",
            404: "There is no such page.",
        }
        return words.get(error.code, "Not in this way."), error.code

    return app


def _worked(bench: Workbench, state: State) -> tuple[Stopped | None, dict[str, str]]:
    """The answer, or what is at fault by field; neither for a form that nobody has filled in yet."""
    if not any(key in state.texts for key in (field.key for field in FIELDS if field.fact)):
        return None, {}
    try:
        return bench.stopped(state), {}
    except CrystalError as error:
        key, text = view.fault(error)
        return None, {key: text}


def _slider(stopped: Stopped, state: State) -> dict[str, Any]:
    say = Speech(state)
    low, high = stopped.planned.low_mL, stopped.planned.high_mL
    # A press of an arrow key moves it by a hundredth to a thousandth of its way; both ends lie on whole steps.
    digits = 3 - math.ceil(math.log10(high - low))
    step = 10.0**-digits
    low, high = math.ceil(low / step) * step, math.floor(high / step + 1e-9) * step
    at = min(max(stopped.end.end_volume_mL, low), high)
    return {
        "low": round(low, digits),
        "high": round(high, digits),
        "step": round(step, max(digits, 0)),
        "stop": round(at, digits),
        "shown": say.volume(stopped.end.end_volume_mL),
    }


def _is_own(origin: str) -> bool:
    """Whether a posted form comes from the page itself, as far as a browser tells."""
    if request.headers.get("Sec-Fetch-Site", "same-origin") not in ("same-origin", "none"):
        return False
    given = request.headers.get("Origin")
    return given is None or given.lower() == origin
