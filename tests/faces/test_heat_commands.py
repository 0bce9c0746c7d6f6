"""``marks``, ``boil`` and ``cool`` on the command line: keys, files, following a log by an own clock, errors."""

from __future__ import annotations

import json

import pytest
from numpy.testing import assert_allclose

from crystal.bench.boildown import Boildown, LogReading
from crystal.bench.pot import Pot
from crystal.data.catalogue import Catalogue
from crystal.errors import DataError
from crystal.faces.cli.boil import follow
from crystal.faces.heatfacts import read_log
from crystal.physics.model import Model

POT = ("MgSO4", "--holds", "200 g of MgSO4.7H2O", "--start", "500 mL")
LOG = "time_h,volume_mL,temperature_degC\n0,500,20\n0.5,470,90\n1,430,94\n1.5,395,\n2,352,96\n"

MARKS = {
    "volume_mL", "read_at_degC", "mass_g", "density_g_mL", "baume_degrees", "boiling_degC", "boiling_error_K", "warnings",
}  # fmt: skip


@pytest.mark.parametrize(
    "end",
    ["270 mL", "355 g", "1.316 g/mL", "54 %", "27.4 % w/w"],
    ids=["volume", "mass", "density", "share", "strength"],
)
def test_end_points_told_in_any_way(crystal, end):
    answer = crystal("marks", *POT, "--end", end, "--altitude", "800 m", "--json").json
    assert answer.keys() >= MARKS
    assert_allclose(answer["volume_mL"], 270.0, rtol=0.01)
    assert_allclose(answer["mass_g"], 355.0, rtol=0.01)
    assert_allclose(answer["water_boils_degC"], 97.33, atol=0.02)
    assert 99.5 < answer["boiling_degC"] < 101.0
    assert answer["hot"]["read_at_degC"] == 35.0


def test_marks_printed_say_all_four_ways(crystal):
    out = crystal("marks", *POT, "--end", "270 mL", "--altitude", "800 m", "--tare", "312 g").out
    for part in (
        "By the balance: 355 g",
        "667 g with the vessel",
        "°Bé (US)",
        "By boiling: 100.4 °C, give or take 0.5 K",
    ):
        assert part in out
    assert "weather moves them by up to 1 K" in " ".join(out.split())


def test_pressure_in_place_of_altitude(crystal):
    by_height = crystal("marks", *POT, "--end", "270 mL", "--altitude", "800 m", "--json").json
    by_air = crystal(
        "marks", *POT, "--end", "270 mL", "--pressure", f"{by_height['pressure_kPa']} kPa", "--json"
    ).json
    assert_allclose(by_air["boiling_degC"], by_height["boiling_degC"], atol=1e-6)


def test_a_reading_is_turned_round(crystal):
    marks = crystal("marks", *POT, "--end", "300 mL", "--altitude", "800 m", "--json").json
    boils, dense = f"{marks['boiling_degC']} degC", f"{marks['density_g_mL']} g/mL at 20 degC"
    for reading in (boils, dense):
        found = crystal("marks", *POT, "--reading", reading, "--altitude", "800 m", "--json").json
        assert_allclose(found["volume_mL"], 300.0, rtol=1e-5)
        alone = crystal("marks", "MgSO4", "--reading", reading, "--altitude", "800 m", "--json").json
        assert alone["reading"] == found["reading"]
        assert (
            alone["reading"]["low_mass_percent"]
            < alone["reading"]["mass_percent"]
            < alone["reading"]["high_mass_percent"]
        )
    assert (
        "What the reading means" in crystal("marks", "MgSO4", "--reading", boils, "--altitude", "800 m").out
    )


def test_reduce_carries_the_marks_of_its_advice(crystal):
    answer = crystal("reduce", *POT, "--cool-to", "20 degC", "--altitude", "1500 m", "--json").json
    assert answer["marks"].keys() >= MARKS
    assert_allclose(answer["marks"]["volume_mL"], answer["advice"]["end_volume_mL"])
    assert_allclose(answer["marks"]["mass_g"], answer["advice"]["end_mass_g"])
    assert answer["marks"]["pressure_kPa"] < 86.0
    assert "Its marks" in crystal("reduce", *POT, "--cool-to", "20 degC").out


