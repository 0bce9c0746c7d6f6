"""Batch files with wild values and damaged bytes, given to every command that takes one."""

from __future__ import annotations

import batches
import wild
from budget import fuzzed
from hypothesis import strategies as st
from running import Expected, check, check_only_seen_was_added, folder_with, run

from crystal.faces.observations import EXAMPLES

NAME = "mine.toml"
QUICK = (
    ("explain", NAME), ("yield", "--batch", NAME), ("path", "--batch", NAME), ("marks", "--batch", NAME), ("boil", "--batch", NAME),
    ("cool", "--batch", NAME), ("harvest", "--batch", NAME), ("crops", "--batch", NAME), ("keep", "--batch", NAME), ("log", NAME),
)  # fmt: skip
SLOW = (("reduce", "--batch", NAME), ("sheet", NAME, "-o", "sheet.html"))


def hold(words: list[str], content: bytes) -> None:
    with folder_with({NAME: content}) as folder:
        ran = run(words, folder)
        company = any(word in content for word in (b"with", b"made", b"beside"))
        may_make = frozenset({"sheet.html"} if words[0] == "sheet" else ())
        may_change = frozenset({NAME} if words[0] == "log" else ())
        # What a file lacks is asked for by the option that would tell it.
        named = (
            NAME,
            "the batch file",
            "the pot",
            "--",
            *words[2:],
            *content.decode("utf-8", "replace").split('"'),
        )
        said = content.decode("utf-8", "replace")
        check(ran, Expected(may_make, may_change, tuple(n for n in named if n.strip()), company, said))
        if ran.code == 0 and words[0] == "log":
            check_only_seen_was_added(content, ran.after[NAME])


def told(words: tuple[str, ...], as_json: bool, sentence: str) -> list[str]:
    more = [sentence] if words[0] == "log" else []
    return [*words, *more, *(["--json"] if as_json and words[0] != "sheet" else [])]


sentences = st.one_of(
    st.sampled_from(EXAMPLES), st.lists(st.sampled_from(EXAMPLES), max_size=3).map(", ".join), wild.wild()
)


@fuzzed(60, words=st.builds(told, st.sampled_from(QUICK), st.booleans(), sentences), content=batches.files())
def test_batch_files(words: list[str], content: bytes) -> None:
    """To the commands that answer at once."""
    hold(words, content)


@fuzzed(4, words=st.builds(told, st.sampled_from(SLOW), st.booleans(), sentences), content=batches.files())
def test_batch_files_of_slow_commands(words: list[str], content: bytes) -> None:
    """To those that draw thousands of pots."""
    hold(words, content)
