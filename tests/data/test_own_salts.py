"""A person's own salts: what is read, what is kept of the bundled data, and how faults are named."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from crystal.data.catalogue import Catalogue
from crystal.errors import DataError

HEADING = "system,phase,temperature_C,mass_percent"
# Invented figures, for these tests only.
CURVE = ["RbBrO3,RbBrO3,0,1.5", "RbBrO3,RbBrO3,20,3.0", "RbBrO3,RbBrO3,40,5.5"]


def _write(path: Path, *lines: str, encoding: str = "utf-8", end: str = "\n") -> Path:
    path.write_bytes(end.join([*lines, ""]).encode(encoding))
    return path


def test_single_file(tmp_path: Path) -> None:
    path = _write(tmp_path / "own.csv", HEADING, *CURVE)
    catalogue = Catalogue.with_own(path)
    salt = catalogue.find("rbbro3")
    assert [(p.temperature_C, p.mass_fraction) for p in salt.branches[0].points] == [
        (0, 0.015),
        (20, 0.03),
        (40, 0.055),
    ]
    assert {(p.kind, p.provenance) for p in salt.branches[0].points} == {("saturated", "own")}
    assert salt.phases[0].waters == 0
    assert salt.origin == str(path)
    assert any("safety data sheet" in caution.text for caution in salt.cautions)
    assert list(catalogue.salts) == [*Catalogue.bundled().salts, "RbBrO3"]
    assert str(path) in catalogue.edition


@pytest.mark.parametrize(
    ("lines", "encoding", "end"),
    [
        ([HEADING, *CURVE], "utf-8-sig", "\n"),
        ([HEADING, *CURVE], "utf-8", "\r\n"),
        ([HEADING.replace(",", ";"), *(line.replace(",", ";") for line in CURVE)], "utf-8", "\n"),
        (
            [HEADING.replace(",", ";"), *(line.replace(",", ";").replace(".", ",") for line in CURVE)],
            "utf-8-sig",
            "\r\n",
        ),
        (["", HEADING, "", *CURVE, ",,,"], "utf-8", "\n"),
    ],
    ids=["byte order mark", "CRLF", "semicolons", "decimal comma", "blank lines"],
)
def test_spreadsheet_habits(tmp_path: Path, lines: list[str], encoding: str, end: str) -> None:
    path = _write(tmp_path / "own.csv", *lines, encoding=encoding, end=end)
    points = Catalogue.with_own(path).salts["RbBrO3"].branches[0].points
    assert [(p.temperature_C, p.mass_fraction) for p in points] == [(0, 0.015), (20, 0.03), (40, 0.055)]


def test_own_curve_replaces_the_bundled_one_and_keeps_the_cautions(tmp_path: Path) -> None:
    path = _write(tmp_path / "own.csv", HEADING, "CuSO4,CuSO4.5H2O,60,28", "CuSO4,CuSO4.5H2O,10,14")
    bundled, salt = Catalogue.bundled().salts["CuSO4"], Catalogue.with_own(path).salts["CuSO4"]
    assert [p.temperature_C for b in salt.branches for p in b.points] == [10, 60]
    assert [phase.formula for phase in salt.phases] == ["CuSO4.5H2O"]
    assert salt.phases[0].solid_density_g_mL == bundled.phase("CuSO4.5H2O").solid_density_g_mL
    assert (salt.name, salt.ghs_codes, salt.cautions) == (bundled.name, bundled.ghs_codes, bundled.cautions)
    assert salt.curve_doubt_mass_fraction is None
    assert bundled.curve_doubt_mass_fraction == pytest.approx(0.0034)


def test_branch_that_turns_back_runs_from_its_dilute_end(tmp_path: Path) -> None:
    rows = [
        "20,69,saturated",
        "20,48,saturated",
        "37,60.01,congruent",
        "30,66.85,saturated",
        "30,51.6,saturated",
    ]
    path = _write(tmp_path / "own.csv", HEADING + ",point", *(f"FeCl3,FeCl3.6H2O,{row}" for row in rows))
    points = Catalogue.with_own(path).salts["FeCl3"].branches[0].points
    assert [p.temperature_C for p in points] == [20, 30, 37, 30, 20]


def test_folder(tmp_path: Path) -> None:
    _write(tmp_path / "solubility.csv", HEADING, *CURVE)
    _write(
        tmp_path / "systems.csv", "system,name,common_names", "RbBrO3,rubidium bromate,test red; test blue"
    )
    _write(tmp_path / "phases.csv", "system,phase,solid_density_g_cm3", "RbBrO3,RbBrO3,3.5")
    _write(tmp_path / "cautions.csv", "applies_to,kind,text", "RbBrO3,fire,Keep from sugar.")
    _write(tmp_path / "sources.csv", "key,citation", "Bench,Own bench")
    tables = ["RbBrO3,20,2,1.02", "RbBrO3,20,1,1.01"]
    _write(tmp_path / "density_tables.csv", "solute,temperature_C,mass_percent,density_g_cm3", *tables)
    catalogue = Catalogue.with_own(tmp_path)
    salt = catalogue.find("test blue")
    assert (salt.name, salt.phases[0].solid_density_g_mL) == ("rubidium bromate", 3.5)
    density = salt.density_shares[0].solute
    assert (density.mass_fractions, density.densities_g_mL) == ((0.01, 0.02), (1.01, 1.02))
    assert any(caution.text == "Keep from sugar." for caution in salt.cautions)
    assert catalogue.citation("Bench") == "Own bench"


def test_own_facts_lie_over_the_bundled_ones(tmp_path: Path) -> None:
    """A name of one's own must not take the hazard codes away."""
    _write(tmp_path / "systems.csv", "system,name,heat_limit_C,ghs_codes", "CuSO4,my blue,80,")
    bundled, salt = Catalogue.bundled().salts["CuSO4"], Catalogue.with_own(tmp_path).salts["CuSO4"]
    assert (salt.name, salt.heat_limit_C) == ("my blue", 80)
    assert salt.ghs_codes == bundled.ghs_codes != ()
    assert salt.curve_doubt_mass_fraction == bundled.curve_doubt_mass_fraction
    assert salt.branches == bundled.branches


