"""``crystal page``: where it is served, and what is said where it cannot be."""

from __future__ import annotations

import socket
import subprocess
import sys
import urllib.request

import pytest

from crystal.faces.cli import main


@pytest.mark.parametrize("missing", ["flask", "waitress"])
def test_without_its_extra_it_says_what_to_install(monkeypatch, capsys, missing):
    for name in [name for name in sys.modules if name.startswith("crystal.faces.page.app")]:
        monkeypatch.delitem(sys.modules, name)
    monkeypatch.setitem(sys.modules, missing, None)
    assert main(["page", "--no-browser"]) == 2
    assert 'pip install "crystal[page]"' in capsys.readouterr().err


@pytest.mark.parametrize("port", ["80", "x", "70000", "-1"])
def test_a_port_that_cannot_be_is_refused(capsys, port):
    assert main(["page", "--no-browser", f"--port={port}"]) == 2
    assert "from 1024 to 65535" in capsys.readouterr().err


def test_a_port_in_use_is_told(capsys):
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        assert main(["page", "--no-browser", "--port", str(taken.getsockname()[1])]) == 2
    assert "a port that is free" in capsys.readouterr().err


def test_it_serves_its_own_machine_and_no_other_address():
    served = subprocess.Popen(
        [sys.executable, "-m", "crystal", "page", "--no-browser"], stdout=subprocess.PIPE, text=True
    )
    try:
        assert served.stdout is not None
        line = served.stdout.readline()
        address = next(word for word in line.split() if word.startswith("http://127.0.0.1:"))
        with urllib.request.urlopen(address, timeout=20) as reply:
            assert b"How far to boil it down" in reply.read()
        port = int(address.rsplit(":", 1)[1].rstrip("/"))
        with socket.socket() as other, pytest.raises(OSError, match="refused"):
            other.connect(("127.0.0.2", port))
    finally:
        served.terminate()
        served.wait(timeout=20)
