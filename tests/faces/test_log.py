"""What was seen is written into the batch file: sentences, comments kept, nothing lost whatever happens."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import threading
import time
import tomllib
from pathlib import Path

import pytest

from crystal.errors import InputError
from crystal.faces import filing
from crystal.faces.cli.log import add_seen
from crystal.faces.filing import replace_content, sole_writer
from crystal.faces.observations import EXAMPLES, KEYS, keys_of

BATCH = """\
# A comment at the top.
title = "Kept"   # and one here
salt = "MgSO4"

[start]
volume = "500 mL"
holds  = "200 g of MgSO4.7H2O"   # odd spacing

[cool]
to = "5 degC"
"""


@pytest.mark.parametrize(
    ("sentence", "keys"),
    [
        ("first crystals at 31 degC, 220 mL", {"first_crystals": "31 degC", "volume": "220 mL"}),
        ("First crystals showed at 31,5 °C", {"first_crystals": "31,5 °C"}),
        ("first crystals at 31 °C at 220 mL", {"first_crystals": "31 °C", "volume": "220 mL"}),
        ("no crystals yet at -2 C; at 220 mL", {"no_crystals": "-2 C", "volume": "220 mL"}),
        ("boils at 103.5 degC, 180 mL", {"boils": "103.5 degC", "volume": "180 mL"}),
        (
            "hydrometer reads 1.24 g/mL at 20 degC, 250 mL",
            {"density": "1.24 g/mL at 20 degC", "volume": "250 mL"},
        ),
        ("pot weighs 310 g, 220 mL", {"mass": "310 g", "volume": "220 mL"}),
        ("mass of the pot is 0.31 kg", {"mass": "0.31 kg"}),
        ("crystals 95 g dry", {"crystals": "95 g", "weighed": "dry"}),
        ("95 g of crystals, wet", {"crystals": "95 g", "weighed": "wet"}),
        ("set solid, at 4 degC", {"outcome": "set solid", "at": "4 degC"}),
        ("it stayed clear", {"outcome": "clear"}),
        ("outcome crop, solid MgSO4.7H2O.", {"outcome": "crop", "solid": "MgSO4.7H2O"}),
    ],
)
def test_sentences_understood(sentence, keys):
    assert keys_of(sentence) == keys
    assert set(keys) <= set(KEYS)


@pytest.mark.parametrize("sentence", EXAMPLES)
def test_every_example_of_the_help_is_understood_and_read(sentence, crystal, tmp_path):
    (tmp_path / "batch.toml").write_text(BATCH, encoding="utf-8")
    assert crystal("log", "batch.toml", sentence).code == 0
    assert crystal("explain", "batch.toml").code == 0


@pytest.mark.parametrize(
    "sentence",
    [
        "",
        "220 mL",
        "it was nice",
        "pot weighs 3 km",
        "first crystals",
        "crystals at 31",
        "31 degC = lovely",
        "at 5 degC",
    ],
)
def test_anything_else_is_refused_with_examples(sentence):
    with pytest.raises(
        InputError, match=r"SEEN: got .*it must be one of these: \"first crystals at 31 degC, 220 mL\""
    ):
        keys_of(sentence)


@pytest.mark.parametrize(
    ("sentence", "said"),
    [
        ("no crystals at -300 degC", "absolute zero"),
        ("crystals 0 g", "more than 0 g"),
        ("density 1.2", "with its unit"),
        ("solid CuSO4.5H2O", "MgSO4 or one of its hydrates"),
    ],
)
def test_what_could_not_be_counted_in_later_is_refused_now(crystal, tmp_path, sentence, said):
    file = tmp_path / "batch.toml"
    file.write_text(BATCH, encoding="utf-8")
    ran = crystal("log", "batch.toml", sentence)
    assert ran.code == 2
    assert "SEEN: got" in ran.err
    assert said in ran.err
    assert file.read_text(encoding="utf-8") == BATCH


def test_a_thing_told_twice_is_refused():
    with pytest.raises(InputError, match="tells first_crystals once"):
        keys_of("first crystals at 31 degC, first crystals at 33 degC")


def test_comments_and_spacing_stay_and_the_new_table_reads_back(crystal, tmp_path):
    file = tmp_path / "batch.toml"
    file.write_text(BATCH, encoding="utf-8")
    assert crystal("log", "batch.toml", "first crystals at 31 degC, 220 mL").code == 0
    ran = crystal("log", "batch.toml", "outcome crop, at 4 degC", "--json")
    assert ran.json == {"batch": "batch.toml", "seen": {"outcome": "crop", "at": "4 degC"}, "observations": 2}
    text = file.read_text(encoding="utf-8")
    assert text.startswith(BATCH)
    assert tomllib.loads(text)["seen"] == [
        {"first_crystals": "31 degC", "volume": "220 mL"},
        {"outcome": "crop", "at": "4 degC"},
    ]
    assert os.listdir(tmp_path) == ["batch.toml"]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (BATCH[:60], "text that is not TOML"),
        (BATCH + "\x00", "text that is not TOML"),
        ("not a batch = 1\n", "text that is not TOML"),
        (BATCH + "nonsense = 3\n", "an unknown key"),
    ],
    ids=["half-written", "corrupt", "no batch", "foreign key"],
)
def test_a_file_that_is_no_batch_is_refused_and_left_as_it_was(crystal, tmp_path, text, said):
    file = tmp_path / "batch.toml"
    file.write_text(text, encoding="utf-8")
    ran = crystal("log", "batch.toml", "outcome crop")
    assert ran.code == 2
    assert said in ran.err
    assert "batch.toml" in ran.err
    assert file.read_text(encoding="utf-8") == text
    assert os.listdir(tmp_path) == ["batch.toml"]


def test_missing_file_is_said(crystal):
    ran = crystal("log", "none.toml", "outcome crop")
    assert ran.code == 2
    assert "the batch file: got 'none.toml'" in ran.err


def test_a_second_writer_waits_then_both_are_in(tmp_path):
    file = tmp_path / "batch.toml"
    file.write_text(BATCH, encoding="utf-8")
    done = []

    def second() -> None:
        done.append(add_seen(file, {"outcome": "clear"}))

    with sole_writer(file):
        thread = threading.Thread(target=second)
        thread.start()
        time.sleep(0.3)
        assert not done
    thread.join(10)
    assert done == [1]


def test_a_file_that_stays_held_is_said_and_untouched(tmp_path):
    file = tmp_path / "batch.toml"
    file.write_text(BATCH, encoding="utf-8")
    with (
        sole_writer(file),
        pytest.raises(InputError, match=r"another program is writing to; it must be free; waited 0\.2 s"),
    ):
        add_seen(file, {"outcome": "clear"}, wait_s=0.2)
    assert file.read_text(encoding="utf-8") == BATCH


def test_many_writers_at_once_lose_nothing(tmp_path):
    file = tmp_path / "batch.toml"
    file.write_text(BATCH, encoding="utf-8")
    words = [sys.executable, "-m", "crystal", "log", str(file)]
    running = [
        subprocess.Popen(
            [*words, f"first crystals at {20 + i} degC"], stdout=subprocess.DEVNULL, stderr=subprocess.PIPE
        )
        for i in range(5)
    ]
    assert [one.wait(60) for one in running] == [0] * 5, [one.stderr.read() for one in running]
    for one in running:
        one.stderr.close()
    seen = tomllib.loads(file.read_text(encoding="utf-8"))["seen"]
    assert sorted(one["first_crystals"] for one in seen) == [f"{20 + i} degC" for i in range(5)]


KILLED = """
import os, sys, time
from pathlib import Path
from crystal.faces import filing
from crystal.faces.cli.log import add_seen
real = os.fsync if sys.argv[2] == "before" else os.replace
def stop(*a, **k):
    print("there", flush=True)
    time.sleep(60)
