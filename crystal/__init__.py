"""How far to boil a salt solution down, what crystallises where, and why a batch set solid.

From Python: ``salts()`` and ``salt(name)`` tell what is known, ``pot(salt, ...)``, ``batch(file)`` and ``react(equation, use)``
give a pot; the pot answers ``reduce``, ``odds``, ``marks``, ``boil``, ``yields``, ``path``, ``cool``, ``harvest``, ``crops``,
``explain`` and ``evidence``; a salt answers ``keep``. Results print, show as tables in
notebooks, and give ``rows()``, ``to_frame()`` and ``chart()``. Quantities are texts with a unit ("500 mL"), pint
quantities, or plain numbers in mL, g and °C.

    >>> import crystal
    >>> plan = crystal.pot("Epsom salt", holds="200 g of MgSO4.7H2O", start="500 mL").reduce(cool_to="5 degC")
    >>> round(plan.advice.end_volume_mL)
    240
"""

from typing import Any

__version__ = "0.1.0"

_PUBLIC = ("batch", "pot", "react", "salt", "salts")


def __getattr__(name: str) -> Any:
    """The Python interface, loaded when it is first asked for."""
    if name not in _PUBLIC:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    from importlib import import_module

    return getattr(import_module("crystal.faces.api"), name)


def __dir__() -> list[str]:
    return sorted([*globals(), *_PUBLIC])
