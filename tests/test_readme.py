"""The README's commands run as printed, and print the lines that it shows."""

from __future__ import annotations

import re
import shlex
from pathlib import Path

import pytest

from crystal.faces.cli import main

README = (Path(__file__).parent.parent / "README.md").read_text(encoding="utf-8")


def commands() -> list[tuple[str, list[str]]]:
    found: list[tuple[str, list[str]]] = []
    for block in re.findall(r"```console\n(.*?)```", README, flags=re.DOTALL):
        for line in block.splitlines():
            if line.startswith("$ "):
                found.append((line[2:], []))
            else:
                found[-1][1].append(line)
    return found


def block(kind: str) -> str:
    return re.findall(rf"```{kind}\n(.*?)```", README, flags=re.DOTALL)[0]


@pytest.mark.parametrize(("command", "shown"), commands(), ids=[c[:50] for c, _ in commands()])
def test_command_prints_what_the_readme_shows(command, shown, tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "batch.toml").write_text(block("toml"), encoding="utf-8")
    words = shlex.split(command)
    assert words[0] == "crystal"
    assert main(words[1:]) == 0
    printed = capsys.readouterr().out.splitlines()
    assert printed
    assert [line for line in shown if line not in printed] == []


def test_own_salt_of_the_readme_is_taken(tmp_path, capsys):
    own = tmp_path / "own.csv"
    own.write_text(block("csv"), encoding="utf-8")
    assert (
        main(
            [
                "yield",
                "CsCl",
                "--data",
                str(own),
                "--holds",
                "200 g",
                "--water",
                "80 g",
                "--cool-to",
                "10 degC",
            ]
        )
        == 0
    )
    assert "CsCl" in capsys.readouterr().out


def test_hand_sum_of_the_readme_runs(capsys):
    text = re.search(r"`crystal (yield Na2CO3[^`]*)`", README)
    assert text is not None
    assert main(shlex.split(text.group(1))) == 0
    assert "6360" in capsys.readouterr().out


def test_readme_names_the_test_command_that_ci_runs():
    assert "python -m pytest -q" in README