def test_boil_by_power_and_by_log(crystal, tmp_path):
    (tmp_path / "log.csv").write_text(LOG)
    plain = crystal("boil", *POT, "--end", "270 mL", "--power", "500 W", "--json").json
    assert plain["fit"] is None
    assert_allclose(plain["by_power_h"] * 3600 * 250, 1000 * plain["heat_kJ"])
    assert_allclose(plain["heat_kJ"], plain["sensible_heat_kJ"] + plain["latent_heat_kJ"])
    words = ("boil", *POT, "--end", "270 mL", "--log", "log.csv")
    found = crystal(*words, "--chart", "boil.png", "--csv", "rows.csv", "--json").json
    assert found["fit"]["readings"] == 5
    assert found["early_h"] < found["end_h"] < found["late_h"]
    assert_allclose(found["left_h"], found["end_h"] - 2.0)
    assert found["standing"]["word"] == "steaming"
    assert (tmp_path / "boil.png").stat().st_size > 5000
    assert (tmp_path / "rows.csv").read_text().count("\n") == 6
    out = crystal(*words).out
    assert "By the log (4 of 5 readings, warm-up before 0.50 h left out)" in out  # at 20 °C it was cold
    assert "steams and does not boil" in out


@pytest.mark.parametrize(
    ("text", "problem"),
    [
        ("time_h,level\n0,500\n", "line 1: the columns are time_h, level; needed are"),
        ("time_h,volume_mL\n0,500\nx,400\n", "line 3, column time_h: 'x' is no number"),
        ("time_h,volume_mL\n0,500\n1\n", "line 3: 1 cells where the heading has 2"),
        ("time_h,volume_mL\n0,500\n1,\n", "line 3, column volume_mL: neither a volume nor a mass"),
        ("time_h,volume_mL\n,500\n", "line 2, column time_h: the time is missing"),
        ("", "the file is empty"),
    ],
)
def test_logs_are_checked(tmp_path, text, problem):
    file = tmp_path / "log.csv"
    file.write_text(text)
    with pytest.raises(DataError, match=problem):
        read_log(str(file))


def test_a_log_that_is_not_there(tmp_path):
    with pytest.raises(DataError, match="there is no such file"):
        read_log(str(tmp_path / "none.csv"))
    assert read_log(str(tmp_path / "none.csv"), growing=True) == []


class Clock:
    """A clock that only moves when somebody waits; at each wait the log may grow."""

    def __init__(self, file, lines):
        self.hours, self.file, self.lines = 0.0, file, list(lines)

    def now(self) -> float:
        return self.hours

    def wait(self, hours: float) -> None:
        self.hours += hours
        if self.lines:
            with self.file.open("a") as file:
                file.write(self.lines.pop(0))


def followed(tmp_path, lines, *, end_water_g=100.0, patience_h=0.5):
    file = tmp_path / "log.csv"
    start = Pot(Model.of(Catalogue.bundled().find("MgSO4")), 60.0, 300.0)
    clock, said = Clock(file, lines), []
    log, why = follow(
        lambda: read_log(str(file), growing=True), lambda log: Boildown.of(start, end_water_g, log=log),
        every_h=0.05, patience_h=patience_h, say=said.append, now_h=clock.now, wait_h=clock.wait,
    )  # fmt: skip
    return log, why, said, clock


def test_following_ends_at_the_end_point(tmp_path):
    lines = ["time_min,mass_g\n", "30,330\n", "90,2", "50\n", "120,210\n135,190\n", "150,158\n", "180,100\n"]
    log, why, said, _ = followed(tmp_path, lines)
    assert why == "the last reading is at or past the end point"
    assert log[-1] == LogReading(2.5, None, 158.0)
    assert len(said) == 4  # the half-written line made none, two at once made one
    assert "no rate yet" in said[0]
    assert "80 g/h" in said[1]
    assert "250 g" in said[1]
    assert "DO NOT LEAVE IT" not in said[1]
    assert said[-1].endswith("END: take it off the heat")


def test_following_warns_before_the_end(tmp_path):
    _, _, said, _ = followed(tmp_path, ["time_min,mass_g\n", "30,330\n90,250\n", "150,170\n"])
    assert "DO NOT LEAVE IT" in said[-1]
    assert "about 8 min to go" in said[-1]


