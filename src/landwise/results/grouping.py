"""How many packages at all: each way to package gates with what it costs, as data, rows and words."""

from __future__ import annotations

from pydantic import Field

from landwise.board.regroup import Regrouped, SetAnswer, WayCost
from landwise.board.result import BoardResult
from landwise.costs.loads import TITLES, Line
from landwise.quantities import significant
from landwise.results.answer import WorthJson, worth_data, worth_says
from landwise.results.strict import Strict
from landwise.untyped import Fields

HEADS = ("way", "packages", "cost of the board", "more", "area mm²", "unused", "nets moved", "track mm", "µA", "wins")
MOST_LINES = 3
LEAST_SHOWN = 5e-5  # money per board: less is no reason


class WayJson(Strict):
    """One way to package the gates of a set, on the board that is best with it."""

    packages: dict[str, int] = Field(description="by number")
    today: bool
    outlines: dict[str, str] = Field(description="by the first reference of each number; empty where nothing fits")
    cost: float | None = Field(description="money per board; null where no board keeps the limits")
    more: float | None = Field(description="what the board costs above the cheapest way")
    more_low: float | None = Field(description="5 % end of what it costs above the way that is best on average")
    more_high: float | None
    wins: float | None = Field(description="share of joint draws in which it is the cheapest way")
    area_mm2: float | None = Field(description="courtyards of the set's packages, capacitors left out")
    unused: int = Field(description="gates, or bits, tied off")
    nets_moved: int
    track_mm: float | None = Field(description="longer tracks, at most; null where places are not known")
    quiescent_ua: float | None = Field(description="largest current at rest; null where no data sheet was read")
    defects: float | None
    failing: list[str] = Field(description="figures of its packages that fail")
    lines: dict[str, float] = Field(description="that board's money by line of the cost")


class SetJson(Strict):
    """The ways of one set of gates, cheapest first."""

    refs: list[str]
    kind: str = Field(description="decided, equal or not decided")
    chosen: int = Field(description="which way is taken, from 0")
    worth: float
    everything: float = Field(description="money per board that knowing everything would save")
    inputs: list[WorthJson]
    says: str
    decides: str
    ways: list[WayJson]


class GroupingJson(Strict):
    """Grouping chosen with packages and all that is shared."""

    proof: str
    value: float = Field(description="what was minimised, over all groupings")
    bound: float = Field(description="what no grouping falls below")
    kept: float | None = Field(description="the same as grouped today; null where no board keeps the limits so")
    groupings: int
    told: list[str] = Field(description="what is not proposed, and why")
    sets: list[SetJson]


def grouping_data(result: BoardResult) -> dict[str, object] | None:
    """What `GroupingJson` accepts; None where nothing may be regrouped."""
    found = result.regrouped
    if found is None:
        return None
    unit = result.content.costs.unit
    return {
        "proof": proof_says(found, unit),
        "value": found.cost,
        "bound": found.bound,
        "kept": found.kept,
        "groupings": found.boards,
        "told": list(found.told),
        "sets": [_set(one, unit) for one in found.sets],
    }


def _set(one: SetAnswer, unit: str) -> dict[str, object]:
    return {
        "refs": list(one.refs),
        "kind": one.kind,
        "chosen": one.ways.index(one.chosen),
        "worth": one.worth,
        "everything": one.everything,
        "inputs": [worth_data(worth) for worth in one.inputs],
        "says": set_says(one, unit),
        "decides": decides_says(one, unit),
        "ways": [_way(way, one) for way in one.ways],
    }


def _way(one: WayCost, among: SetAnswer) -> dict[str, object]:
    return {
        "packages": dict(one.way.counts),
        "today": one.way.today,
        "outlines": dict(one.outlines),
        "cost": one.cost,
        "more": _more(one, among),
        "more_low": one.low,
        "more_high": one.high,
        "wins": one.wins,
        "area_mm2": one.area_mm2,
        "unused": one.way.unused,
        "nets_moved": one.way.nets_moved,
        "track_mm": one.way.track_mm,
        "quiescent_ua": one.quiescent_ua,
        "defects": one.defects,
        "failing": list(one.failing),
        "lines": {line.value: value for line, value in one.lines.items()},
    }


def _more(one: WayCost, among: SetAnswer) -> float | None:
    least = min(way.cost for way in among.ways if way.cost is not None)
    return None if one.cost is None else one.cost - least


