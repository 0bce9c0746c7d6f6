"""The README's commands run as printed, and print the lines that it shows."""

from __future__ import annotations

import re
import shlex
import tomllib
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


def blocks(kind: str) -> list[str]:
    return re.findall(rf"```{kind}\n(.*?)```", README, flags=re.DOTALL)


def block(kind: str) -> str:
    return blocks(kind)[0]


def batch_files() -> dict[str, str]:
    """The batch files of the README under the names that its commands call them by."""
    by_title = {
        "Epsom salt, second try": "batch.toml",
        "Blue vitriol from copper oxide": "vitriol.toml",
        "White vitriol from zinc oxide": "zinc.toml",
    }
    return {by_title[tomllib.loads(text)["title"]]: text for text in blocks("toml")}


def run(command: str, folder: Path, capsys: pytest.CaptureFixture[str]) -> list[str]:
    """The lines that a command prints; with '> FILE' they go into the folder too."""
    words = shlex.split(command)
    target = words[-1] if words[-2:-1] == [">"] else None
    words = words[1:-2] if target else words[1:]
    assert main(words) == 0
    printed = capsys.readouterr().out
    if target:
        (folder / target).write_text(printed, encoding="utf-8")
    return printed.splitlines()


def needed(place: int) -> list[str]:
    """The commands before one that wrote what it reads: an answer put into a file, observations logged."""
    command = commands()[place][0]
    earlier = [one for one, _ in commands()[:place]]
    writes = [
        one.rsplit(" ", 1)[1] if " > " in one else shlex.split(one)[2] if " log " in one else None
        for one in earlier
    ]
    return [
        one
        for one, file in zip(earlier, writes, strict=True)
        if file is not None and file in shlex.split(command)
    ]


@pytest.mark.parametrize("place", range(len(commands())), ids=[c[:50] for c, _ in commands()])
def test_command_prints_what_the_readme_shows(place, tmp_path, monkeypatch, capsys):
    command, shown = commands()[place]
    monkeypatch.chdir(tmp_path)
    for name, text in batch_files().items():
        (tmp_path / name).write_text(text, encoding="utf-8")
    assert command.startswith("crystal ")
    for earlier in needed(place):
        run(earlier, tmp_path, capsys)
    printed = run(command, tmp_path, capsys)
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
