"""What the page's address holds: the texts of the form, by key, and the same as a batch file."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from urllib.parse import urlencode

from crystal.data.catalogue import Catalogue
from crystal.errors import InputError
from crystal.faces.batchfile import BatchFile
from crystal.faces.facts import Given
from crystal.faces.filing import quoted

LONGEST = 120
"""Characters that one text of the form may have; what a bench asks for is shorter."""


@dataclass(frozen=True, slots=True)
class Field:
    """One text of the form: its key in the address and among the facts, its label, an example, and where files keep it."""

    key: str
    label: str
    example: str
    fact: str = ""
    place: str = ""


FIELDS = (
    Field("salt", "Salt", "Epsom salt", "salt", "salt"),
    Field("holds", "Solid that went in", "200 g of MgSO4.7H2O", "holds", "start.holds"),
    Field("strength", "Strength", "18 % w/w", "strength", "start.strength"),
    Field("density", "Hydrometer", "1.18 g/mL at 20 °C", "density", "start.density"),
    Field("volume", "Volume", "500 mL", "volume", "start.volume"),
    Field("mass", "Mass of the solution", "500 g", "mass", "start.mass"),
    Field("water", "Water it was dissolved in", "350 g", "water", "start.water"),
    Field("beside", "Dissolved beside it", "12 g of HCl", "with", "start.with"),
    Field("at", "Volume read at", "20 °C", "at", "start.at"),
    Field("vessel", "The vessel holds", "600 mL", "vessel", "start.vessel"),
    Field("cool", "Cool to", "5 °C", "cool_to", "cool.to"),
    Field("risk", "Risk you bear", "5 %", "risk", "doubt.risk"),
    Field("read_at", "End volume read at", "20 °C", "read_at", "reduce.read_at"),
    Field("boil_at", "Boiled down at", "100 °C", "boil_at", "reduce.boil_at"),
    Field("bed", "Settled bed", "0.55", "bed", "reduce.bed"),
    Field("to", "Exact end point", "190 mL", "to", "reduce.to"),
    Field("remove", "Water taken out", "300 g", "remove", "reduce.remove"),
    Field("want", "Crystals wanted", "50 g", "want", "reduce.want"),
    Field("altitude", "Altitude", "800 m", "altitude", "reduce.altitude"),
    Field("pressure", "Barometer", "94.5 kPa", "pressure", "reduce.pressure"),
    Field("doubt_volume", "Marks read to", "measuring cylinder", "doubt_volume", "doubt.volume"),
    Field("doubt_mass", "Weighed to", "kitchen balance", "doubt_mass", "doubt.mass"),
    Field(
        "doubt_temperature",
        "Final temperature to",
        "overnight outdoors",
        "doubt_temperature",
        "doubt.temperature",
    ),
    Field("doubt_holds", "Content to", "3 %", "doubt_holds", "doubt.holds"),
    Field("doubt_curve", "Saturation curve to", "0.5 %", "doubt_curve", "doubt.curve"),
    Field("doubt_density", "Density to", "1 %", "doubt_density", "doubt.density"),
    Field("doubt_bed", "Settled bed to", "0.05", "doubt_bed", "doubt.bed"),
    Field("saw", "What came of it", "set"),
    Field("title", "Name of the batch", "Second try"),
)
BY_KEY = {field.key: field for field in FIELDS}

LEFT_ASIDE = {
    "made": "the reactions behind the pot (the pot that they leave stands below)",
    "harvest": "harvesting",
    "keep": "keeping",
    "curve": "a calibrated curve",
    "crop": "further crops",
    "seen": "more that was seen than one outcome",
}
"""What a batch file may tell that the page does not work with, by its section."""


@dataclass(frozen=True)
class State:
    """The form as it was filled in; ``stop`` is where the slider stands, mL, empty where the advice is followed.

    ``left`` are the sections of a loaded file that the page leaves aside.
    """

    texts: Mapping[str, str]
    fahrenheit: bool = False
    ounces: bool = False
    left: tuple[str, ...] = ()

    @classmethod
    def of(cls, args: Mapping[str, str]) -> State:
        """From the address's query or a posted form; unknown keys are left aside."""
        texts = {key: args.get(key, "").strip() for key in (*BY_KEY, "stop")}
        return cls(
            {key: text for key, text in texts.items() if text},
            args.get("deg") == "F",
            args.get("vol") == "floz",
            tuple(key for key in LEFT_ASIDE if key in args.get("left", "").split(",")),
        )

    def __getitem__(self, key: str) -> str:
        return self.texts.get(key, "")

    def __hash__(self) -> int:
        return hash((tuple(self.texts.items()), self.fahrenheit, self.ounces, self.left))

    def too_long(self) -> Iterator[InputError]:
        """A complaint for each text that is longer than any input needs to be."""
        for key, text in self.texts.items():
            if len(text) > LONGEST:
                what = BY_KEY[key].label if key in BY_KEY else key
                yield InputError(what, f"{len(text)} characters", f"at most {LONGEST} characters long")

    def facts(self, *, without: tuple[str, ...] = ()) -> dict[str, Given]:
        """The facts on the batch, each called by its label."""
        return {
            field.fact: Given(self.texts[field.key], field.label)
            for field in FIELDS
            if field.fact and field.key in self.texts and field.key not in without
        }

    @property
    def query(self) -> str:
        """The address's query that holds this state."""
        return self._query(dict(self.texts))

    @property
    def unseen(self) -> State:
        """The same before anything was seen."""
        return replace(self, texts={key: text for key, text in self.texts.items() if key != "saw"})

    @property
    def advised_query(self) -> str:
        """The same with the slider back at the advised end point."""
        return self._query(
            {key: text for key, text in self.texts.items() if key not in ("stop", "to", "remove")}
        )

    def _query(self, texts: dict[str, str]) -> str:
        units = {"deg": "F"} if self.fahrenheit else {}
        units |= {"vol": "floz"} if self.ounces else {}
        units |= {"left": ",".join(self.left)} if self.left else {}
        return urlencode({**texts, **units})

    @classmethod
    def loaded(cls, written: bytes, catalogue: Catalogue) -> State:
        """The state that a batch file tells; InputError where it cannot be read."""
        file = BatchFile.parse(written, "the batch file")
        told = file.told(catalogue)
        by_fact = {field.fact: field.key for field in FIELDS if field.fact}
        texts = {by_fact[key]: given.text for key, given in told.facts.items() if key in by_fact}
        if told.made is not None:
            made = told.made
            if made.salt is None:
                raise InputError(
                    "the batch file: made", "no dissolved salt", "reactions that leave one", "ZnSO4"
                )
            texts |= {
                "salt": made.salt,
                "holds": f"{made.salt_g:.8g} g of {made.salt}",
                "water": f"{made.water_g:.8g} g",
            }
            if made.others_g:
                texts["beside"] = "; ".join(
                    f"{grams:.8g} g of {name}" for name, grams in made.others_g.items()
                )
        outcomes = [one["outcome"].text for one in file.seen if "outcome" in one]
        if outcomes:
            texts["saw"] = outcomes[-1]
        if told.title:
            texts["title"] = told.title
        sections = {
            given.what.removeprefix(f"{file.path}: ").split(".")[0]
            for key, given in told.facts.items()
            if key not in by_fact
        }
        sections |= {"crop"} if file.crops else set()
        sections |= {"made"} if told.made is not None else set()
        sections |= (
            {"seen"} if len(file.seen) > 1 or any(set(one) - {"outcome"} for one in file.seen) else set()
        )
        state = cls(
            {key: text.strip() for key, text in texts.items() if text.strip()},
            left=tuple(key for key in LEFT_ASIDE if key in sections),
        )
        for fault in state.too_long():
            raise fault
        return state

    def batch_file(self, end: str = "") -> str:
        """The state as a batch file; ``end`` is the slider's end point as a text, where one is set."""
        texts = dict(self.texts)
        if end and "to" not in texts and "remove" not in texts:
            texts["to"] = end
        parts: dict[str, list[str]] = {"": [], "start": [], "reduce": [], "cool": [], "doubt": []}
        if "title" in texts:
            parts[""].append(f"title = {quoted(texts['title'])}")
        for field in FIELDS:
            if field.place and field.key in texts:
                section, _, key = field.place.rpartition(".")
                text = quoted(texts[field.key])
                parts[section].append(
                    f"{key or field.place} = {f'[{text}]' if field.key == 'beside' else text}"
                )
        lines = list(parts.pop(""))
        for section, entries in parts.items():
            if entries:
                lines += ["", f"[{section}]", *entries]
        if "saw" in texts:
            lines += ["", "[[seen]]", f"outcome = {quoted(texts['saw'])}"]
        return "\n".join(lines).lstrip("\n") + "\n"
