"""The checks on drawn input fail where they should: a command that misbehaves in one way each."""

from __future__ import annotations

import os
import sys
import warnings
from collections.abc import Callable
from pathlib import Path

import pytest
import running
from running import Expected, check, check_only_seen_was_added, folder_with, run


def crashes() -> int:
    raise ZeroDivisionError


def leaves() -> int:
    sys.exit(1)


def warns() -> int:
    warnings.warn("invalid value encountered in divide", RuntimeWarning, stacklevel=2)
    return 0


def loses() -> int:
    os.unlink("kept.toml")
    return 0


def writes_and_refuses() -> int:
    Path("half.csv").write_text("half")
    return refuses("crystal: --size: got 'x'")


def spoils() -> int:
    Path("kept.toml").write_text("")
    return 0


def refuses(line: str) -> int:
    print(line, file=sys.stderr)
    return 2


def says(text: str) -> int:
    print(text)
    return 0


CASES: dict[str, tuple[Callable[[], int], str]] = {
    "crash": (crashes, "traceback"),
    "exit": (leaves, "traceback"),
    "code": (lambda: 1, "exit code"),
    "warning": (warns, "warnings"),
    "lost": (loses, "a file is lost"),
    "made": (writes_and_refuses, "made on failure"),
    "changed": (spoils, "changed"),
    "NaN in JSON": (lambda: says('{"x": NaN}'), "NaN in JSON"),
    "nan in text": (lambda: says("it weighs nan g"), "prints"),
    "names nothing": (lambda: refuses("crystal: wrong"), "names nothing"),
    "several lines": (lambda: refuses("crystal: --size\nmore"), "several lines"),
    "other voice": (lambda: refuses("error: --size"), "error"),
    "very long": (lambda: refuses("crystal: --size " + "9" * 5000), "characters"),
}


@pytest.mark.parametrize("case", CASES)
def test_what_goes_wrong_is_seen(case: str, monkeypatch: pytest.MonkeyPatch) -> None:
    does, message = CASES[case]
    monkeypatch.setattr(running, "main", lambda _words: does())
    with folder_with({"kept.toml": b"x = 1\n"}) as folder:
        ran = run(("any", "--size", "x", "--json"), folder)
    with pytest.raises(AssertionError, match=message):
        check(ran, Expected(named=("--size",)))


def test_what_goes_right_passes(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(running, "main", lambda _words: refuses("crystal: --size: got 'x'"))
    with folder_with({"kept.toml": b"x = 1\n"}) as folder:
        check(run(("any", "--size", "x"), folder), Expected(named=("--size",)))


@pytest.mark.parametrize(
    "new", [b'title = "b"\n[[seen]]\noutcome = "set"\n', b'title = "a"\n', b'[[seen]]\noutcome = "set"\n']
)
def test_what_log_may_not_do_is_seen(new: bytes) -> None:
    check_only_seen_was_added(b'title = "a"\n', b'title = "a"\n[[seen]]\noutcome = "set"\n')
    with pytest.raises(AssertionError, match=r"log (changed more|added not one)"):
        check_only_seen_was_added(b'title = "a"\n', new)
