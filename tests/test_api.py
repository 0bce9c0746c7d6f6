"""The Python interface: the command line's numbers, quantities in every form, results that show themselves."""

from __future__ import annotations

import ast
import json
import re
from pathlib import Path

import pint
import pytest
from numpy.testing import assert_allclose

import crystal
from crystal.errors import CoverageError, InputError
from crystal.faces import api
from crystal.faces.cli import main

POTS = [
    ("MgSO4", {"holds": "200 g of MgSO4.7H2O", "start": "500 mL"}, "190 mL", "5 degC"),
    ("KNO3", {"holds": "120 g", "water": "300 g"}, "60 %", "8 degC"),
    ("CuSO4", {"strength": "18 % w/w", "mass": "400 g"}, "220 g", "15 degC"),
    ("KAl(SO4)2", {"holds": "60 g of KAl(SO4)2.12H2O", "start": "450 mL"}, "200 mL", "10 degC"),
    ("Na2CO3", {"density": "1.15 g/mL at 20 degC", "start": "600 mL"}, "1/2", "12 degC"),
    ("ZnSO4", {"strength": "2 mol/L", "start": "300 mL", "start_at": "25 degC"}, "180 mL", "50 F"),
]


@pytest.fixture
def command(capsys, monkeypatch):
    monkeypatch.delenv("CRYSTAL_DATA", raising=False)

    def run(*words: str):
        assert main([*words, "--json"]) == 0
        return json.loads(capsys.readouterr().out)

    return run


def words_of(facts: dict[str, str]) -> list[str]:
    return [word for key, value in facts.items() for word in (f"--{key.replace('_', '-')}", value)]


def test_other_solutes_count_as_on_the_command_line(command):
    pot = crystal.pot(
        "MgSO4", holds="200 g of MgSO4.7H2O", start="500 mL", beside=["12 g of H2SO4", "3 g of NaCl"]
    )
    words = [
        "MgSO4",
        "--holds",
        "200 g of MgSO4.7H2O",
        "--start",
        "500 mL",
        "--with",
        "12 g of H2SO4",
        "--with",
        "3 g of NaCl",
    ]
    found = pot.yields([20, 8], reduce_to="200 mL").data
    assert found == command("yield", *words, "--cool-to", "20, 8 degC", "--reduce-to", "200 mL")
    assert len(found["start"]["others"]) == 2


@pytest.mark.parametrize(("salt", "facts", "end", "cold"), POTS, ids=[p[0] for p in POTS])
def test_numbers_are_those_of_the_command_line(salt, facts, end, cold, command):
    pot, words = crystal.pot(salt, **facts), [salt, *words_of(facts), "--cool-to", cold]
    reduced = command("reduce", *words)
    reduced.pop("marks")
    assert pot.reduce(cold).data == reduced
    assert pot.yields(cold, reduce_to=end).data == command("yield", *words, "--reduce-to", end)
    assert pot.path(cold, reduce_to=end).data == command("path", *words, "--reduce-to", end)


def test_a_batch_file_gives_what_the_command_gives(tmp_path, command):
    file = tmp_path / "batch.toml"
    file.write_text(
        'title = "Too far"\nsalt = "MgSO4"\n[start]\nvolume = "500 mL"\nholds = "200 g of MgSO4.7H2O"\n'
        '[reduce]\nto = "150 mL"\n[cool]\nto = "5 degC"\n[[seen]]\noutcome = "set solid"\n',
        encoding="utf-8",
    )
    pot = crystal.batch(file)
    assert pot.explain().data == command("explain", str(file))
    reduced = command("reduce", "--batch", str(file))
    reduced.pop("marks")
    assert pot.reduce().data == reduced
    assert "set solid" in repr(pot.explain())
    assert crystal.batch(file).explain(outcome="crop").data["outcome_seen"] == "crop"


