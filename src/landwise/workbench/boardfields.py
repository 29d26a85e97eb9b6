"""The fields of the board page: which places of a study they stand for, how they are read and shown."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any, Literal

from landwise.assembly.lines import VIEWS, presets
from landwise.choosing.values import CRITERIA
from landwise.errors import InputError
from landwise.fabdata.references import expand
from landwise.printing.model import POWDERS, TECHNOLOGIES
from landwise.service.mission import MISSIONS
from landwise.study.question import hours_at, said_hours
from landwise.untyped import Fields, Table

Kind = Literal["text", "long", "choice", "weight"]
# what tomllib reads: texts, numbers, dates, lists and tables of them
Plain = str | int | float | bool | list[Any] | Fields
OBJECTIVES: Mapping[str, str | list[str]] = {
    "cost": "cost",
    "value, by the weights": "value",
    "area, then cost": ["area", "cost"],
    "cost, then area": ["cost", "area"],
    "risk, then cost": ["risk", "cost"],
    "cost, then risk": ["cost", "risk"],
}
CHOOSE_FOR: Mapping[str, str] = {"as it stands": "expected", "worst regret": "regret"}
LONGEST = 4_000  # characters of one field
OWN_HOURS = "own hours"
HOURS = (hours_at, said_hours)
PART = re.compile(r"part\.(\d{1,4})\.([a-z]+)")


@dataclass(frozen=True)
class Setting:
    """One field of the study's tables.

    Parameters
    ----------
    name : str
        Its place in the study file, such as `want.max_height`.
    label, group, hint : str
    read : callable
        From the text as typed to the study's value.
    show : callable
        Back from the study's value to a text.
    choices : tuple of str
        The first stands for what the study takes where nothing is said.
    """

    name: str
    label: str
    group: str
    hint: str = ""
    kind: Kind = "text"
    read: Callable[[str], Plain] = str
    # what tomllib reads: texts, numbers, dates, lists and tables of them
    show: Callable[[Any], str] = str
    choices: tuple[str, ...] = ()

    @property
    def path(self) -> tuple[str, ...]:
        """Steps from the study's root."""
        return tuple(self.name.split("."))


AS_SIZED = "unless sized"  # a stated size is a fixed outline
AS_THE_LINE = "as the line"  # a switch that the study leaves to the line's preset
GROUPS: Mapping[str, str] = {
    "aim": "What it is chosen for",
    "limits": "Limits of the board",
    "each": "Limits of each part",
    "weights": "What counts",
    "line": "The line",
    "use": "Board, use and run",
    "mission": "Life in service",
}


def number(text: str) -> float:
    """A number; whole ones stay whole.

    >>> number("3"), number("0.05")
    (3, 0.05)
    """
    try:
        value = float(text)
    except ValueError:
        raise InputError("not a number", found=repr(text)) from None
    if value != value or abs(value) == float("inf"):
        raise InputError("not a number", found=repr(text))
    return int(value) if value.is_integer() and "." not in text else value


def amount(text: str) -> Plain:
    """A number, or a quantity with its unit, as the study takes both."""
    return number(text) if re.fullmatch(r"[-+0-9.eE]+", text) else text


# what tomllib reads: texts, numbers, dates, lists and tables of them
def listed(text: str) -> list[Any]:
    """Values between commas."""
    return [one.strip() for one in text.split(",") if one.strip()]


def table(text: str) -> Fields:
    """`NAME = VALUE` between commas.

    >>> table("area-ratio = 0.66, gap = 0.2 mm")
    {'area-ratio': 0.66, 'gap': '0.2 mm'}
    """
    found: dict[str, object] = {}
    for one in listed(text):
        name, equals, value = one.partition("=")
        if not equals or not name.strip() or not value.strip():
            raise InputError("not NAME = VALUE", found=repr(one), expected="such as area-ratio = 0.66")
        found[name.strip()] = amount(value.strip())
    return found


