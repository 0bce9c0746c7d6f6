"""The files that a person at the bench has about: a batch, a pot made, logs, curves, spent liquor, own tables."""

from __future__ import annotations

from functools import cache

from running import folder_with, run

BATCH = """\
# A comment that stays.
title = "Second try"   # and this one
salt = "MgSO4"
[start]
volume = "500 mL"
holds = "200 g of MgSO4.7H2O"
[reduce]
to = "190 mL"
[cool]
to = "5 degC"
[keep]
at = "22 degC"
humidity = "50 %"
"""
# Invented readings.
LOG = "time_min,volume_mL,temperature_degC\n0,500,25\n20,480,90\n50,400,100.5\n80,330,101\n110,262,101.5\n"
READINGS = "time_h,temperature_degC\n0,100\n0.5,70\n1,52\n2,35\n3,27\n"
OWN = "system,phase,temperature_C,mass_percent\nRbBrO3,RbBrO3,0,1.5\nRbBrO3,RbBrO3,20,3.0\nRbBrO3,RbBrO3,40,5.5\n"
LIQUORS = '["old liquor"]\nsalt = "MgSO4"\nfactor = 0.92\ndoubt = 0.02\npoints = ["31 degC = 26 % w/w"]\n'

_MAKE = (
    "react",
    "CuO + H2SO4 -> CuSO4 + H2O",
    "--use",
    "CuO=36 g",
    "--use",
    "H2SO4=250 g of 20 % w/w",
    "--json",
)
_SPEND = (
    "crops",
    "MgSO4",
    "--holds",
    "200 g of MgSO4.7H2O",
    "--start",
    "500 mL",
    "--cool-to",
    "5 degC",
    "--json",
)


@cache
def files() -> dict[str, bytes]:
    """Names and contents; those that other commands write are written by them."""
    found = {
        "batch.toml": BATCH.encode(), "log.csv": LOG.encode(), "readings.csv": READINGS.encode(), "own.csv": OWN.encode(),
        "liquors.toml": LIQUORS.encode(), "junk.bin": bytes(range(256)), "empty": b"", "sub/own.csv": OWN.encode(),
    }  # fmt: skip
    with folder_with({}) as folder:
        for name, words in (("made.json", _MAKE), ("spent.json", _SPEND)):
            ran = run(words, folder)
            assert ran.code == 0, ran
            found[name] = ran.out.encode("utf-8")
    return found
