"""Running the command line in process."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import Any

import pytest

from crystal.faces.cli import main


@dataclass(frozen=True)
class Ran:
    code: int
    out: str
    err: str

    @property
    def json(self) -> Any:
        assert self.code == 0, self.err
        return json.loads(self.out)


@pytest.fixture
def crystal(capsys, monkeypatch, tmp_path):
    """Run ``crystal`` with these words in an empty folder, own data switched off."""
    monkeypatch.delenv("CRYSTAL_DATA", raising=False)
    monkeypatch.chdir(tmp_path)

    def run(*words: str) -> Ran:
        code = main(list(words))
        captured = capsys.readouterr()
        return Ran(code, captured.out, captured.err)

    return run
