"""What can go wrong, said so that the person can mend it."""

from __future__ import annotations

MOST_SHOWN = 500
"""Characters of what was given that a message repeats."""


def shortened(text: str, most: int = MOST_SHOWN) -> str:
    """A text with its middle left out where it is long.

    Examples
    --------
    >>> len(shortened("5" * 3_000_000)) < 600
    True
    >>> shortened("as it is")
    'as it is'
    """
    if len(text) <= most:
        return text
    half = most // 2
    return f"{text[:half]} ... ({len(text)} characters) ... {text[-half:]}"


class CrystalError(ValueError):
    """Any fault of the input or the data that the person can act on."""


class InputError(CrystalError):
    """An input cannot be used: the message names it, says what it must be and gives an example.

    Parameters
    ----------
    what : str
        The input at fault, as the person wrote it ("--start").
    got : str
        What was given.
    must_be : str
        What was expected, with the range or the close matches.
    example : str
        One value that would be accepted.
    """

    def __init__(self, what: str, got: str, must_be: str, example: str = "") -> None:
        self.what = what
        self.got = got
        self.must_be = must_be
        self.example = example
        text = f"{shortened(what)}: got {shortened(got)}; it must be {must_be}"
        if example:
            text += f", for example {example}"
        super().__init__(text)


class CoverageError(CrystalError):
    """A state lies where the data hold no answer.

    Parameters
    ----------
    message : str
        One line: what was asked, what is covered.
    covered_degC : tuple of (float, float)
        The temperature intervals, in degrees Celsius, that the data cover.
    """

    def __init__(self, message: str, covered_degC: tuple[tuple[float, float], ...]) -> None:
        self.covered_degC = covered_degC
        super().__init__(message)


class DataError(CrystalError):
    """A table holds something that cannot be used; names file, line and column.

    Parameters
    ----------
    file : str
        The file as the person named it.
    line : int or None
        Line in the file, counted from 1 with the heading as line 1.
    column : str or None
        The column's heading.
    problem : str
        What is wrong and what would be right.
    """

    def __init__(self, file: str, line: int | None, column: str | None, problem: str) -> None:
        self.file = file
        self.line = line
        self.column = column
        self.problem = problem
        place = file
        if line is not None:
            place += f", line {line}"
        if column is not None:
            place += f", column {column}"
        super().__init__(f"{place}: {shortened(problem, 2 * MOST_SHOWN)}")
