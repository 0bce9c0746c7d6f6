"""One value of ours held against one from outside: what a test asserts and what the table of proof counts are the same."""

from __future__ import annotations

from dataclasses import dataclass

from numpy.testing import assert_allclose


@dataclass(frozen=True)
class Held:
    """Ours, the one from outside, and how far apart they may be."""

    what: str
    found: float
    expected: float
    rtol: float = 0.0
    atol: float = 0.0

    def check(self) -> None:
        """Fail where they are farther apart than allowed."""
        assert_allclose(self.found, self.expected, rtol=self.rtol, atol=self.atol, err_msg=self.what)

    @property
    def apart(self) -> float:
        """Ours less theirs."""
        return self.found - self.expected

    @property
    def relative(self) -> float:
        """How far apart, as a share of the one from outside."""
        return abs(self.apart) / abs(self.expected)

    @property
    def within(self) -> bool:
        """Whether that is allowed."""
        return abs(self.apart) <= self.atol + self.rtol * abs(self.expected)
