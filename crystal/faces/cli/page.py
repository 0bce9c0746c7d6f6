"""``crystal page``: the local page, served until it is stopped."""

from __future__ import annotations

import argparse
import socket
import sys
import webbrowser

from crystal.errors import InputError
from crystal.faces.cli.output import put
from crystal.faces.cli.request import catalogue_of

HOST = "127.0.0.1"
PORT = 8765


def run(args: argparse.Namespace) -> None:
    """Serve the page to this machine alone."""
    try:
        import waitress

        from crystal.faces.page.app import make_app
    except ImportError as error:
        if (error.name or "").partition(".")[0] in ("flask", "waitress", "markupsafe", "jinja2", "werkzeug"):
            raise InputError(
                "crystal page", f"an installation without {error.name}", "installed with its page",
                'pip install "crystal[page]"',
            ) from None  # fmt: skip
        raise
    port = _port(args.port)
    app = make_app(catalogue_of(args), port)
    try:
        server = waitress.create_server(
            app, host=HOST, port=port, threads=4, channel_timeout=30, connection_limit=64,
            max_request_header_size=32 * 1024, max_request_body_size=128 * 1024, ident=None,
        )  # fmt: skip
    except OSError as error:
        raise InputError(
            "--port",
            str(port),
            f"a port that is free ({error.strerror or type(error).__name__})",
            str(port + 1),
        ) from None
    address = f"http://{HOST}:{port}/"
    put(f"The page is at {address} for this machine alone. Stop it with Ctrl-C.\n")
    if not args.no_browser:
        webbrowser.open(address)
    sys.stdout.flush()
    server.run()


def _port(text: str | None) -> int:
    """The port asked for, or the usual one, or any free one where that is taken."""
    if text is not None:
        if not text.isascii() or not text.isdigit() or not 1024 <= int(text) <= 65535:
            raise InputError("--port", repr(text), "a whole number from 1024 to 65535", str(PORT))
        return int(text)
    for port in (PORT, 0):
        with socket.socket() as probe:
            try:
                probe.bind((HOST, port))
            except OSError:
                continue
            return int(probe.getsockname()[1])
    raise InputError("--port", "nothing", "a free port", str(PORT))