STAGES = [
    (lambda p: p.reduce("8 degC", doubt={"volume": "measuring cylinder", "temperature": 1}, risk=0.1),
     ["reduce", "--cool-to", "8 degC", "--doubt", "volume=measuring cylinder, temperature=1 K", "--risk", "10 %"]),
    (lambda p: p.boil("240 mL", power=500, efficiency="40 %"),
     ["boil", "--end", "240 mL", "--power", "500 W", "--efficiency", "0.4"]),
    (lambda p: p.cool(8, reduce_to=240, hours="6 h", size="2 mm", night=[8, 2], insulated_from="60 degC"),
     ["cool", "--end", "240 mL", "--cool-to", "8 degC", "--hours", "6 h", "--size", "2 mm", "--night", "8, 2 degC",
      "--insulated-from", "60 degC"]),
    (lambda p: p.harvest(8, reduce_to=240, method="suction", wash=["20 mL", 10], wash_at=8, contact="50 %", purity="99.9 %"),
     ["harvest", "--reduce-to", "240 mL", "--cool-to", "8 degC", "--method", "suction", "--wash", "20 mL", "--wash", "10 mL",
      "--wash-at", "8 degC", "--contact", "0.5", "--purity", "99.9 %"]),
    (lambda p: p.crops(8, most=3, least="5 g", method="suction"),
     ["crops", "--cool-to", "8 degC", "--most", "3", "--least", "5 g", "--method", "suction"]),
    (lambda p: p.crops("8 degC", risk="10 %"), ["crops", "--cool-to", "8 degC", "--risk", "10 %"]),
]  # fmt: skip


@pytest.mark.parametrize(
    ("ask", "words"), STAGES, ids=[f"{i}-{words[0]}" for i, (_, words) in enumerate(STAGES)]
)
def test_every_stage_gives_what_its_command_gives(ask, words, command):
    facts = {"holds": "200 g of MgSO4.7H2O", "start": "500 mL"}
    beside = "4 g of NaCl" if words[0] in ("cool", "harvest") else None
    pot = crystal.pot("MgSO4", **facts, beside=beside, altitude=800)
    at = ["--altitude", "800 m"] if words[0] == "boil" else []
    told = command(
        words[0], "MgSO4", *words_of(facts), *(["--with", beside] if beside else []), *words[1:], *at
    )
    told.pop("marks", None)
    found = ask(pot)
    assert found.data == told
    assert len(found.to_frame()) == len(found.rows())
    for shown in (repr(found), found._repr_html_()):
        assert "--" not in shown
        assert "object at 0x" not in shown
        assert all(line in shown for line in found.cautions[-1:])


def test_a_log_tells_the_hours(tmp_path, command):
    (tmp_path / "log.csv").write_text("time_h,volume_mL\n0,500\n0.5,440\n1,381\n1.5,322\n", encoding="utf-8")
    words = [
        "--holds",
        "200 g of MgSO4.7H2O",
        "--start",
        "500 mL",
        "--end",
        "240 mL",
        "--log",
        str(tmp_path / "log.csv"),
    ]
    found = crystal.pot("MgSO4", holds="200 g of MgSO4.7H2O", start="500 mL").boil(
        240, log=tmp_path / "log.csv"
    )
    assert {**found.data, "warnings": None} == {**command("boil", "MgSO4", *words), "warnings": None}
    assert len(found.rows()) == 4
    assert found.chart()._repr_png_()[:4] == b"\x89PNG"


def test_how_a_salt_keeps_is_what_the_command_tells(command):
    found = crystal.salt("Epsom salt").keep(22, humidity=60, solid="MgSO4.7H2O")
    assert found.data == command("keep", "MgSO4.7H2O", "--at", "22 degC", "--humidity", "60 %")
    dew = crystal.salt("MgSO4").keep("22 degC", dew_point=12).data
    assert dew == command("keep", "MgSO4", "--at", "22 degC", "--dew-point", "12 degC")


def test_a_reaction_makes_the_pot_of_the_command(command, tmp_path):
    uses = ["Zn=32.7 g", "H2SO4=350 g of 20 % w/w"]
    made = crystal.react("Zn + H2SO4 -> ZnSO4 + H2", uses, volume="320 mL")
    words = [word for use in uses for word in ("--use", use)]
    told = command("react", "Zn + H2SO4 -> ZnSO4 + H2", *words, "--make-up-to", "320 mL")
    assert made.data == told
    (tmp_path / "made.json").write_text(json.dumps(told), encoding="utf-8")
    words = ["yield", "--from", str(tmp_path / "made.json"), "--cool-to", "5 degC", "--reduce-to", "150 mL"]
    yields = made.pot.yields(5, reduce_to=150)
    assert yields.rows() == command(*words)["rows"]
    assert any("Hydrogen" in line for line in yields.warnings)  # the gas that it gave off is not forgotten
    both = crystal.react(
        [
            {"equation": "ZnO + H2SO4 -> ZnSO4 + H2O", "use": ["ZnO=20 g", "H2SO4=350 g of 20 % w/w"]},
            {"equation": "Zn + H2SO4 -> ZnSO4 + H2", "use": ["Zn=10 g"]},
        ]
    )
    assert [step["limiting"] for step in both.data["steps"]] == ["ZnO", "Zn"]
    assert len(both.rows()) == 4