def test_following_ends_where_nothing_comes(tmp_path):
    log, why, said, clock = followed(tmp_path, ["time_min,mass_g\n30,330\n", "90,250\n"], patience_h=0.25)
    assert (len(log), len(said)) == (2, 2)
    assert why == "no new reading for 15 minutes"
    assert 0.3 < clock.hours < 0.5
    log, why, said, _ = followed(tmp_path / "nowhere", [])
    assert (log, said) == ([], [])


def test_follow_on_the_command_line(crystal, tmp_path):
    (tmp_path / "log.csv").write_text("time_min,mass_g\n30,570\n90,490\n150,350\n")
    ran = crystal("boil", *POT, "--end", "270 mL", "--log", "log.csv", "--follow", "--json")
    assert "END" in ran.err
    answer = json.loads(ran.out)
    assert answer["warnings"][0].startswith("Following ended: the last reading is at or past the end point")
    late = crystal(
        "boil",
        *POT,
        "--end",
        "270 mL",
        "--log",
        "none.csv",
        "--follow",
        "--patience",
        "0.01 s",
        "--every",
        "0.01 s",
    )
    assert late.code == 2
    assert "at least two; it ended because no new reading" in late.err


def test_cool_keys_and_curve(crystal, tmp_path):
    words = ("cool", "KNO3", "--holds", "100 g", "--water", "120 g", "--cool-to", "10 degC")
    answer = crystal(
        *words, "--size", "2 mm", "--hours", "6 h", "--readings", "0 min 90 degC; 20 min 75 degC", "--surroundings", "18 degC",
        "--night", "-2, 6 degC", "--insulated-from", "35 degC", "--chart", "cool.png", "--csv", "curve.csv", "--json",
    ).json  # fmt: skip
    assert answer.keys() >= {
        "first_crystals_degC", "metastable_width_K", "seed_at_degC", "path", "seed", "controlled", "natural", "night", "heat",
        "insulated", "basis", "warnings",
    }  # fmt: skip
    rows = answer["controlled"]["rows"]
    assert [row["time_h"] for row in rows] == [0.75 * i for i in range(9)]
    assert_allclose(
        [rows[-1]["temperature_degC"], rows[-1]["crystals_g"]], [10.0, answer["crystals_g"]], rtol=1e-9
    )
    assert answer["metastable_source"].endswith("recalled")
    assert [night["temperature_degC"] for night in answer["night"]] == [-2.0, 6.0]
    assert 35.0 < answer["insulated"]["to_degC"] < answer["first_crystals_degC"]
    assert (tmp_path / "cool.png").stat().st_size > 5000
    assert (tmp_path / "curve.csv").read_text().startswith("time_h,temperature_degC,crystals_g\n")
    out = crystal(*words, "--size", "2 mm").out
    for part in (
        "Seed for 2 mm",
        "Supersaturation, were it to stay clear",
        "g/100 g",
        "exponent 3",
    ):
        assert part in out


def test_cool_of_every_salt_says_something(crystal):
    """Any salt, a middling pot: no crash, and the crop of yield."""
    for name in ("NaCl", "Na2SO4", "Li2SO4", "borax", "citric acid", "FeSO4", "CaCl2"):
        words = (name, "--strength", "25 % w/w", "--mass", "400 g", "--cool-to", "15 degC", "--json")
        ran = crystal("cool", *words)
        if ran.code == 2:
            assert "data" in ran.err, name
            continue
        assert_allclose(
            ran.json["crystals_g"], crystal("yield", *words).json["rows"][0]["crystals_g"], err_msg=name
        )


