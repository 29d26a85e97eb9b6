"""The study's scenarios on the board page: their fields, one more, one less, each checked before it is kept."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from landwise.board.model import decisions_of
from landwise.board.scenarios import PRESETS, study_in
from landwise.errors import InputError, LandwiseError
from landwise.judging.bench import Bench
from landwise.study.file import Study
from landwise.workbench.boardfields import Plain, Setting, amount, listed, number, said_table, table
from landwise.workbench.boardtoml import Value

SCENARIO = re.compile(r"scenario\.(\d{1,3})\.([a-z_]+)")
MOST_SCENARIOS = 12  # each is a choice of its own, and a column of the table
AS_THE_STUDY = "as the study"
IN_THE_FILE = {"offer": "offers", "offers": "offer files"}


def read_prices(text: str) -> Plain:
    """Prices of one piece, by reference and outline.

    >>> read_prices("U3 TSSOP-14 = 0.09, U3 SO-14 = 0.2")
    {'U3': {'TSSOP-14': 0.09, 'SO-14': 0.2}}
    """
    found: dict[str, dict[str, Plain]] = {}
    for one in listed(text):
        named, _, price = one.partition("=")
        words = named.split()
        if len(words) != 2 or not price.strip():
            raise InputError("not REFERENCE PACKAGE = PRICE", found=repr(one), expected="such as U3 TSSOP-14 = 0.09")
        found.setdefault(words[0], {})[words[1]] = amount(price.strip())
    return found


def said_prices(value: Mapping[str, Mapping[str, object]]) -> str:
    """Prices as they are shown."""
    return ", ".join(f"{ref} {name} = {price}" for ref, own in value.items() for name, price in own.items())


FIELDS: Mapping[str, Setting] = {
    one.name: one
    for one in (
        Setting("name", "Name", "scenario", "the large order"),
        Setting("run", "Boards in the run", "scenario", "as the study", read=number),
        Setting("line", "Line", "scenario", "kind of assembler", "choice", choices=(AS_THE_STUDY, *PRESETS)),
        Setting("rate_factor", "All rates times", "scenario", "as the study", read=number),
        Setting("rates", "Own rates", "scenario", "placement = 0.008", read=table, show=said_table),
        Setting("prices", "Own prices", "scenario", "U3 TSSOP-14 = 0.09", read=read_prices, show=said_prices),
    )
}


def shown_scenario(one: Mapping[str, Value], field: str) -> str:
    """A field of one scenario as the page shows it."""
    value = one.get(field)
    return "" if value in (None, {}) else FIELDS[field].show(value)


@dataclass(frozen=True)
class ShownScenario:
    """One scenario in the page's form: its place in the study, fields (name, setting, text), what only the file has."""

    at: int
    name: str
    fields: tuple[tuple[str, Setting, str], ...]
    beside: str


def shown_scenarios(data: Mapping[str, Value], typed: Mapping[str, str]) -> list[ShownScenario]:
    """Every scenario of a study as the page's form shows it, what was refused as it was typed."""
    found = []
    for at, one in enumerate(data.get("scenario", [])):
        fields = tuple(
            (f"scenario.{at}.{name}", setting, typed.get(f"scenario.{at}.{name}", shown_scenario(one, name)))
            for name, setting in FIELDS.items()
        )
        beside = [f"{len(one[key])} {said}" for key, said in IN_THE_FILE.items() if one.get(key)]
        found.append(ShownScenario(at, one.get("name", ""), fields, ", ".join(beside)))
    return found


def set_scenario(data: dict[str, Value], name: str, typed: str) -> str | None:
    """Set one field of a scenario; what was done, or None where it stands so already.

    Raises
    ------
    InputError
        For a field that is not there, or a text that it can't hold.
    """
    match = SCENARIO.fullmatch(name)
    scenarios = data.get("scenario", [])
    if match is None or int(match[1]) >= len(scenarios) or match[2] not in FIELDS:
        raise InputError("no such field", found=name[:60])
    one, field = scenarios[int(match[1])], FIELDS[match[2]]
    was = shown_scenario(one, field.name)
    typed = "" if typed == AS_THE_STUDY else typed
    if typed == was:
        return None
    if typed.startswith(("-", "\N{MINUS SIGN}")) and field.name in ("run", "rate_factor"):
        raise InputError("it can't be below zero", found=repr(typed))
    if typed:
        one[field.name] = field.read(typed)
    elif field.name == "name":
        raise InputError("a scenario needs a name", expected="such as the large order")
    else:
        one.pop(field.name, None)
    called = one["name"] if field.name != "name" else was
    return f"scenario {called}, {field.label.lower()}: {was or 'as the study'} → {typed or 'as the study'}"


def add_scenario(data: dict[str, Value], name: str) -> str:
    """One more scenario, nothing but a name: the study itself until something is changed in it.

    Raises
    ------
    InputError
        With `name` as its place: without a name, with one that is there, or one too many.
    """
    scenarios = data.setdefault("scenario", [])
    name = " ".join(name.split())
    if not name:
        raise InputError("a scenario needs a name", place="name", expected="such as the large order")
    if any(one.get("name") == name for one in scenarios):
        raise InputError("there is a scenario of this name", place="name", found=repr(name[:60]))
    if len(scenarios) >= MOST_SCENARIOS:
        raise InputError("too many scenarios", place="name", expected=f"at most {MOST_SCENARIOS}")
    scenarios.append({"name": name})
    return f"scenario {name} added"


def drop_scenario(data: dict[str, Value], at: str) -> str:
    """One scenario less.

    Raises
    ------
    InputError
        Where there is none at this place.
    """
    scenarios: Sequence[Mapping[str, Value]] = data.get("scenario", [])
    if not at.isdigit() or len(at) > 3 or int(at) >= len(scenarios):
        raise InputError("no such scenario in the study", found=at[:20], expected=f"1 to {len(scenarios)}")
    gone = data["scenario"].pop(int(at))
    if not data["scenario"]:
        del data["scenario"]
    return f"scenario {gone.get('name', '')} taken out"


def check_scenario(study: Study, name: str) -> None:
    """Nothing, where the scenario that a field belongs to can be worked.

    Raises
    ------
    LandwiseError
        As the run would, without the place: the field is known.
    """
    match = SCENARIO.fullmatch(name)
    scenarios = study.content.scenario
    if match is None or int(match[1]) >= len(scenarios):
        return
    one = scenarios[int(match[1])]
    if sum(other.name == one.name for other in scenarios) > 1:
        raise InputError("there is a scenario of this name", found=repr(one.name))
    try:
        decisions_of(Bench.of(study_in(study, one, Bench.of(study).own)))
    except LandwiseError as error:
        raise InputError(error.message, found=error.found, expected=error.expected) from None


def field_of_scenario(place: str, scenarios: Sequence[Mapping[str, Value]]) -> str:
    """The page's field that a run's error about a scenario is about; empty where it is about none.

    >>> field_of_scenario("[[scenario]] short of U3, prices, U3", [{"name": "as planned"}, {"name": "short of U3"}])
    'scenario.1.prices'
    """
    for at, one in enumerate(scenarios):
        own = f"[[scenario]] {one.get('name')}"
        if place == own or place.startswith(f"{own}, "):
            inner = place[len(own) + 2 :].split(",")[0]
            return f"scenario.{at}.{inner if inner in FIELDS else 'name'}"
    return ""