def yes_no(text: str) -> bool:
    """A switch."""
    if text not in ("yes", "no"):
        raise InputError("neither yes nor no", found=repr(text))
    return text == "yes"


def said_yes_no(value: object) -> str:
    """A switch as it is shown."""
    return "yes" if value else "no"


# what tomllib reads: texts, numbers, dates, lists and tables of them
def said_list(value: Any) -> str:
    """A list as it is shown."""
    return ", ".join(str(one) for one in value)


# what tomllib reads: texts, numbers, dates, lists and tables of them
def said_table(value: Any) -> str:
    """A table as it is shown."""
    return ", ".join(f"{name} = {said}" for name, said in value.items())


def _objective(text: str) -> Plain:
    if text not in OBJECTIVES:
        raise InputError("no such aim", found=repr(text), expected=" | ".join(OBJECTIVES))
    return OBJECTIVES[text]


def _said_objective(value: object) -> str:
    for text, stands in OBJECTIVES.items():
        if stands == value or [stands] == value:
            return text
    return ", then ".join(value) if isinstance(value, list) else str(value)


def _choose_for(text: str) -> Plain:
    if text not in CHOOSE_FOR:
        raise InputError("no such aim", found=repr(text), expected=" | ".join(CHOOSE_FOR))
    return CHOOSE_FOR[text]


def _said_choose_for(value: object) -> str:
    return next((text for text, stands in CHOOSE_FOR.items() if stands == value), str(value))


def _choice(name: str, label: str, group: str, *choices: str, hint: str = "") -> Setting:
    return Setting(name, label, group, hint, "choice", str, str, choices)


def _switch(name: str, label: str, group: str, *, usual: bool | None, hint: str = "") -> Setting:
    choices = (AS_THE_LINE, "yes", "no") if usual is None else ("yes", "no") if usual else ("no", "yes")
    return Setting(name, label, group, hint, "choice", yes_no, said_yes_no, choices)


@cache
def settings() -> Mapping[str, Setting]:
    """Every field of the study's tables by name, in reading order."""
    found = [
        Setting("want.objective", "Least", "aim", "", "choice", _objective, _said_objective, tuple(OBJECTIVES)),
        Setting(
            "want.choose_for",
            "Over scenarios",
            "aim",
            "two scenarios or more: the choice whose largest regret is smallest",
            "choice",
            _choose_for,
            _said_choose_for,
            tuple(CHOOSE_FOR),
        ),
        Setting("want.board_limits.area", "Board area", "limits", "mm² of a side", read=amount),
        Setting("want.board_limits.hidden-joints", "Hidden joints", "limits", "at most so many", read=number),
        Setting("want.board_limits.risk", "Risk", "limits", "at most", read=number),
        Setting("want.most_outlines", "Outlines", "limits", "at most so many", read=number),
        Setting("want.max_height", "Height", "each", "1.2 mm"),
        Setting("want.max_area", "Courtyard", "each", "of one part, mm²", read=number),
        Setting("want.least_gap", "Gap between lands", "each", "0.1 mm"),
        _choice("want.hidden_joints", "Hidden joints", "each", "as the line sees", "never", "any"),
        _choice("want.terminals", "Terminals should be", "each", "either", "exposed", "hidden"),
        _choice(
            "want.supply",
            "Packages",
            "each",
            "likely",
            "seen",
            "any",
            hint="seen or likely for the function, seen, any",
        ),
        _switch("want.drilled", "Drilled parts", "each", usual=True, hint="may parts be drilled"),
        _switch("want.probe_access", "Every net probed", "each", usual=False),
        _switch(
            "want.coplanarity",
            "Uneven leads",
            "each",
            usual=True,
            hint="is the foil to make up for uneven leads",
        ),
        Setting("want.least_sources", "Least makers", "each", "where counted", read=number),
        Setting("want.most_lead_weeks", "Lead time", "each", "weeks", read=number),
        Setting("want.limits", "Any figure", "each", "gap = 0.2, pull = 5 N", read=table, show=said_table),
        *(
            Setting(f"want.weights.{name}", one.title, "weights", one.rule, "weight", number)
            for name, one in CRITERIA.items()
        ),
        _choice("line.preset", "Line", "line", *presets(), hint="kind of assembler"),
        Setting("line.foil", "Foil that must be", "line", "80 um"),
        Setting("line.foils", "Foils on hand", "line", "80 um, 100 um", read=listed, show=said_list),
        Setting("board.thickest_foil", "Foil others bear", "line", "125 um, the finest other part"),
        _switch("line.steps_allowed", "Steps in the foil", "line", usual=None),
        Setting("line.technologies", "Other foils", "line", " | ".join(TECHNOLOGIES), read=listed, show=said_list),
        Setting("line.powders", "Other powders", "line", ", ".join(POWDERS), read=listed, show=said_list),
        Setting("line.least_pitch", "Least pitch", "line", "0.5 mm"),
        Setting("line.inspection", "Inspection", "line", ", ".join(VIEWS), read=listed, show=said_list),
        Setting("board.name", "Name", "use"),
        _switch("board.printed_anyway", "Others printed", "use", usual=True, hint="are other parts printed anyway"),
        _switch("board.drilled_anyway", "Others drilled", "use", usual=False, hint="are other parts drilled anyway"),
        Setting("board.layers", "Copper layers", "use", read=number),
        _choice("board.sides", "Sides used", "use", "1", "2"),
        Setting("board.length", "Length", "use", "90 mm"),
        Setting("board.width", "Width", "use", "60 mm"),
        Setting("board.may_shrink", "May shrink", "use", "", "choice", yes_no, said_yes_no, (AS_SIZED, "yes", "no")),
        _choice("board.shrinks", "Side that shrinks", "use", "either", "length", "width", hint="on a stated panel"),
        Setting("board.panel", "Panel", "use", "length = 250 mm, width = 180 mm", read=table, show=said_table),
        Setting("board.reserved", "Kept free", "use", "20 cm2 for all else"),
        Setting("use.voltage", "Voltage", "use", "5 V"),
        Setting("use.ambient", "Air around it", "use", "60 degC"),
        _choice("use.air", "Air", "use", "dry", "humid", "wet"),
        _choice("use.coat", "Coat", "use", "none", "acrylic", "epoxy", "urethane", "silicone", "vapour"),
        Setting("costs.run", "Boards in the run", "use", read=number),
        Setting("costs.unit", "Money", "use", "your unit"),
        Setting("costs.rates", "Own rates", "use", "board_area = 0.05", read=table, show=said_table),
        Setting("use.environment", "Environment", "mission", "consumer"),
        Setting("use.years", "Years wanted", "mission", "years", read=number),
        _choice("use.profile", "Powered hours", "mission", OWN_HOURS, *MISSIONS, hint="a histogram by name"),
        Setting("use.hours", "Own hours", "mission", "9000 h at 55 degC, 20000 h at 25 degC", "long", *HOURS),
        _choice("use.hours_of", "Own hours are of", "mission", "junction", "air"),
        Setting("use.off", "Hours without power", "mission", "58000 h at 15 degC, in the whole life", "long", *HOURS),
        Setting("use.stored", "Hours on the shelf", "mission", "2000 h at 25 degC, after assembly", "long", *HOURS),
        Setting("use.switched", "Switched", "mission", "times a year", read=number),
    ]
    found = [one if one.name != "board.sides" else _sides(one) for one in found]
    return {one.name: one for one in found}


def _sides(one: Setting) -> Setting:
    return Setting(one.name, one.label, one.group, one.hint, one.kind, number, str, one.choices)


def in_group(key: str) -> list[Setting]:
    """The fields of one group, in reading order."""
    return [one for one in settings().values() if one.group == key]


# what tomllib reads: texts, numbers, dates, lists and tables of them
def stands(data: Mapping[str, object], path: tuple[str, ...]) -> Any:
    """What a study says at a place; None where it says nothing."""
    # what tomllib reads: texts, numbers, dates, lists and tables of them
    node: Any = data
    for step in path:
        if not isinstance(node, Mapping) or step not in node:
            return None
        node = node[step]
    return node