@pytest.mark.parametrize(
    ("words", "text"),
    [
        (("marks", *POT), "--reduce-to: got nothing"),
        (("marks", *POT, "--end", "900 mL"), "--end: got '900 mL'"),
        (("marks", *POT, "--end", "270 mL", "--reading", "104 degC"), "only one of the two"),
        (
            ("marks", *POT, "--end", "270 mL", "--altitude", "800 m", "--pressure", "90 kPa"),
            "only one of the two",
        ),
        (("marks", *POT, "--end", "270 mL", "--altitude", "20 km"), "--altitude: got '20 km'"),
        (("marks", *POT, "--end", "270 mL", "--pressure", "2 bar"), "--pressure: got '2 bar'"),
        (("marks", "MgSO4", "--reading", "99 degC"), "--reading: got '99 degC'"),
        (("marks", "MgSO4", "--reading", "0.5 g/mL"), "--reading: got '0.5 g/mL'"),
        (("boil", *POT), "--reduce-to: got nothing"),
        (("boil", *POT, "--end", "270 mL", "--follow"), "--follow: got no --log"),
        (("boil", *POT, "--end", "270 mL", "--efficiency", "150 %"), "--efficiency: got '150 %'"),
        (("boil", *POT, "--end", "270 mL", "--power", "5 kg"), "--power: got '5 kg'"),
        (("cool", *POT), "--cool-to: got nothing"),
        (
            ("cool", *POT, "--cool-to", "5 degC", "--surroundings", "18 degC"),
            "told with the pot's own readings",
        ),
        (
            ("cool", *POT, "--cool-to", "5 degC", "--readings", "0 min 90 degC; 20 min 75 degC"),
            "two readings with --surroundings",
        ),
        (("cool", *POT, "--cool-to", "5 degC", "--readings", "90 degC"), "times, each with its temperature"),
        (("cool", *POT, "--cool-to", "5 degC", "--exponent", "zero"), "--exponent: got 'zero'"),
        (("cool", *POT, "--cool-to", "-80 degC"), "is outside the data"),
    ],
)
def test_faults_are_named_in_one_line(crystal, words, text):
    ran = crystal(*words)
    assert ran.code == 2
    assert ran.out == ""
    assert text in ran.err
    assert ran.err.count("\n") == 1


def test_explain_reads_altitude_and_the_pots_temperature(crystal, tmp_path):
    text = (
        'salt = "MgSO4"\n[start]\nvolume = "500 mL"\nholds = "200 g of MgSO4.7H2O"\n'
        '[reduce]\nto = "190 mL"\nboil_at = "93 degC"\n{}[cool]\nto = "5 degC"\n'
    )
    for extra, steams in (("", True), ('altitude = "2300 m"\n', False)):
        (tmp_path / "batch.toml").write_text(text.format(extra))
        causes = [reason["cause"] for reason in crystal("explain", "batch.toml", "--json").json["reasons"]]
        assert ("steaming" in causes) == steams


def test_card_tells_both_kinds_of_heat_limit_and_how_far_boiling_marks_reach(crystal):
    data = crystal("card", "FeCl2", "--json").json
    assert [(x["limit"], x["temperature_degC"]) for x in data["heat_limits"]] == [
        ("work_below", 90.0),
        ("breaks_down", 105.0),
    ]
    out = " ".join(crystal("card", "FeCl2").out.split())
    assert "Solutions are worked below about 90 °C" in out
    assert "Solutions break down from about 105 °C" in out
    assert "Boiling marks: up to 20.6 mass %, where it boils at 104.4 °C, give or take" in out
    salt = crystal("card", "NaCl", "--json").json["boiling"]
    assert salt["range_mass_percent"] < salt["highest_mass_percent"] == salt["saturated_mass_percent"]
    assert salt["highest_degC"] == pytest.approx(salt["saturated_degC"])
    marks = crystal(
        "marks", "NaCl", "--strength", "10 % w/w", "--mass", "500 g", "--end", "26 % w/w", "--json"
    ).json
    assert marks["boiling_degC"] < salt["highest_degC"]
    none = crystal("card", "citric acid", "--json").json["boiling"]
    assert none["highest_degC"] is None
    assert "Boiling marks: none, the water activity of its solutions is not in the data" in " ".join(
        crystal("card", "citric acid").out.split()
    )


def test_a_log_with_semicolons_and_decimal_commas_is_the_same(crystal, tmp_path):
    (tmp_path / "log.csv").write_text(LOG)
    (tmp_path / "komma.csv").write_text(LOG.replace(",", ";").replace("0.5", "0,5").replace("1.5", "1,5"))
    words = ("boil", *POT, "--end", "270 mL", "--json", "--log")
    assert crystal(*words, "komma.csv").json == crystal(*words, "log.csv").json


def test_a_bench_at_the_sea_or_below_it(crystal):
    boils = [
        crystal("marks", *POT, "--end", "270 mL", f"--altitude={high}", "--json").json["boiling_degC"]
        for high in ("-400 m", "0 m", "400 m")
    ]
    assert boils == sorted(boils, reverse=True)
    assert boils[1] == crystal("marks", *POT, "--end", "270 mL", "--json").json["boiling_degC"]
