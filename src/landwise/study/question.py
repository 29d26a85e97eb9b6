"""One question about one part, as it is typed: from texts to the plain data of a study.

The command line's flags and the workbench's form ask the same question by the same names, so both get the
same study, the same numbers and the same card.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from landwise.errors import InputError
from landwise.fabdata.functionwords import read_words
from landwise.fabdata.gatekinds import Kind, kinds_by_words, kinds_of
from landwise.fabdata.partnumbers import read_number
from landwise.outlines import find
from landwise.quantities import parse
from landwise.service.environments import Environment, environment
from landwise.study.file import Use
from landwise.untyped import Fields, Table

# Field of the question → table and field of the study that it fills.
STUDY_FIELDS: Mapping[str, tuple[str, str]] = {
    "line": ("line", "preset"),
    "foil": ("line", "foil"),
    "foils": ("line", "foils"),
    "thickest_foil": ("board", "thickest_foil"),
    "reduction": ("line", "reduction"),
    "print": ("line", "print"),
    "print_offset": ("line", "print_offset"),
    "placement_offset": ("line", "placement_offset"),
    "least_pitch": ("line", "least_pitch"),
    "inspection": ("line", "inspection"),
    "hidden_joints": ("want", "hidden_joints"),
    "terminals_should_be": ("want", "terminals"),
    "max_height": ("want", "max_height"),
    "supply": ("want", "supply"),
    "voltage": ("use", "voltage"),
    "air": ("use", "air"),
    "coat": ("use", "coat"),
    "environment": ("use", "environment"),
    "swing": ("use", "cycles"),
    "years": ("use", "years"),
    "profile": ("use", "profile"),
    "hours": ("use", "hours"),
    "hours_of": ("use", "hours_of"),
    "switched": ("use", "switched"),
    "off": ("use", "off"),
    "stored": ("use", "stored"),
    "state": ("board", "state"),
    "layers": ("board", "layers"),
    "thickness": ("board", "thickness"),
    "drilled_anyway": ("board", "drilled_anyway"),
    "design": ("board", "design"),
    "run": ("costs", "run"),
}
LISTS = ("foils", "inspection")
HOURS = ("hours", "off", "stored")
USUAL = str(Use.model_fields["environment"].default)


def study_data(asked: Table) -> Fields:
    """The study's plain data for a question about one part.

    Parameters
    ----------
    asked : mapping
        `function`, `number`, `terminals`, `present`, `offered`, `power` describe the part; the keys of `STUDY_FIELDS`
        the line, the use and the wishes; `weights` maps criteria to their weights, `limits` figures to their limits;
        `gates` asks for so many of the function near each other, `net_cost` states what a net moved costs. What is
        missing, None or empty is left to the defaults.

    Raises
    ------
    InputError
        Naming the field: an unknown number, a price or a count that can't be read, terminals that don't follow.

    Examples
    --------
    >>> data = study_data({"number": "74LVC1G08", "present": "SOT-23-5", "foil": "100 um"})
    >>> data["part"][0]["terminals"], data["line"]
    (5, {'foil': '100 um'})
    """
    tables = tables_of(asked)
    study: Fields = {**tables, "board": {"name": "one part", **tables["board"]}}
    if asked.get("gates"):
        return {**study, **_gates(asked, int(asked["gates"]), study.get("costs", {}))}
    return {**study, "part": [_part(asked)]}


def _gates(asked: Table, count: int, costs: Table) -> Fields:
    """So many gates near each other, each in a package of its own unless the present one holds more."""
    kinds = _kinds(asked)
    present = str(asked.get("present") or "").strip()
    number = str(asked.get("number") or "").strip()
    reading = read_number(number) if number else None
    own = next((kind for kind in kinds if reading is not None and kind.number == reading.number), kinds[0])
    part: Fields = {
        "number": own.number,
        "family": reading.family if reading else "",
        "function": own.words,
        "terminals": own.terminals,
        "package": present,
    }
    if asked.get("offered"):
        raise InputError(
            "packages with prices belong to one number of gates",
            place="options",
            expected="[[regroup]] with kinds in a study file",
        )
    full, rest = divmod(count, own.units)
    parts = [{**part, "refs": [f"gate {n}" for n in range(1, full + 1)]}] if full else []
    if rest:
        parts.append({**part, "refs": [f"gate {full + 1}"], "gates": rest})
    made: Fields = {"part": parts, "regroup": [{"refs": [one["refs"][0] for one in parts]}]}
    if asked.get("net_cost") is not None:
        made["costs"] = {**costs, "rates": {"net_moved": float(asked["net_cost"])}}
    return made


def _kinds(asked: Mapping[str, object]) -> tuple[Kind, ...]:
    number = str(asked.get("number") or "").strip()
    reading = read_number(number) if number else None
    words = str(asked.get("function") or "")
    kinds = kinds_of(reading.number, reading.family) if reading else kinds_by_words(words)
    if not kinds:
        raise InputError(
            "not known to come in packages of one gate and of several",
            place="gates",
            found=repr(number or words),
            expected='such as --function "2-input AND" or --number 74LVC1G08',
        )
    return kinds


def tables_of(asked: Table, home: Environment | None = None) -> Fields:
    """Only the study's tables that the question states, without its part.

    `home` is where the product lives already, for a question laid over a study; a stated environment replaces it.
    """
    tables: Fields = {"board": {}}
    for name, (table, field) in STUDY_FIELDS.items():
        value = asked.get(name)
        if value is None or value == "":
            continue
        if name in LISTS and isinstance(value, str):
            value = [text.strip() for text in value.split(",") if text.strip()]
        if name in HOURS and isinstance(value, str):
            value = hours_at(value, place=name)
        if name == "swing":
            named = asked.get("environment")
            value = cycles_with(str(value), environment(str(named)) if named else home or environment(USUAL))
        tables.setdefault(table, {})[field] = value
    for name in ("weights", "limits"):
        if asked.get(name):
            tables.setdefault("want", {})[name] = dict(asked[name])
    return tables


def cycles_with(swing: str, home: Environment) -> list[Fields]:
    """A place's cycles with another swing: the widest gets it, the others keep their proportion; the middles stay.

    >>> cycles_with("70 K", environment("consumer"))
    [{'swing': '70 K', 'dwell': '720 min', 'per_year': 365, 'top': '65 degC'}]
    """
    wanted = parse(swing, "temperature difference", place="swing")
    if not wanted > 0:
        raise InputError("a swing must be above zero", place="swing", found=repr(swing), expected="such as 40 K")
    factor = wanted / max(cycle.swing_k for cycle in home.cycles)
    return [
        {
            "swing": f"{cycle.swing_k * factor:g} K",
            "dwell": f"{cycle.dwell_min:g} min",
            "per_year": cycle.per_year,
            "top": f"{cycle.mean_c + cycle.swing_k * factor / 2:g} degC",
        }
        for cycle in home.cycles
    ]


def hours_at(text: str, *, place: str | None = None) -> list[dict[str, str]]:
    """Hours at temperatures from one text.

    >>> hours_at("58660 h at 15 degC, 2 years at 25 degC")
    [{'temperature': '15 degC', 'hours': '58660 h'}, {'temperature': '25 degC', 'hours': '2 years'}]
    """
    found = []
    for one in text.split(","):
        hours, between, temperature = (bit.strip() for bit in one.partition(" at "))
        if not one.strip():
            continue
        if not (hours and between and temperature):
            raise InputError(
                "not hours at a temperature", place=place, found=repr(one.strip()), expected="such as 2000 h at 25 degC"
            )
        found.append({"temperature": temperature, "hours": hours})
    return found


def said_hours(rows: Sequence[Mapping[str, object]]) -> str:
    """Hours at temperatures as they are typed.

    >>> said_hours(hours_at("2000 h at 25 degC"))
    '2000 h at 25 degC'
    """
    return ", ".join(f"{row['hours']} at {row['temperature']}" for row in rows)


def _part(asked: Mapping[str, object]) -> Fields:
    function, number, present = (str(asked.get(name) or "").strip() for name in ("function", "number", "present"))
    part: dict[str, object] = {"refs": ["this part"], "function": function, "package": present}
    reading = read_number(number) if number else None
    if number and (reading is None or reading.function is None):
        raise InputError(
            "not a known logic number", place="number", found=repr(number), expected="such as 74HC595 or 74LVC1G08"
        )
    if reading and reading.function:
        part |= {"function": reading.function.words, "number": reading.number, "family": reading.family}
    terminals = asked.get("terminals") or (reading.function.terminals if reading and reading.function else None)
    if terminals is None and function:
        words = read_words(function)
        terminals = words.function.terminals if words and words.function and words.function.terminals else None
    if terminals is None and present:
        terminals = find(present).terminals
    if terminals is None:
        raise InputError(
            "it is not known how many terminals the part needs",
            place="terminals",
            expected=(
                "their number, a part number, the package in use, or a function whose terminals follow from its words"
            ),
        )
    part["terminals"] = terminals
    if asked.get("power"):
        part["power"] = str(asked["power"]).strip()
    offered = str(asked.get("offered") or "")
    if offered.strip():
        part["options"] = [offer(text) for text in offered.split(",") if text.strip()]
    return part


def offer(text: str) -> dict[str, object]:
    """One package offered, with its price where it is given.

    >>> offer("TSSOP-14 = 0.11")
    {'outline': 'TSSOP-14', 'price': 0.11}
    """
    name, equals, price = text.partition("=")
    if not equals:
        return {"outline": name.strip()}
    try:
        return {"outline": name.strip(), "price": float(price)}
    except ValueError:
        raise InputError(
            "not a price", place="options", found=repr(price.strip()), expected="a number, such as TSSOP-14=0.11"
        ) from None


def limit(text: str) -> tuple[str, float | str]:
    """A figure's limit from `NAME=VALUE`; a value with a unit stays as it is typed.

    >>> limit("life=15"), limit("height=1.2 mm")
    (('life', 15.0), ('height', '1.2 mm'))
    """
    name, _, value = (bit.strip() for bit in text.partition("="))
    if not (name and value):
        raise InputError(
            "not a limit", place="limit", found=repr(text), expected='NAME=VALUE, such as life=15 or "gap=0.3 mm"'
        )
    try:
        return name, float(value)
    except ValueError:
        return name, value


def weight(text: str) -> tuple[str, float]:
    """A criterion's weight from `NAME=VALUE`."""
    name, _, value = text.partition("=")
    try:
        return name.strip(), float(value)
    except ValueError:
        raise InputError(
            "not a weight", place="weight", found=repr(text), expected="NAME=VALUE, such as cost=0.5"
        ) from None
