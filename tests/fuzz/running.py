"""Running the command line on drawn words in a folder of its own, and what must hold whatever the words are."""

from __future__ import annotations

import contextlib
import io
import json
import os
import re
import tempfile
import time
import tomllib
import traceback
import warnings
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from unittest import mock

from crystal.faces.cli import boil, main

CPU_s = 30.0
"""Processor time that one command may take."""
CPU_WITH_COMPANY_s = 120.0
"""The same with other solutes in the pot: every crop's liquor is another mixture, its phase map worked out anew."""

_NO_NUMBER = re.compile(r"(?<![\w.'\"])[-+]?(nan|inf|NaN|Infinity)(?![\w'\"])")


@dataclass
class Ran:
    """One command: its words, how it ended, what it printed, and the folder's files before and after."""

    words: Sequence[str]
    code: int | None
    out: str
    err: str
    fault: str
    warned: list[str]
    cpu_s: float
    before: dict[str, bytes]
    after: dict[str, bytes]

    def __str__(self) -> str:
        given = {name: text for name, text in self.before.items() if name in self.words}
        files = "".join(f"\n--- {name}\n{text[:1500]!r}" for name, text in given.items())
        said = f"{self.out[-500:]}\n{self.err}\n{self.fault}{self.warned or ''}"
        return f"{list(self.words)!r}\n-> {self.code}\n{said}{files}"


class _Clock:
    """Time that passes only by waiting for it; whoever has waited ten thousand times breaks it off."""

    def __init__(self) -> None:
        self.now = 0.0
        self.waits = 0

    def monotonic(self) -> float:
        return self.now

    def sleep(self, seconds: float) -> None:
        assert seconds >= 0
        self.now += seconds
        self.waits += 1
        if self.waits > 10_000:
            raise KeyboardInterrupt


class _Server:
    def run(self) -> None:
        """Served until it is stopped: at once."""


@contextlib.contextmanager
def folder_with(files: Mapping[str, bytes]) -> Iterator[Path]:
    """A new folder that holds these files, and is the working folder."""
    home = Path.cwd()
    with tempfile.TemporaryDirectory(prefix="crystal-fuzz-") as made:
        folder = Path(made)
        for name, content in files.items():
            (folder / name).parent.mkdir(exist_ok=True)
            (folder / name).write_bytes(content)
        os.chdir(folder)
        try:
            yield folder
        finally:
            os.chdir(home)


def contents(folder: Path) -> dict[str, bytes]:
    return {str(p.relative_to(folder)): p.read_bytes() for p in sorted(folder.rglob("*")) if p.is_file()}


def run(words: Sequence[str], folder: Path) -> Ran:
    """Run ``crystal`` with these words in a folder, as a terminal would."""
    out = io.TextIOWrapper(io.BytesIO(), encoding="utf-8")
    err = io.TextIOWrapper(io.BytesIO(), encoding="utf-8", errors="backslashreplace")
    before, code, fault = contents(folder), None, ""
    with (
        mock.patch.dict(os.environ),
        mock.patch.object(boil, "time", _Clock()),
        mock.patch("waitress.create_server", return_value=_Server()),
        mock.patch("webbrowser.open", return_value=True),
        contextlib.redirect_stdout(out),
        contextlib.redirect_stderr(err),
        warnings.catch_warnings(record=True) as caught,
    ):
        os.environ.pop("CRYSTAL_DATA", None)
        warnings.simplefilter("always")
        warnings.simplefilter("ignore", DeprecationWarning)
        warnings.simplefilter("ignore", PendingDeprecationWarning)
        begun = time.process_time()
        try:
            code = main(list(words))
        except BaseException:
            fault = traceback.format_exc()
        cpu_s = time.process_time() - begun
    out.flush()
    err.flush()
    printed = [stream.buffer.getvalue().decode("utf-8") for stream in (out, err)]
    warned = [f"{w.category.__name__}: {w.message} ({w.filename}:{w.lineno})" for w in caught]
    return Ran(words, code, *printed, fault, warned, cpu_s, before, contents(folder))


@dataclass(frozen=True)
class Expected:
    """What one command may change and must name."""

    may_make: frozenset[str] = frozenset()
    may_change: frozenset[str] = frozenset()
    named: tuple[str, ...] = ()
    with_company: bool = False
    said: str = field(default="", repr=False)


ANSWERED: Counter[tuple[str, int | None]] = Counter()
"""Commands by how they ended, for a long run to show that they did not all stop at the door."""


def check(ran: Ran, expected: Expected) -> None:
    """Ends with 0 or 2, says so properly, and touches nothing that it should not."""
    ANSWERED[ran.words[0], ran.code] += 1
    assert not ran.fault, f"traceback\n{ran}"
    assert ran.code in (0, 2) or (ran.code == 130 and "--follow" in ran.words), f"exit code\n{ran}"
    assert not ran.warned, f"warnings\n{ran}"
    limit = CPU_WITH_COMPANY_s if expected.with_company else CPU_s
    assert ran.cpu_s < limit, f"took {ran.cpu_s:.1f} s\n{ran}"
    assert set(ran.before) <= set(ran.after), f"a file is lost\n{ran}"
    changed = {name for name, content in ran.before.items() if ran.after[name] != content}
    made = set(ran.after) - set(ran.before)
    if ran.code != 0:
        assert not changed, f"changed on failure: {changed}\n{ran}"
        assert not made, f"made on failure: {made}\n{ran}"
        if ran.code == 130:
            return
        assert ran.out == "", f"printed on failure\n{ran}"
        assert ran.err.startswith("crystal"), f"error\n{ran}"
        assert ran.err.count("\n") == 1, f"error in several lines\n{ran}"
        assert len(ran.err) < 4000, f"an error as long as {len(ran.err)} characters\n{ran}"
        shown = (text for name in expected.named for text in (name, repr(name)[1:-1]))
        named = [" ".join(text.split()).lower() for text in shown]
        assert any(name and name in ran.err.lower() for name in named), (
            f"the error names nothing of {named}\n{ran}"
        )
        return
    assert changed <= expected.may_change | expected.may_make, f"changed: {changed}\n{ran}"
    assert made <= expected.may_make, f"made: {made}\n{ran}"
    assert ran.err == "" or "--follow" in ran.words, f"error on success\n{ran}"
    check_numbers(ran, expected)


def check_numbers(ran: Ran, expected: Expected) -> None:
    """JSON without NaN or infinities, and none in text, unless the person wrote it."""
    if "--json" in ran.words and ran.out.lstrip().startswith(("{", "[")):
        json.loads(ran.out, parse_constant=_refuse)
    told = " ".join(ran.words) + expected.said
    shown = _NO_NUMBER.search(ran.out)
    assert shown is None or shown.group(1) in told, f"prints {shown.group(0)}\n{ran}"


def _refuse(name: str) -> Any:
    raise AssertionError(f"{name} in JSON")


def check_only_seen_was_added(old: bytes, new: bytes) -> None:
    """A batch file after ``log``: everything that stood in it, and one more observation."""
    before, after = (tomllib.loads(text.decode("utf-8")) for text in (old, new))
    seen_before, seen_after = (table.pop("seen", []) for table in (before, after))
    # As text: a NaN in it equals itself.
    assert repr(after) == repr(before), "log changed more than what was seen"
    assert len(seen_after) == len(seen_before) + 1, "log added not one observation"
    assert repr(seen_after[:-1]) == repr(seen_before), "log changed what was seen before"