def test_quantities_are_texts_pint_or_plain_numbers():
    u = pint.UnitRegistry()
    told = [
        crystal.pot("KNO3", holds="120 g", start="0.5 L", start_at="77 degF"),
        crystal.pot("KNO3", holds=120, start=500, start_at=25),
        crystal.pot("KNO3", holds=0.12 * u.kg, start=0.5 * u.L, start_at=u.Quantity(77, "degF")),
    ]
    for pot in told:
        assert_allclose([pot.salt_g, pot.volume_mL, pot.read_at_C], [120.0, 500.0, 25.0], rtol=1e-12)
    cold = [told[0].reduce(c).advice.end_volume_mL for c in ("50 F", 10, u.Quantity(283.15, "K"))]
    assert_allclose(cold, cold[0], rtol=1e-12)
    strong = [crystal.pot("KNO3", strength=s, start=400).salt_g for s in ("1.5 mol/L", 1.5 * u.mol / u.L)]
    assert_allclose(
        strong, 0.6 * 101.103, rtol=1e-4
    )  # molar mass: IUPAC weights, K 39.098, N 14.007, O 15.999
    ends = told[0].reduce(10, ends=[300, "250 mL", 0.2 * u.L])
    assert_allclose([row["end_volume_mL"] for row in ends.rows()], [300, 250, 200], rtol=1e-9)


@pytest.mark.parametrize(
    ("ask", "error", "says"),
    [
        (lambda: crystal.pot("KNO3", holds=3), InputError, "^the pot: got holds; .*start, mass or water"),
        (lambda: crystal.pot("KNO3", holds=3, start="5 degC"), InputError, "^start: got '5 degC'; .*a volume"),
        (lambda: crystal.pot("KNO3", holds=[3], start=5), InputError, r"^holds: got \[3\]; .*a number of g"),
        (lambda: crystal.pot("KNO3", holds=True, start=5), InputError, "^holds: got True"),
        (lambda: crystal.pot("nitre of nowhere", holds=3, start=5), InputError, "^salt: "),
        (lambda: crystal.pot("KNO3", holds=90, start=400).reduce(), InputError, "^cool_to: got nothing"),
        (lambda: crystal.pot("KNO3", holds=90, start=400).reduce(900), CoverageError, "^cool_to: 900 degC is outside"),
        (lambda: crystal.pot("KNO3", holds=90, start=400).path(5, reduce_to=600), InputError, "^reduce_to: "),
        (lambda: crystal.pot("KNO3", holds=90, start=400).explain(5, outcome="lump"), InputError, "^outcome: "),
        (lambda: crystal.pot("KNO3", holds=90, start=400).odds(5, by=["ruler"]), InputError, "^by: .*beaker mark"),
        (lambda: crystal.pot("KNO3", holds=90, start=400).odds(5, risk=2.0), InputError, "^risk: "),
        (lambda: crystal.pot("KNO3", holds=90, start=400).evidence(5, reduce_to=200), InputError, "^outcome: "),
        (lambda: crystal.pot("KNO3", holds=90, start=400).marks(), InputError, "^reduce_to: "),
        (lambda: crystal.pot("KNO3", holds=90, start=400).boil(), InputError, "^reduce_to: "),
        (lambda: crystal.pot("KNO3", holds=90, start=400).boil(200, power="5 g"), InputError, "^power: "),
        (lambda: crystal.pot("KNO3", holds=90, start=400).cool(5, exponent=50), InputError, "^exponent: "),
        (lambda: crystal.pot("KNO3", holds=90, start=400).harvest(5, reduce_to=200, method="sling"), InputError, "^method: "),
        (lambda: crystal.pot("KNO3", holds=90, start=400).harvest(5, reduce_to=200, wash="a lot"), InputError, "^wash: "),
        (lambda: crystal.pot("KNO3", holds=90, start=400).crops(), InputError, "^cool_to: "),
        (lambda: crystal.pot("KNO3", holds=90, start=400).reduce(5, doubt={"luck": 1}), InputError, "^doubt: "),
        (lambda: crystal.salt("KNO3").keep(20, humidity="60 %", dew_point=9), InputError, "^humidity and dew_point: "),
        (lambda: crystal.react("Zn + H2SO4 -> ZnSO4 + H2", "Fe=3 g"), InputError, "react"),
    ],
)  # fmt: skip
def test_faults_name_the_parameter(ask, error, says):
    with pytest.raises(error, match=says) as caught:
        ask()
    assert "--" not in str(caught.value)


