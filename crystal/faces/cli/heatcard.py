"""What a card tells of heat: how hot a salt's solutions may get, and what is known of their boiling."""

from __future__ import annotations

from typing import Any

from crystal.data.heat_limits import heat_limits_of
from crystal.faces.words import celsius, three
from crystal.physics.boiling import Boiling
from crystal.physics.model import Model
from crystal.physics.vapour import STANDARD_kPa


def heat_answer(model: Model) -> dict[str, Any]:
    """Heat limits of both kinds, and the range of boiling temperatures at one atmosphere."""
    boiling = Boiling.of(model)
    top, at = boiling.highest_mass_fraction, boiling.saturated
    return {
        "heat_limits": [
            {
                "limit": limit.kind,
                "temperature_degC": limit.temperature_C,
                "reason": limit.reason,
                "source": limit.source or None,
                "provenance": limit.provenance or None,
            }
            for limit in heat_limits_of(model.salt)
        ],
        "boiling": {
            "range_mass_percent": 100.0 * boiling.range_mass_fraction
            if boiling.range_mass_fraction
            else None,
            "highest_mass_percent": 100.0 * top if top else None,
            "highest_degC": float(boiling.temperature_C(top, STANDARD_kPa)) if top else None,
            "highest_error_K": float(boiling.error_K(top, STANDARD_kPa)) if top else None,
            "saturated_degC": None if at is None else at.temperature_C,
            "saturated_mass_percent": None
            if at is None or at.mass_fraction is None
            else 100.0 * at.mass_fraction,
            "source": None if at is None else at.source or None,
            "provenance": None if at is None else at.provenance or None,
        },
    }


def heat_lines(data: dict[str, Any]) -> list[str]:
    """The same in sentences."""
    words = {
        "begins": "Solutions suffer from about",
        "work_below": "Solutions are worked below about",
        "breaks_down": "Solutions break down from about",
    }
    lines = []
    for limit in data["heat_limits"]:
        told = "; ".join(
            part for part in (limit["source"], limit["provenance"] and f"from {limit['provenance']}") if part
        )
        lines.append(
            f"{words[limit['limit']]} {celsius(limit['temperature_degC'])}: {limit['reason']}"
            + (f" ({told})." if told else ".")
        )
    boiling = data["boiling"]
    at = boiling["saturated_degC"]
    told = "" if at is None else f" A saturated liquor boils at {at:g} °C ({_whence(boiling)})."
    if boiling["highest_degC"] is None:
        lines.append(f"Boiling marks: none, the water activity of its solutions is not in the data.{told}")
        return lines
    between = boiling["highest_mass_percent"] > boiling["range_mass_percent"]
    lines.append(
        f"Boiling marks: up to {three(boiling['highest_mass_percent'])} mass %, where it boils at "
        f"{boiling['highest_degC']:.1f} °C, give or take {boiling['highest_error_K']:.1f} K, at one atmosphere"
        + (
            f" (measured water activities end at {three(boiling['range_mass_percent'])} mass %)."
            if between
            else "."
        )
        + told
    )
    return lines


def _whence(boiling: dict[str, Any]) -> str:
    return ", ".join(part for part in (boiling["source"], boiling["provenance"]) if part)