def shown(data: Mapping[str, object], one: Setting) -> str:
    """A field's text, as the study says it; empty where it says nothing."""
    value = stands(data, one.path)
    return "" if value is None else one.show(value)


# Parts.

PART_FIELDS = (
    *("refs", "function", "number", "family", "terminals", "package", "price", "options"),
    *("power", "switched", "locked", "fitted"),
)
COUNTED = ("terminals", "price", "switched")
SWITCHES = {"locked": False, "fitted": True}


def shown_part(part: Table, field: str) -> str:
    """A field of one part as the table shows it."""
    value = part.get(field)
    if field in SWITCHES:
        return said_yes_no(SWITCHES[field] if value is None else value)
    if field == "options":
        return "" if value in (None, "any") else offers_text(value)
    if field == "refs":
        return " ".join(value or ())
    return "" if value is None else str(value)


def read_part(part: Mapping[str, object], field: str, text: str) -> Plain | None:
    """From the text as typed to the part's value; None takes the field out."""
    if field in SWITCHES:
        value = yes_no(text)
        return None if value == SWITCHES[field] and field not in part else value
    if field == "options":
        return offers_from(text, part.get("options")) if text else "any" if "options" in part else None
    if field == "refs":
        refs = list(expand(text))
        if not refs:
            raise InputError("a part needs at least one reference", expected="such as U7, U8")
        return refs
    if not text:
        return None if field not in ("function", "package") else "" if field in part else None
    return number(text) if field in COUNTED else text


def offers_text(offers: list[Table]) -> str:
    """Packages offered as one text: name, and price, or prices from a quantity on.

    >>> offers_text([{"outline": "SO-16", "prices": {"1": 0.12, "1000": 0.072}}, {"outline": "DIP-16"}])
    'SO-16 = 0.12 / 1000: 0.072, DIP-16'
    """
    return ", ".join(_offer_text(one) for one in offers)


def _offer_text(one: Table) -> str:
    if one.get("prices"):
        steps = [f"{start}: {price:g}" if start != "1" else f"{price:g}" for start, price in one["prices"].items()]
        return f"{one['outline']} = {' / '.join(steps)}"
    return f"{one['outline']} = {one['price']:g}" if one.get("price") is not None else str(one["outline"])


def offers_from(text: str, was: object) -> list[dict[str, object]]:
    """Packages offered from one text; what else the study says of an offer is kept.

    >>> offers_from("SO-16 = 0.12 / 1000: 0.072, DIP-16", [{"outline": "DIP-16", "sources": 3}])
    [{'outline': 'SO-16', 'prices': {'1': 0.12, '1000': 0.072}}, {'outline': 'DIP-16', 'sources': 3}]
    """
    known = {one["outline"]: one for one in was} if isinstance(was, list) else {}
    found = []
    for one in listed(text):
        name, equals, price = (bit.strip() for bit in one.partition("="))
        old = known.get(name)
        if old is not None and _offer_text(old) == _normal(name, equals, price):
            found.append(dict(old))
            continue
        rest = {key: value for key, value in (old or {}).items() if key not in ("outline", "price", "prices")}
        found.append({"outline": name, **(_prices(price) if equals else {}), **rest})
    return found


def _normal(name: str, equals: str, price: str) -> str:
    return _offer_text({"outline": name, **(_prices(price) if equals else {})})


def _prices(text: str) -> dict[str, object]:
    steps = [step.strip() for step in text.split("/")]
    if len(steps) == 1 and ":" not in steps[0]:
        return {"price": number(steps[0])}
    prices = {}
    for step in steps:
        start, colon, price = (bit.strip() for bit in step.partition(":"))
        if not colon:
            start, price = "1", start
        if not start.isdigit():
            raise InputError("not a quantity", found=repr(start), expected="0.12 / 1000: 0.072")
        prices[start] = number(price)
    return {"prices": prices}
