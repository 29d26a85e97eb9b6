"""Changes of a kept study from the fields of the board page, each checked alone, its error beside it."""

from __future__ import annotations

import copy
import math
import tomllib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from landwise.board.model import decisions_of
from landwise.errors import InputError, LandwiseError
from landwise.judging.bench import Bench
from landwise.outlines import find
from landwise.service.environments import environment
from landwise.service.mission import mission
from landwise.study.file import FORMAT, Study, study_from
from landwise.study.question import study_data
from landwise.untyped import Fields, Table
from landwise.workbench.asked import in_study
from landwise.workbench.boardfields import (
    AS_SIZED,
    AS_THE_LINE,
    LONGEST,
    PART,
    PART_FIELDS,
    Setting,
    read_part,
    settings,
    shown,
    shown_part,
)
from landwise.workbench.boardscenarios import (
    SCENARIO,
    add_scenario,
    check_scenario,
    drop_scenario,
    field_of_scenario,
    set_scenario,
)
from landwise.workbench.boardtoml import Value, edited
from landwise.workbench.ownline import OwnLine

MOST_CHANGES = 20_000
MAY_BE_BELOW_ZERO = ("use.ambient", "board.name", "costs.unit")
LARGEST_STUDY = 2_000_000  # characters, as the shelf takes them


@dataclass
class Mended:
    """A study after changes: its new text, what was done, and errors by field."""

    text: str
    did: list[str] = field(default_factory=list)
    errors: dict[str, LandwiseError] = field(default_factory=dict)


def study_of(text: str, own: OwnLine | None = None) -> Study:
    """A kept study, read; with the workbench's line file before what it says of its line."""
    data = tomllib.loads(text)
    return study_from(data if own is None else own.over(data), file="board.toml", folder=Path())


def mended(text: str, changes: Mapping[str, str]) -> Mended:
    """The study with its fields set as typed; fields that stand so already change nothing.

    Parameters
    ----------
    text : str
        The study as it stands.
    changes : mapping of str to str
        Field to text as typed: `want.max_height`, `part.3.package`.
    """
    if len(changes) > MOST_CHANGES:
        raise InputError("too many fields", found=str(len(changes)), expected=f"at most {MOST_CHANGES}")
    made, data = Mended(text), tomllib.loads(text)
    for name, typed in changes.items():
        typed = " ".join(typed.split())
        try:
            if len(typed) > LONGEST:
                raise InputError("too long", found=f"{len(typed)} characters", expected=f"at most {LONGEST}")
            then = copy.deepcopy(data)
            said = _setter(name)(then, name, typed)
            if said is None:
                continue
            _check(then, name)
        except LandwiseError as error:
            made.errors[name] = error
            continue
        data = then
        made.did.append(said)
    if made.did:
        made.text = _written(text, data, list(range(len(data.get("part", [])))))
    return made


def _setter(name: str) -> Callable[[dict[str, Value], str, str], str | None]:
    return _set_part if PART.fullmatch(name) else set_scenario if SCENARIO.match(name) else _set


def with_scenario(text: str, name: str) -> tuple[str, str]:
    """The study with one more scenario; its text, and what was done.

    Raises
    ------
    LandwiseError
        With the field's name as its place.
    """
    data = tomllib.loads(text)
    did = add_scenario(data, name)
    _check(data, f"scenario.{len(data['scenario']) - 1}.name")
    return _written(text, data, list(range(len(data.get("part", []))))), did


def without_scenario(text: str, at: str) -> tuple[str, str]:
    """The study without one of its scenarios; its text, and what was done."""
    data = tomllib.loads(text)
    did = drop_scenario(data, at)
    return _written(text, data, list(range(len(data.get("part", []))))), did


def with_part(text: str, typed: Mapping[str, str]) -> tuple[str, str]:
    """The study with one more part, described as on the part page; its text, and what was done.

    Raises
    ------
    LandwiseError
        With the field's name as its place.
    """
    from landwise.fabdata.references import expand

    refs = list(expand(typed.get("refs", "")))
    if not refs:
        raise InputError("a part needs a reference", place="refs", expected="such as U7, U8")
    part = study_data({name: typed.get(name, "").strip() for name in ("function", "number", "terminals", "present")})
    told = {name: value for name, value in part["part"][0].items() if value not in (None, "")}
    if not str(told["terminals"]).isdigit():
        raise InputError("not a count of terminals", place="terminals", found=repr(told["terminals"]))
    data = tomllib.loads(text)
    places: list[int | None] = [*range(len(data.get("part", []))), None]
    data.setdefault("part", []).append({**told, "refs": refs, "terminals": int(told["terminals"]), "options": "any"})
    _check(data, "new")
    return _written(text, data, places), f"{', '.join(refs[:3])} added"


def without_part(text: str, at: int) -> tuple[str, str]:
    """The study without one of its parts; its text, and what was done."""
    data = tomllib.loads(text)
    parts = data.get("part", [])
    if not 0 <= at < len(parts):
        raise InputError("no such part in the study", found=str(at + 1), expected=f"1 to {len(parts)}")
    gone = parts.pop(at)
    return _written(text, data, [n for n in range(len(parts) + 1) if n != at]), f"{gone['refs'][0]} taken out"