def way_says(one: WayCost) -> str:
    """Packages with their outlines, and whether that is today's way."""
    names = {part.number.upper(): one.outlines.get(part.refs[0]) for part in one.way.parts}
    bits = [
        f"{count} × {number}{f' in {name}' if (name := names.get(number)) else ''}"
        for number, count in one.way.counts.items()
    ]
    in_use = one.way.today and all(part.package for part in one.way.parts)
    return " + ".join(bits) + (", as today" if in_use else "")


def rows(one: SetAnswer) -> list[tuple[str, ...]]:
    """One row a way, cheapest first, under `HEADS`."""
    made: list[tuple[str, ...]] = []
    for way in one.ways:
        more = _more(way, one)
        made.append(
            (
                ("→ " if way is one.chosen else "") + way_says(way),
                str(way.way.packages),
                "breaks a limit" if way.cost is None else significant(way.cost),
                "–" if more is None else f"{more:+.4f}",
                "–" if way.area_mm2 is None else significant(way.area_mm2),
                str(way.way.unused),
                str(way.way.nets_moved),
                "–" if way.way.track_mm is None else f"{way.way.track_mm:.0f}",
                "–" if way.quiescent_ua is None else f"{way.quiescent_ua:.0f}",
                "–" if way.wins is None else f"{way.wins:.0%}",
            )
        )
    return made


def set_says(one: SetAnswer, unit: str) -> str:
    """How sure the choice among the ways is, in one sentence."""
    chosen, other = one.chosen, one.runner_up
    failing = f"; not before this is settled: {', '.join(chosen.failing)}" if chosen.failing else ""
    first = f"{way_says(chosen)}{failing}"
    if other is None:
        return f"{first}: the only way that keeps the limits"
    if one.kind == "equal":
        return f"equal within what is known: {first}; {way_says(other)} would do as well"
    if one.kind == "not decided":
        wanted = "; ".join(worth_says(worth, unit) for worth in one.inputs) or "no single input decides it"
        return f"not decided: {first} is best on average. Worth knowing: {wanted}"
    wins = "" if chosen.wins is None else f", cheapest in {chosen.wins:.0%} of draws"
    return (
        f"decided: {first}{wins}; knowing everything would save {one.everything:.2g} {unit} a board,"
        f" {one.worth:.2g} would be worth finding out"
    )


def decides_says(one: SetAnswer, unit: str) -> str:
    """The lines of the cost in which the way taken and the next differ most."""
    other = one.runner_up
    if other is None:
        return "no other way keeps the limits"
    lines = {line: one.chosen.lines.get(line, 0.0) - other.lines.get(line, 0.0) for line in Line}
    largest = sorted((line for line in lines if abs(lines[line]) >= LEAST_SHOWN), key=lambda line: -abs(lines[line]))
    said = ", ".join(f"{TITLES[line]} {lines[line]:+.3g}" for line in largest[:MOST_LINES])
    area = (one.chosen.area_mm2 or 0.0) - (other.area_mm2 or 0.0)
    return f"against {way_says(other)}: {said or 'no line differs'} {unit} a board; courtyards {area:+.3g} mm²"


def proof_says(found: Regrouped, unit: str) -> str:
    """Optimum and bound over all groupings, and what the board costs as grouped today."""
    word = "proven best" if found.proven else "best found when stopped"
    kept = "no board keeps the limits" if found.kept is None else f"{found.kept:.6g}"
    forgone, among = found.taken - found.cost, f"{found.boards} groupings with all their packages"
    if forgone > 1e-9 * max(1.0, abs(found.cost)):
        return (
            f"{found.taken:.6g} {unit} a board as it is grouped today, as regrouping would save only {forgone:.2g},"
            f" equal within what is known; {word} of {among}: none can be below {found.bound:.6g}"
        )
    return (
        f"{word} of {among}: {found.cost:.6g} {unit} a board, none can be below {found.bound:.6g};"
        f" not regrouped: {kept}"
    )


TIED_OFF = "tie every unused input to supply or ground: a CMOS input left open draws current and may oscillate"


def cautions(found: Regrouped) -> list[str]:
    """What must be done to build the ways that are taken."""
    return [TIED_OFF] if any(one.chosen.way.unused for one in found.sets) else []


def page(result: BoardResult) -> Fields | None:
    """What the report says about grouping; None where nothing may be regrouped."""
    found, unit = result.regrouped, result.content.costs.unit
    if found is None:
        return None
    return {
        "heads": list(HEADS),
        "proof": proof_says(found, unit),
        "told": list(found.told),
        "cautions": cautions(found),
        "sets": [
            {
                "refs": ", ".join(one.refs),
                "says": set_says(one, unit),
                "decides": decides_says(one, unit),
                "rows": [list(row) for row in rows(one)],
            }
            for one in found.sets
        ],
    }
