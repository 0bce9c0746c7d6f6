"""How far to boil a salt solution down, what crystallises where, and why a batch set solid."""

__version__ = "0.1.0"