def held_to(
    text: str,
    area_mm2: float,
    risk: float | None,
    *,
    next_area_mm2: float | None = None,
    next_risk: float | None = None,
) -> tuple[str, str]:
    """The study with its board's area, and risk, limited to what a point of the trade-off has.

    No board within these limits can be cheaper than that point, so it becomes the choice. Where the next larger
    values of the trade-off are given, the limits are the roundest numbers below those.
    """
    data = tomllib.loads(text)
    content = study_of(text).content
    limits = data.setdefault("want", {}).setdefault("board_limits", {})
    share = (1 + content.want.packing) / content.board.sides
    limits["area"] = _above(area_mm2 * share, None if next_area_mm2 is None else next_area_mm2 * share)
    if risk is not None:
        limits["risk"] = _above(risk, next_risk)
    _check(data, "want.board_limits.area")
    said = f"held to {limits['area']:g} mm² of board" + (f" and a risk of {risk:.3g}" if risk is not None else "")
    return _written(text, data, list(range(len(data.get("part", []))))), said


def _above(value: float, below: float | None = None) -> float:
    """The roundest number above a value and below another; a hair above it where nothing is known of another.

    >>> _above(53.1417, 61.2), _above(53.1417, 53.17)
    (54.0, 53.15)
    """
    for digits in range(2, 8) if below is not None else ():
        step = 10.0 ** (math.floor(math.log10(value)) + 1 - digits) if value > 0 else 1.0
        found = float(f"{(math.floor(value / step) + 1) * step:.{digits}g}")
        if below is not None and found < below:
            return found
    return float(f"{value * (1 + 1e-6) + 1e-9:.8g}")


def rewritten(text: str, data: Mapping[str, Value]) -> str:
    """The study's own text with other data, its parts as many as they were; what is wrong with it is raised.

    Raises
    ------
    LandwiseError
        If the data is no study, or can't be put into the text.
    """
    study = study_from({"landwise": FORMAT, **data}, file="board.toml", folder=Path())
    Bench.of(study)
    return _written(text, data, list(range(len(data.get("part", [])))))


def _written(text: str, data: Table, places: Sequence[int | None]) -> str:
    tables = {name: value for name, value in data.items() if name != "part"}
    made = edited(text, tables, list(zip(places, data.get("part", []), strict=True)))
    if len(made) > LARGEST_STUDY:
        raise InputError("the study is too large", found=f"{len(made) / 1e6:.1f} MB", expected="at most 2 MB")
    return made


def _set(data: Fields, name: str, typed: str) -> str | None:
    """Set one field of the study's tables; what was done, or None where it stands so already."""
    one = settings().get(name)
    if one is None:
        raise InputError("no such field", found=name[:60])
    was = shown(data, one)
    usual = _usual(one)
    if typed == was or (not was and typed == usual):
        return None
    node = data
    for step in one.path[:-1]:
        node = node.setdefault(step, {})
    last = one.path[-1]
    if not typed or (typed == usual and (last not in node or typed in (AS_THE_LINE, AS_SIZED))):
        node.pop(last, None)
    else:
        if typed.startswith(("-", "\N{MINUS SIGN}")) and one.kind in ("text", "long") and name not in MAY_BE_BELOW_ZERO:
            raise InputError("it can't be below zero", found=repr(typed))
        node[last] = one.read(typed)
    _prune(data, one.path)
    return f"{one.label.lower()}: {was or usual or 'open'} → {typed or 'open'}"


def _usual(one: Setting) -> str:
    """What stands in a field of which the study says nothing."""
    return one.choices[0] if one.kind == "choice" else ""


def _prune(data: Fields, path: tuple[str, ...]) -> None:
    """Empty tables within tables say nothing."""
    if len(path) == 3 and data[path[0]].get(path[1]) == {}:
        del data[path[0]][path[1]]


def _set_part(data: Fields, name: str, typed: str) -> str | None:
    match = PART.fullmatch(name)
    assert match
    at, inner = int(match[1]), match[2]
    parts = data.get("part", [])
    if at >= len(parts) or inner not in PART_FIELDS:
        raise InputError("no such field", found=name[:60])
    part = parts[at]
    was = shown_part(part, inner)
    if typed == was:
        return None
    value = read_part(part, inner, typed)
    if value is None:
        part.pop(inner, None)
    else:
        part[inner] = value
    # What somebody has said is no guess any more.
    rest = [one for one in part.get("guesses", []) if not one.startswith(f"{inner}:")]
    if "guesses" in part and rest != part["guesses"]:
        part["guesses"] = rest
        if not rest:
            del part["guesses"]
    ref = (part.get("refs") or ["?"])[0]
    return f"{ref} {inner}: {was or 'open'} → {typed or 'open'}"


def _check(data: Fields, name: str) -> None:
    """The study must still be one, and its names must be known."""
    study = study_from({"landwise": FORMAT, **data}, file="board.toml")
    if name.startswith(("want.", "line.", "costs.", "board.")):
        decisions_of(Bench.of(study))
    check_scenario(study, name)
    if name == "use.environment":
        environment(study.content.use.environment)
    if name == "use.profile" and study.content.use.profile:
        mission(study.content.use.profile)
    match = PART.fullmatch(name)
    if name == "new" or match:
        part = study.content.part[int(match[1]) if match else -1]
        if part.package:
            find(part.package)
        for offer in part.options if isinstance(part.options, list) else ():
            find(offer.outline)


def field_of(error: LandwiseError, text: str) -> str:
    """The page's field that an error of a run is about; empty where it is about none."""
    place = in_study(error.place or "")
    for name in sorted(settings(), key=len, reverse=True):  # use.hours_of before use.hours
        if place.startswith(", ".join(name.split("."))):
            return name
    if place.startswith("[[scenario]]"):
        return field_of_scenario(place, tomllib.loads(text).get("scenario", []))
    if place.startswith("part "):
        ref = place[5:].split(",")[0]
        for at, part in enumerate(tomllib.loads(text).get("part", [])):
            if ref in part.get("refs", []):
                inner = "options" if error.found and error.found in str(part.get("options")) else "terminals"
                return f"part.{at}.{'package' if error.found == part.get('package') else inner}"
    return ""
