"""The command line ``crystal``: plans a batch, checks a yield, follows a path, explains what went wrong.

This package imports nothing heavy until a command is known to run.
"""

from __future__ import annotations

import gc
import os
import sys
from collections.abc import Sequence

from crystal.errors import CrystalError

__all__ = ["main"]


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command.

    Parameters
    ----------
    argv : sequence of str, optional
        The words after ``crystal``; those of the process unless given.

    Returns
    -------
    int
        0 where the answer was printed, 2 where the input cannot be used, 130 where the person broke it off.
    """
    if argv is None:
        # A process of our own builds much and drops little: at the usual 700 objects the collector costs a tenth of it.
        gc.set_threshold(50_000)
    from crystal.faces.cli.parser import UsageFault, parse

    try:
        args = parse(sys.argv[1:] if argv is None else argv)
        if args is None:
            return 0
        from crystal.faces.cli.commands import run

        run(args)
        sys.stdout.flush()
    except UsageFault as fault:
        return _refuse(str(fault), fault.program)
    except CrystalError as error:
        return _refuse(str(error))
    except KeyboardInterrupt:
        print("crystal: stopped", file=sys.stderr)
        return 130
    except BrokenPipeError:
        # The reader has gone: point what is left at nothing, so that the interpreter's last flush stays quiet.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
    return 0


def _refuse(message: str, program: str = "crystal") -> int:
    print(f"{program}: {' '.join(message.split())}", file=sys.stderr)
    return 2