def test_results_print_and_show_as_tables():
    pot = crystal.pot("MgSO4", holds="200 g of MgSO4.7H2O", start="500 mL")
    plan = pot.reduce("5 degC")
    for result in (plan, pot.yields([20, 5]), pot.path(5, reduce_to=190), pot.odds(5), pot.marks(190)):
        html = result._repr_html_()
        assert html.count("<tr>") == len(result.rows()) + 1
        assert len(result.to_frame()) == len(result.rows()) > 1
        assert "object at 0x" not in repr(result)
        assert "--" not in repr(result) + html
    assert any("eye protection" in line for line in plan.cautions)
    assert all(line in repr(plan) for line in plan.cautions)
    assert str(plan.advice) in repr(plan)
    assert plan.chart()._repr_png_() == pot.reduce("5 degC").chart()._repr_png_()


def test_a_title_is_escaped(tmp_path):
    file = tmp_path / "batch.toml"
    file.write_text(
        'title = "<script>x</script>"\nsalt = "KNO3"\n[start]\nvolume = "500 mL"\nholds = "90 g"\n',
        encoding="utf-8",
    )
    shown = crystal.batch(file)._repr_html_()
    assert "<script>" not in shown
    assert "&lt;script&gt;" in shown


def test_odds_sum_to_one_and_better_tools_let_it_go_further():
    pot = crystal.pot("MgSO4", holds="200 g of MgSO4.7H2O", start="500 mL")
    rough, fine = pot.odds(5), pot.odds(5, by=["thermometer", "lab balance"], weighed=True)
    for row in rough.rows():
        assert_allclose(
            sum(row[f"odds_{name}"] for name in ("clear", "crop", "thick", "set")), 1.0, rtol=1e-9
        )
    assert fine.end_volume_mL < rough.end_volume_mL
    by_mark = pot.odds(5, by=["thermometer", "lab balance"])
    assert fine.end_volume_mL < by_mark.end_volume_mL
    (at,) = [row for row in rough.rows() if row["end_volume_mL"] == rough.end_volume_mL]
    assert 0.03 < at["odds_thick"] + at["odds_set"] <= 0.05
    assert rough.gains()[0]["known_exactly_g"] > 0


def test_salts_are_found_by_any_name():
    assert crystal.salt("bitter salt").formula == crystal.salt("MgSO4.7H2O").formula == "MgSO4"
    found = crystal.salts("vitriol")
    assert len(found) == len(found.to_frame()) > 3
    assert found["CuSO4"].hydrates[0] == "CuSO4.5H2O"
    low, high = crystal.salt("KNO3").covers_C[0]
    assert low < 0 < 90 < high


def test_the_stub_names_what_the_package_offers():
    stub = ast.parse(Path(crystal.__file__).with_suffix(".pyi").read_text(encoding="utf-8"))
    named = {alias.name for node in stub.body if isinstance(node, ast.ImportFrom) for alias in node.names}
    assert named == set(crystal._PUBLIC) <= set(dir(crystal))
    assert named <= set(api.__all__)
    with pytest.raises(AttributeError, match="no attribute 'pott'"):
        crystal.pott  # noqa: B018


def test_help_of_every_public_name_has_an_example():
    asked = (
        "reduce",
        "odds",
        "marks",
        "boil",
        "yields",
        "path",
        "cool",
        "harvest",
        "crops",
        "explain",
        "evidence",
    )
    methods = [getattr(api.Pot, name) for name in asked]
    shown = {"rows", "to_frame"}  # what every result has
    assert {name for name in dir(api.Pot) if not name.startswith("_")} - shown == {*asked, "columns"}
    for one in (crystal.pot, crystal.react, crystal.salt, crystal.salts, api.Salt.keep, *methods):
        assert ">>>" in (one.__doc__ or ""), one.__name__


def test_the_readme_s_example_runs(tmp_path, monkeypatch, capsys):
    readme = (Path(__file__).parent.parent / "README.md").read_text(encoding="utf-8")
    (block,) = re.findall(r"```python\n(.*?)```", readme, flags=re.DOTALL)
    monkeypatch.chdir(tmp_path)
    exec(block, {})
    assert capsys.readouterr().out.startswith("Stop at 240 mL")
    assert (tmp_path / "window.png").stat().st_size > 10_000
