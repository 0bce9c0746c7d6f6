"""Files of the person's own that are changed in place: one writer at a time, whole or not at all, nothing lost."""

from __future__ import annotations

import json
import os
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from crystal.errors import InputError

WAIT_s = 10.0
"""How long another writer is waited for."""

_STEP_s = 0.05


@contextmanager
def sole_writer(path: Path, wait_s: float = WAIT_s) -> Iterator[None]:
    """Hold a file for writing; another holder is waited for.

    The lock is the system's, on a hidden file beside it: it ends with the process that holds it, however that ends.

    Raises
    ------
    InputError
        Where it is still held after the wait, or the folder cannot be written to.
    """
    beside = path.with_name(f".{path.name}.lock")
    until = time.monotonic() + wait_s
    handle = _opened(beside, path)
    try:
        while not _taken(handle) or not _still_there(handle, beside):
            if time.monotonic() > until:
                raise InputError(
                    str(path),
                    "a file that another program is writing to",
                    f"free; waited {wait_s:g} s: try again",
                )
            time.sleep(_STEP_s)
            if not _still_there(handle, beside):
                os.close(handle)
                handle = _opened(beside, path)
        try:
            yield
        finally:
            beside.unlink(missing_ok=True)
    finally:
        os.close(handle)


def quoted(text: str) -> str:
    """A basic string of TOML, which differs from JSON's only in the character DEL."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def replace_content(path: Path, content: bytes) -> None:
    """Put new content in place of a file's: written beside it, forced to the disk, then renamed over it.

    Raises
    ------
    InputError
        Where that fails: the file is as it was, and where the new content could be written the error says where it is.
    """
    made: str | None = None
    try:
        handle, made = tempfile.mkstemp(prefix=f".{path.name}-", suffix=".new", dir=path.parent)
        with os.fdopen(handle, "wb") as beside:
            beside.write(content)
            beside.flush()
            os.fsync(beside.fileno())
        if path.exists():
            os.chmod(made, path.stat().st_mode & 0o7777)
        else:
            os.chmod(made, 0o666 & ~_umask())
        os.replace(made, path)
    except OSError as error:
        reason = error.strerror or type(error).__name__
        kept = ""
        if made is not None and Path(made).is_file() and Path(made).read_bytes() == content:
            kept = f"; the new text is kept in {made}"
        elif made is not None:
            Path(made).unlink(missing_ok=True)
        raise InputError(
            str(path), f"a file that cannot be replaced ({reason})", f"writable: it is as it was{kept}"
        ) from None
    _settle(path.parent)


def _opened(beside: Path, path: Path) -> int:
    try:
        return os.open(beside, os.O_RDWR | os.O_CREAT, 0o666)
    except OSError as error:
        reason = error.strerror or type(error).__name__
        raise InputError(
            str(path), f"a file in a folder that cannot be written to ({reason})", "writable"
        ) from None


def _taken(handle: int) -> bool:
    try:
        if sys.platform == "win32":
            import msvcrt

            msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)
        else:
            import fcntl

            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        return False
    return True


def _still_there(handle: int, beside: Path) -> bool:
    """Whether the lock is on the file that others would open now; the last holder may have taken it away."""
    try:
        return os.path.samestat(os.fstat(handle), os.stat(beside))
    except FileNotFoundError:
        return False


def _settle(folder: Path) -> None:
    """Force the renaming itself to the disk, where the system can."""
    if sys.platform == "win32":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask
