"""What the part page is asked, as its address holds it: the fields, their ranges, and the way to a study."""

from __future__ import annotations

import shlex
import tomllib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cache
from typing import Any, Literal
from urllib.parse import urlencode

from landwise.assembly.lines import VIEWS, Line, presets
from landwise.choosing.values import CRITERIA
from landwise.errors import InputError, LandwiseError
from landwise.fabdata.functionwords import read_words
from landwise.fabdata.partnumbers import read_number
from landwise.judging.life import environment_of
from landwise.service.environments import ENVIRONMENTS
from landwise.service.mission import MISSIONS
from landwise.study.file import Study, StudyFile, study_from
from landwise.study.question import STUDY_FIELDS, study_data, tables_of
from landwise.untyped import Fields
from landwise.workbench.ownline import OwnLine
from landwise.workbench.units import UNITS, Units

Kind = Literal["text", "long", "choice", "slider"]
LONGEST_VALUE = 400  # characters of one field
MOST_OPEN = 2
NOT_BELOW_ZERO = (
    *("foil", "reduction", "print_offset", "placement_offset", "least_pitch"),
    *("years", "voltage", "layers", "run", "max_height", "terminals", "power", "switched"),
)
# What an address may say besides fields; the last six are the page's script's own and never kept.
OTHERS = ("units", "all", "study", "ref", "room", "tab", "turn", "quick", "row", "choice")


@dataclass(frozen=True)
class Field:
    """One field of the form. `name` is the flag of `landwise compare`, so that address and command agree.

    `low`, `high`, `step` are a slider's, in `unit`; the text beside it takes any unit.
    """

    name: str
    label: str
    group: str
    kind: Kind = "text"
    hint: str = ""
    choices: tuple[str, ...] = ()
    low: float = 0.0
    high: float = 0.0
    step: float = 0.0
    unit: str = ""


@cache
def fields() -> tuple[Field, ...]:
    """Every field of the form that the study takes, in reading order."""
    return tuple(one for one in _all_fields() if one.group == "part" or _taken(one.name))


def _taken(name: str) -> bool:
    table, inner = STUDY_FIELDS[name]
    # a field's type may be any; those of the form are all tables
    model: Any = StudyFile.model_fields[table].annotation
    return inner in model.model_fields


def _all_fields() -> tuple[Field, ...]:
    return (
        Field("number", "Number", "part", hint="such as 74LVC1G08"),
        Field("function", "Function", "part", hint="2-input AND gate"),
        Field("terminals", "Terminals", "part", hint="if left open so far"),
        Field("present", "In use", "part", hint="such as SOT-23-5"),
        Field("options", "Offered", "part", hint="TSSOP-14=0.11, SO-14"),
        Field("power", "Power", "part", hint="such as 20 mW"),
        Field("foil", "Foil", "move", "slider", "thickness of the stencil sheet", (), 50.0, 200.0, 5.0, "um"),
        Field("reduction", "Reduction", "move", "slider", "taken off every edge of a land", (), 0.0, 60.0, 2.0, "um"),
        Field("print_offset", "Print scatter", "move", "slider", "99.7 % stay within", (), 5.0, 100.0, 5.0, "um"),
        Field("placement_offset", "Placing scatter", "move", "slider", "99.7 % stay within", (), 5.0, 150.0, 5.0, "um"),
        Field("swing", "Temp. swing", "move", "slider", "widest temperature cycle", (), 5.0, 160.0, 5.0, "K"),
        Field("print", "Openings", "line", "choice", "suit each package, or its lands", ("designed", "as lands")),
        Field("design", "Lands", "line", "choice", "as they are, or moved with the print", ("print", "lands")),
        Field("line", "Line", "line", "choice", "kind of assembler", tuple(presets())),
        Field("foils", "Foils", "line", hint="80 um, 100 um"),
        Field("thickest_foil", "Foil others bear", "line", hint="125 um, the finest other part"),
        Field("least_pitch", "Least pitch", "line", hint="such as 0.4 mm"),
        Field("inspection", "Inspection", "line", hint=", ".join(VIEWS)),
        Field("voltage", "Voltage", "use", hint="between neighbours"),
        Field("state", "Board", "use", "choice", "another package then costs a change", ("new", "existing")),
        Field("layers", "Layers", "use", hint="of copper"),
        Field("run", "Run", "use", hint="boards"),
        Field("max_height", "Height", "use", hint="at most, 1.2 mm"),
        Field("hidden_joints", "Hidden joints", "use", "choice", "", ("as the line sees", "never", "any")),
        Field(
            "terminals_should_be", "Terminals", "use", "choice", "exposed or hidden", ("either", "exposed", "hidden")
        ),
        Field("environment", "Lives", "life", "choice", "row of the table of use environments", tuple(ENVIRONMENTS)),
        Field("years", "Years", "life", hint="of its place"),
        Field("profile", "Powered", "life", "choice", "hours at temperatures, by name", ("own hours", *MISSIONS)),
        Field("hours", "Own hours", "life", "long", "9000 h at 55 degC, 20000 h at 25 degC"),
        Field("hours_of", "They are of", "life", "choice", "whose temperature", ("junction", "air")),
        Field("off", "Hours without power", "life", "long", "58000 h at 15 degC, in the whole life"),
        Field("stored", "Hours on the shelf", "life", "long", "2000 h at 25 degC, after assembly"),
        Field("switched", "Switched", "life", hint="times a year"),
    )


TABLES = frozenset(table for table, _ in STUDY_FIELDS.values())
# What an error that names no place may be about.
ABOUT = frozenset(["environment", "years", "swing", "foil"])
GROUPS: Mapping[str, str] = {
    "part": "The part",
    "move": "Move",
    "line": "The line",
    "use": "Use and limits",
    "life": "Life in service",
}


@dataclass(frozen=True)
class Asked:
    """The state of the part page.

    Parameters
    ----------
    values : mapping
        Field to text as typed; empty ones left out.
    weights : mapping
        Criterion to weight as typed.
    opened : tuple of str
        Names of the options opened, at most two.
    units : {"mm", "mil"}
        Unit in which lengths are shown.
    everything : bool
        Whether the row shows all options.
    study, ref : str
        A kept study and the part of it, instead of a question.
    """

    values: Mapping[str, str] = field(default_factory=dict)
    weights: Mapping[str, str] = field(default_factory=dict)
    opened: tuple[str, ...] = ()
    units: Units = "mm"
    everything: bool = False
    study: str = ""
    ref: str = ""

    @property
    def plain(self) -> bool:
        """Whether a kept study's part is asked for as the study has it, with nothing laid over it."""
        return bool(self.study) and not self.values and not self.weights

    @property
    def empty(self) -> bool:
        """Whether nothing is asked yet."""
        return not self.study and not any(
            self.values.get(name) for name in ("number", "function", "terminals", "present")
        )

    # fields of this state, as `replace` takes them
    def query(self, **changes: Any) -> str:
        """The address of this state, or of one that differs from it."""
        state = replace(self, **changes)
        pairs: list[tuple[str, str]] = [("study", state.study), ("ref", state.ref)]
        pairs += [(name, state.values.get(name, "")) for name in (f.name for f in fields())]
        pairs += [(f"weight.{name}", text) for name, text in state.weights.items()]
        pairs += [("units", state.units if state.units != "mm" else ""), ("all", "1" if state.everything else "")]
        pairs += [("open", name) for name in state.opened]
        return urlencode([(name, text) for name, text in pairs if text])

    def toggled(self, name: str) -> tuple[str, ...]:
        """What is open after this option is opened or closed; the oldest gives way."""
        if name in self.opened:
            return tuple(other for other in self.opened if other != name)
        return (*self.opened, name)[-MOST_OPEN:]

    def command(self, own: OwnLine | None = None) -> str:
        """The same question on the command line, with the workbench's line file unless another line is asked for."""
        if self.study:
            # What is laid over the study makes it another one: the part alone, under what stands in the form.
            line = "" if own is None or not self.plain else f" {own.argument}"
            file = "board" if self.plain else "part"
            return f"landwise study {file}.toml --part {shlex.quote(self.ref or 'U1')}{line}"
        words = ["landwise", "compare"]
        for name, text in self.values.items():
            words += [f"--{name.replace('_', '-')}", text]
        if own is not None and not self.values.get("line"):
            words += ["--line", own.path]
        for name, text in self.weights.items():
            words += ["--weight", f"{name}={text}"]
        return shlex.join(words)


def asked_from(pairs: Iterable[tuple[str, str]]) -> Asked:
    """Read the state from an address.

    Raises
    ------
    InputError
        For a name that no field has, a value that is too long, or a switch that has no such position.
    """
    values: dict[str, str] = {}
    weights: dict[str, str] = {}
    opened: list[str] = []
    other: dict[str, str] = {}
    known = {one.name for one in fields()}
    for name, text in pairs:
        text = text.strip()
        if any(letter < " " and letter not in "\t\r\n" for letter in text):
            raise InputError("a control character in a field", place=name, expected="text")
        if len(text) > LONGEST_VALUE:
            raise InputError("too long", place=name, found=f"{len(text)} characters", expected=f"{LONGEST_VALUE}")
        if name == "open":
            opened.append(text)
        elif name.startswith("weight.") and name[7:] in CRITERIA:
            weights[name[7:]] = text
        elif name in known:
            values[name] = text
        elif name in OTHERS:
            other[name] = text
        else:
            raise InputError("no such field", place=name[:40], expected=", ".join(sorted(known)))
    units = other.get("units") or "mm"
    if units not in UNITS:
        raise InputError("no such unit", place="units", found=units, expected=" | ".join(UNITS))
    order = [one.name for one in fields()]
    return Asked(
        values={name: values[name] for name in order if values.get(name)},
        weights={name: weights[name] for name in CRITERIA if weights.get(name)},
        opened=tuple(dict.fromkeys(name for name in opened if name))[:MOST_OPEN],
        units="mil" if units == "mil" else "mm",
        everything=other.get("all") == "1",
        study=other.get("study", ""),
        ref=other.get("ref", ""),
    )


def study_of(asked: Asked, kept: str | None = None, own: OwnLine | None = None) -> Study:
    """The study that the state asks for: of the question alone, or of a kept study with the state laid over it.

    Parameters
    ----------
    asked : Asked
    kept : str, optional
        The kept study's text.
    own : OwnLine, optional
        The line file of the workbench: the line, unless another is asked for.

    Raises
    ------
    LandwiseError
        With the field's place.
    """
    file = "question" if kept is None else "kept study"
    return study_from(data_of(asked, kept, own), file=file)


def data_of(asked: Asked, kept: str | None = None, own: OwnLine | None = None) -> Fields:
    """The same study as the plain data of its file."""
    values: Fields = dict(asked.values)
    values["offered"] = values.pop("options", "")
    values["weights"] = {name: _weight(name, text) for name, text in asked.weights.items()}
    for name in NOT_BELOW_ZERO:
        _not_below_zero(name, asked.values.get(name, ""))
    own = None if asked.values.get("line") else own
    if kept is None:
        data = study_data(values)
        return data if own is None else own.under(data)
    data = tomllib.loads(kept) if own is None else own.over(tomllib.loads(kept))
    if data.get("outlines"):
        raise InputError("own outlines are not read in the workbench", place="outlines", expected="the command line")
    home = environment_of(study_from(data, file="kept study").content.use)
    for table, rows in tables_of(values, home).items():
        stands = data.setdefault(table, {})
        weights = {**stands.get("weights", {}), **rows.get("weights", {})}
        stands.update({**rows, **({"weights": weights} if weights else {})})
    parts = data.get("part", [])
    chosen = next((one for one in parts if asked.ref in one.get("refs", [])), None)
    if chosen is None:
        raise InputError("no such part in the study", place="ref", found=asked.ref, expected="one of its references")
    return {**data, "part": [_mended(chosen, asked)]}