if sys.argv[2] == "before":
    os.fsync = stop
else:
    os.replace = stop
add_seen(Path(sys.argv[1]), {"outcome": "crop"})
"""


@pytest.mark.skipif(sys.platform == "win32", reason="signals of this kind are not there")
@pytest.mark.parametrize("where", ["before", "after"])
def test_a_writer_killed_half_way_leaves_the_file_whole_and_free(tmp_path, where):
    """Killed while the new text is being written and just before it takes the old one's place."""
    file = tmp_path / "batch.toml"
    file.write_text(BATCH, encoding="utf-8")
    writer = subprocess.Popen(
        [sys.executable, "-c", KILLED, str(file), where], stdout=subprocess.PIPE, text=True,
        cwd=Path(filing.__file__).parents[2],
    )  # fmt: skip
    assert writer.stdout.readline().strip() == "there"
    writer.send_signal(signal.SIGKILL)
    writer.wait(10)
    writer.stdout.close()
    assert file.read_text(encoding="utf-8") == BATCH
    assert add_seen(file, {"outcome": "clear"}, wait_s=2.0) == 1
    assert tomllib.loads(file.read_text(encoding="utf-8"))["seen"] == [{"outcome": "clear"}]


def test_a_failed_replacement_keeps_the_new_text_and_says_where(tmp_path, monkeypatch):
    file = tmp_path / "batch.toml"
    file.write_text(BATCH, encoding="utf-8")

    def refuse(*_: object) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(filing.os, "replace", refuse)
    with pytest.raises(
        InputError,
        match=r"cannot be replaced \(Permission denied\).*as it was; the new text is kept in",
    ) as told:
        replace_content(file, b"new")
    kept = [path for path in tmp_path.iterdir() if path != file]
    assert [path.read_bytes() for path in kept] == [b"new"]
    assert str(kept[0]) in str(told.value)
    assert file.read_text(encoding="utf-8") == BATCH


def test_a_full_disk_leaves_no_scrap(tmp_path, monkeypatch):
    file = tmp_path / "batch.toml"
    file.write_text(BATCH, encoding="utf-8")

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(filing.os, "fdopen", lambda handle, _: _Full(handle))
    with pytest.raises(InputError, match=r"cannot be replaced \(No space left on device\)"):
        replace_content(file, b"new")
    assert [path.name for path in tmp_path.iterdir()] == ["batch.toml"]
    assert file.read_text(encoding="utf-8") == BATCH


class _Full:
    """A file on a disk that is full."""

    def __init__(self, handle: int) -> None:
        self.handle = handle

    def __enter__(self) -> _Full:
        return self

    def __exit__(self, *_: object) -> None:
        os.close(self.handle)

    def write(self, _: bytes) -> None:
        raise OSError(28, "No space left on device")


def test_reduce_counts_what_was_seen_in(crystal, tmp_path):
    (tmp_path / "batch.toml").write_text(BATCH, encoding="utf-8")
    before = crystal("reduce", "--batch", "batch.toml", "--json").json
    assert crystal("reduce", "batch.toml", "--json").json == before  # a batch file in the salt's place
    assert before["evidence"] is None
    assert crystal("log", "batch.toml", "first crystals at 31 degC, 220 mL; pot weighs 270 g").code == 0
    after = crystal("reduce", "--batch", "batch.toml", "--json").json
    assert after["evidence"]["effective_draws"] < after["evidence"]["draws"]
    assert after["advice"]["end_volume_mL"] != before["advice"]["end_volume_mL"]
    told = crystal("reduce", "--batch", "batch.toml").out
    assert "What was seen says" in told
    assert "Counted in: about" in told or "drawn anew" in told