def test_density_alone_leaves_the_bundled_curve(tmp_path: Path) -> None:
    heading = "solute,c0,c1,c2,c3,c4,t_min_C,t_max_C,max_mass_fraction"
    _write(tmp_path / "density_fits.csv", heading, "H3BO3,1,2,3,4,5,0,30,0.05")
    salt = Catalogue.with_own(tmp_path).salts["H3BO3"]
    assert salt.density_shares[0].solute.c4 == 5
    assert salt.branches == Catalogue.bundled().salts["H3BO3"].branches


def test_current(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    first = _write(tmp_path / "first.csv", HEADING, *CURVE)
    second = _write(tmp_path / "second.csv", HEADING, *(line.replace("RbBrO3", "CsBrO3") for line in CURVE))
    monkeypatch.delenv("CRYSTAL_DATA", raising=False)
    assert Catalogue.current() is Catalogue.bundled()
    monkeypatch.setenv("CRYSTAL_DATA", str(first))
    assert "RbBrO3" in Catalogue.current().salts
    chosen = Catalogue.current(str(second)).salts
    assert "CsBrO3" in chosen
    assert "RbBrO3" not in chosen


FULL = HEADING + ",point,stability,waters"


@pytest.mark.parametrize(
    ("lines", "message"),
    [
        (["system,phase,temperature_C", "KCl,KCl,20"], "line 1, column mass_percent: the column is missing"),
        (
            ["system,phase,temperature,mass_percent", "KCl,KCl,20,25"],
            "line 1, column temperature_C: the column is missing",
        ),
        (
            [HEADING, "KCl,KCl,20,25", "KCl,KCl,warm,27"],
            "line 3, column temperature_C: 'warm' is not a number",
        ),
        ([HEADING, "KCl,KCl,20,nan"], "line 2, column mass_percent: 'nan' is not a number"),
        ([HEADING, "KCl,KCl,20,125"], "line 2, column mass_percent: 125 is outside 0 to 100"),
        ([HEADING, "KCl,KCl,20,-1"], "line 2, column mass_percent: -1 is outside 0 to 100"),
        ([HEADING, "KCl,KCl,401,25"], "line 2, column temperature_C: 401 is outside -150 to 400"),
        ([HEADING, "KCl,KCl,-151,25"], "line 2, column temperature_C: -151 is outside -150 to 400"),
        (
            [FULL, "KCl,KCl,20,25,boiling,,"],
            "line 2, column point: 'boiling' is not known; use one of saturated",
        ),
        (
            [FULL, "KCl,KCl,20,25,,shaky,"],
            "line 2, column stability: 'shaky' is not known; use one of stable",
        ),
        (
            [FULL, "KCl,KCl.2H2O,20,25,,,3"],
            "line 2, column waters: 3 does not agree with the formula KCl.2H2O",
        ),
        ([HEADING, "KCl,NaCl,20,25"], "line 2, column phase: 'NaCl' is no solid of KCl"),
        ([HEADING, "KCl,NaCl.2H2O,20,25"], "line 2, column phase: 'NaCl.2H2O' is no solid of KCl"),
        ([HEADING, "Brine,Brine,20,25"], "line 2, column system: 'Brine' is not a chemical formula"),
        (
            [FULL, "FeCl3,FeCl3.6H2O,37,60.3,congruent,,"],
            "line 2, column mass_percent: a congruent point has",
        ),
        (
            [HEADING, "KCl,KCl,20,25", "KCl,KCl,40,28", "KCl,KCl,20,26"],
            "line 4, column temperature_C: 20 stands already in line 2",
        ),
        (
            [
                FULL,
                "FeCl3,FeCl3.6H2O,37,60.01,congruent,,",
                "FeCl3,FeCl3.6H2O,20,48,,,",
                "FeCl3,FeCl3.6H2O,25,46,,,",
            ],
            "line 4, column temperature_C: along this branch temperatures must rise",
        ),
        (
            [HEADING, "KCl,ice,0,0", "KCl,ice,-5,10", "KCl,ice,-4,12"],
            "line 4, column temperature_C: along this branch temperatures must fall",
        ),
        ([HEADING, "KCl,KCl,20,"], "line 2, column mass_percent: the cell is blank"),
        ([HEADING, "KCl,,20,25"], "line 2, column phase: the cell is blank"),
        ([HEADING, ",KCl,20,25"], "line 2, column system: the cell is blank"),
        ([HEADING, "KCl,KCl,20"], "line 2: 3 cells where the heading has 4"),
        ([HEADING, "KCl,KCl,20,25,5"], "line 2: 5 cells where the heading has 4"),
        (
            [HEADING + ",stabilty", "KCl,KCl,20,25,metastable"],
            "line 1, column stabilty: this column is not known; did you mean stability?",
        ),
        ([HEADING + ",phase", "KCl,KCl,20,25,KCl"], "line 1, column phase: this column occurs twice"),
        ([HEADING, 'KCl,KCl,20,"25'], "line 2: the line cannot be split into cells"),
        ([HEADING], "the file is empty"),
        ([], "the file is empty"),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_faults_name_file_line_and_column(tmp_path: Path, lines: list[str], message: str) -> None:
    path = _write(tmp_path / "own.csv", *lines)
    separator = ": " if message.startswith("the file") else ", "
    with pytest.raises(DataError, match=re.escape(f"{path}{separator}{message}")):
        Catalogue.with_own(path)


def test_not_utf8(tmp_path: Path) -> None:
    path = _write(tmp_path / "own.csv", HEADING, "KCl,KCl,20,25,naïve", encoding="latin-1")
    with pytest.raises(DataError, match=r"own\.csv: the file is not UTF-8 text"):
        Catalogue.with_own(path)


def test_no_such_file(tmp_path: Path) -> None:
    with pytest.raises(DataError, match="there is no such file or folder"):
        Catalogue.with_own(tmp_path / "nowhere")
    with pytest.raises(DataError, match=r"no table found; it may hold systems\.csv"):
        Catalogue.with_own(tmp_path)


@pytest.mark.parametrize(
    ("table", "lines", "message"),
    [
        (
            "systems.csv",
            ["system,name", "RbBrO3,rubidium bromate"],
            "line 2, column system: RbBrO3 has no rows",
        ),
        ("systems.csv", ["system", "KCl", "KCl"], "line 3, column system: KCl already stands in line 2"),
        (
            "phases.csv",
            ["system,phase", "KCl,KCl.2H2O", "KCl,KCl.2H2O"],
            "line 3, column phase: KCl.2H2O is described twice",
        ),
        (
            "phases.csv",
            ["system,phase,solid_density_g_cm3", "KCl,KCl,1988"],
            "line 2, column solid_density_g_cm3: 1988 is outside",
        ),
        (
            "density_shares.csv",
            ["system,solute,moles", "H3BO3,B2O3,0.5"],
            "line 2, column solute: no density of B2O3 is known",
        ),
        (
            "cautions.csv",
            ["applies_to,kind,text", "color:red,heat,Hot."],
            "line 2, column applies_to: 'color:red' is not known",
        ),
        (
            "cautions.csv",
            ["applies_to,kind,text", "all,noise,Loud."],
            "line 2, column kind: 'noise' is not known",
        ),
        (
            "density_tables.csv",
            ["solute,temperature_C,mass_percent,density_g_cm3", "KCl,20,1,1.0", "KCl,25,2,1.1"],
            "line 3, column temperature_C: one solute's densities must share one temperature",
        ),
    ],
)
def test_faults_in_a_folder(tmp_path: Path, table: str, lines: list[str], message: str) -> None:
    path = _write(tmp_path / table, *lines)
    with pytest.raises(DataError, match=re.escape(f"{path}, {message}")):
        Catalogue.with_own(tmp_path)