def _mended(part: Fields, asked: Asked) -> Fields:
    """The study's part with what the form states of it."""
    own = study_data(
        {
            **asked.values,
            "offered": asked.values.get("options", ""),
            "terminals": asked.values.get("terminals") or part.get("terminals") or 1,
        }
    )["part"][0]
    names = {
        "function": "function",
        "number": "number",
        "terminals": "terminals",
        "present": "package",
        "options": "options",
        "power": "power",
    }
    stated = {inside: own[inside] for name, inside in names.items() if asked.values.get(name)}
    if asked.values.get("number"):
        stated |= {"function": own["function"], "family": own.get("family", "")}
    return {**part, **stated}


def _weight(name: str, text: str) -> float:
    try:
        value = float(text)
    except ValueError:
        value = -1.0
    if not 0.0 <= value <= 1.0:
        raise InputError("not a weight", place=f"weight.{name}", found=repr(text), expected="a number from 0 to 1")
    return value


def _not_below_zero(name: str, text: str) -> None:
    if text.lstrip().startswith(("-", "\N{MINUS SIGN}")):
        raise InputError("it can't be below zero", place=name, found=repr(text))


def contradicted(asked: Asked) -> str:
    """What to say where the function typed is not the number's; empty where they agree, or one of them is missing.

    >>> contradicted(Asked({"number": "74LVC1G08", "function": "octal buffer"}))
    'The number says single 2-input AND gate, which is what is judged; the function typed says octal buffer.'
    """
    number, typed = (asked.values.get(name, "") for name in ("number", "function"))
    reading, words = read_number(number), read_words(typed)
    named, said = reading and reading.function, words and words.function
    if not named or not said or said.terminals in (None, named.terminals):
        return ""
    return f"The number says {named.words}, which is what is judged; the function typed says {typed}."


def in_study(place: str) -> str:
    """A place without the part at which it came out, where it is about the study's tables.

    >>> in_study("part U3, use, off"), in_study("part U3")
    ('use, off', 'part U3')
    """
    head, _, inner = place.partition(", ")
    return inner if head.startswith("part ") and inner.split(",")[0] in TABLES else place


def field_of(error: LandwiseError, asked: Asked) -> str:
    """The form's field that an error is about; empty where it is about none."""
    place = in_study(error.place or "")
    names = [one.name for one in fields()] + [f"weight.{name}" for name in CRITERIA] + ["units", "ref", "study"]
    if place in names:
        return place
    for name, (table, inner) in STUDY_FIELDS.items():
        if f"{place},".startswith(f"{table}, {inner},"):
            return name
    for criterion in CRITERIA:
        if place.endswith(f"weights, {criterion}"):
            return f"weight.{criterion}"
    for inner in ("terminals", "function", "number", "power"):
        if place.startswith("[[part]]") and place.endswith(inner):
            return inner
    if error.about in ABOUT:
        return error.about if error.about != "foil" or asked.values.get("foil") else "foils"
    found = (error.found or "").strip("'\"")
    for name in ("present", "options"):
        if found and found in asked.values.get(name, ""):
            return name
    return "options" if error.about == "outline" and asked.values.get("options") else ""


def effective(content: StudyFile, line: Line) -> dict[str, float]:
    """Where each slider stands: what the study really works with, in the slider's unit."""
    return {
        "foil": float(line.foil_um),
        "reduction": float(content.line.reduction),
        "print_offset": line.print_offset_mm * 1000,
        "placement_offset": line.placement_offset_mm * 1000,
        "swing": max(cycle.swing_k for cycle in environment_of(content.use).cycles),
    }


def in_group(group: str, own: OwnLine | None = None) -> Sequence[Field]:
    """The fields of one group; the workbench's line file is the first choice of a line."""
    found = [one for one in fields() if one.group == group]
    if own is None:
        return found
    return [replace(one, choices=(own.name, *one.choices)) if one.name == "line" else one for one in found]
