"""``crystal demo``: an invented batch, worked through with the other commands, its charts in a folder."""

from __future__ import annotations

import argparse
import os
import shlex
from pathlib import Path

from crystal.errors import InputError
from crystal.faces.cli.commands import answer_of
from crystal.faces.cli.output import Answer, Writer, chart_writer, put, rendered, write_all
from crystal.faces.cli.parser import parse

BATCH = Path(__file__).with_name("demo_batch.toml")

_INTRO = """\
This batch is invented: a student dissolves 160 g of bitter salt, boils the liquor down in a 600 mL beaker to "about a
quarter", leaves it in a cold cellar, and finds a lump. Below: where the window lay, what each temperature gives,
the way of the batch over the phase map, why it set, and how to save it. Each part is one command that you can type.
"""

_COMMANDS = (
    ("Where does the window lie?", "window.png", ["reduce", "--batch", "{batch}"]),
    ("What do other temperatures give?", "yield.png", ["yield", "--batch", "{batch}", "--reduce-to", "160 mL",
                                                        "--cool-to", "40, 30, 20, 8 degC"]),
    ("Which way did the batch go?", "path.png", ["path", "--batch", "{batch}"]),
    ("Why did it set, and how is it saved?", None, ["explain", "{batch}"]),
    ("What is known of the salt?", "curve.png", ["card", "MgSO4"]),
)  # fmt: skip
_LONG = {"card"}
_CAUTIONS = "\nCautions\n"


def run(args: argparse.Namespace) -> None:
    """Work the demo out, write its files, then print it."""
    folder = _folder(args.folder)
    batch = folder / "batch.toml"
    text = [_INTRO]
    files: list[tuple[Path, Writer]] = [(batch, lambda path: path.write_bytes(BATCH.read_bytes()))]
    for question, chart, words in _COMMANDS:
        answer = _answer([word.format(batch=BATCH) for word in words], args.data)
        shown = ["crystal", *(word.format(batch=batch) for word in words)]
        if chart is not None and answer.chart is not None:
            files.append((folder / chart, chart_writer(answer.chart)))
            shown += ["--chart", str(folder / chart)]
        body = "(a page of text, left out here)\n" if words[0] in _LONG else rendered(answer, as_json=False)
        if _CAUTIONS in body and len(text) > 1:
            body = body.split(_CAUTIONS)[0] + "\n(cautions as above)\n"
        text.append(f"---- {question}\n$ {shlex.join(shown)}\n\n{body}")
    is_new = not folder.exists()
    folder.mkdir(exist_ok=True)
    try:
        write_all(files)
    except BaseException:
        if is_new:
            folder.rmdir()
        raise
    names = "\n".join(f"  {path}" for path, _ in files)
    text.append(f"---- Written, the batch file to start your own from:\n{names}\n")
    put("\n".join(text))


def _answer(words: list[str], own_data: str | None) -> Answer:
    args = parse(words)
    assert args is not None
    args.data = own_data
    return answer_of(args)


def _folder(path: str) -> Path:
    """The folder that the demo writes into, refused before anything is computed where it cannot be."""
    folder = Path(path)
    try:
        above = folder if folder.is_dir() else folder.parent
        fits = (
            (folder.is_dir() or not folder.exists())
            and above.is_dir()
            and os.access(above, os.W_OK | os.X_OK)
        )
    except OSError:  # a name longer than the system takes
        fits = False
    if not fits:
        raise InputError(
            "--folder",
            repr(path),
            "a folder, or a new one in a folder that can be written to",
            "crystal-demo",
        )
    return folder
