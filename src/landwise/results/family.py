"""A family of boards in words and as data: what changes, what it saves and hangs on, what the one stock holds."""

from __future__ import annotations

from pydantic import Field

from landwise.board.family import FamilyResult, Member
from landwise.fabdata.partnumbers import written_number
from landwise.fabdata.tabletext import csv_text
from landwise.quantities import several, significant
from landwise.results.jsontext import json_text
from landwise.results.strict import Strict
from landwise.results.told import cautions_by_text
from landwise.untyped import Fields


class FamilyPartJson(Strict):
    """One part of one board."""

    refs: list[str]
    function: str
    present: str | None
    alone: str = Field(description="its package if the board were the only product")
    together: str
    area_mm2: float = Field(description="courtyards of all its places, together")


class FamilyBoardJson(Strict):
    """One board of a family."""

    name: str
    file: str
    run: int
    decision: str = Field(description="foil, inspection and class of board, together")
    cost_alone: float = Field(description="money per board beside outlines brought in, in the packages chosen alone")
    cost: float = Field(description="the same, chosen together")
    cautions: list[str]
    parts: list[FamilyPartJson]


class StockJson(Strict):
    """One part in one package that the family keeps."""

    outline: str
    number: str
    function: str
    boards: dict[str, list[str]] = Field(description="references by board")
    pieces: int = Field(description="over all runs, without attrition")


class FamilyJson(Strict):
    """`family.json`."""

    landwise_family: int = 1
    unit: str
    status: str = Field(description="optimal or stopped")
    halted: list[str] = Field(description="boards that were not judged to the end before it was stopped")
    apart: float = Field(description="money over all runs, every board chosen and paid alone")
    shared: float = Field(description="the same packages, outlines on several boards brought in once")
    together: float = Field(description="chosen together")
    bound: float = Field(description="what no choice can fall below, by what is minimised")
    outlines: dict[str, float] = Field(description="what bringing in each outline on the boards costs, once")
    breaks_even: float | None = Field(description="cost of an outline below which the packages chosen alone cost less")
    boards: list[FamilyBoardJson]
    stock: list[StockJson]
    told: list[str]


def family_data(result: FamilyResult) -> dict[str, object]:
    """`family.json` as data that `FamilyJson` accepts."""
    return {
        "landwise_family": 1,
        "unit": result.unit,
        "status": "stopped" if result.halted else result.together.status,
        "halted": list(result.halted),
        "apart": result.apart,
        "shared": result.shared,
        "together": result.value,
        "bound": result.together.bound,
        "outlines": {name: result.outlines.get(name, 0.0) for name in result.used(alone=False)},
        "breaks_even": breaks_even(result),
        "boards": [_board(one) for one in result.members],
        "stock": stock(result),
        "told": list(result.told),
    }


def family_text(result: FamilyResult) -> str:
    """`family.json` as text, checked against its own models."""
    data = family_data(result)
    FamilyJson.model_validate(data)
    return json_text(data) + "\n"


def _board(one: Member) -> dict[str, object]:
    return {
        "name": one.name,
        "file": one.study.file,
        "run": one.run,
        "decision": one.model.says(one.together.decision),
        "cost_alone": one.cost_alone,
        "cost": one.cost,
        "cautions": list(member_cautions(one)),
        "parts": [
            {
                "refs": list(part.part.refs),
                "function": part.part.function,
                "present": part.present.name if part.present else None,
                "alone": before,
                "together": option.name,
                "area_mm2": option.area_mm2 * part.count,
            }
            for part, before, option in one.rows()
        ],
    }


def member_cautions(one: Member) -> tuple[str, ...]:
    """Binding cautions of a board's packages, chosen together."""
    return cautions_by_text([(part.name, option) for part, _, option in one.rows()], one.study.content)


def stock(result: FamilyResult) -> list[Fields]:
    """What the family keeps: every part in its package, by outline, with the places it goes to and the pieces."""
    rows: dict[tuple[str, str, str], Fields] = {}
    for one in result.members:
        for part, _, option in one.rows():
            name = option.name
            number = written_number(part.part.family, part.part.number)
            row = rows.setdefault(
                (name, number, part.part.function if not number else ""),
                {"outline": name, "number": number, "function": part.part.function, "boards": {}, "pieces": 0},
            )
            row["boards"].setdefault(one.name, []).extend(part.part.refs)
            row["pieces"] += part.count * one.run
    return [rows[key] for key in sorted(rows)]


def stock_csv(result: FamilyResult) -> str:
    """The stock as a table for a spreadsheet."""
    names, keys = [one.name for one in result.members], ("outline", "number", "function", "pieces")
    rows = [
        [*(row[key] for key in keys), *(" ".join(row["boards"].get(name, ())) for name in names)]
        for row in stock(result)
    ]
    return csv_text((*keys, *names), rows)


def breaks_even(result: FamilyResult) -> float | None:
    """Cost of an outline below which the packages that the boards choose alone cost less; None where they are the same.

    Both choices as they are, each outline paid once for all boards. [money]
    """
    kept, before = result.used(alone=False), result.used(alone=True)
    paid = [sum(result.outlines.get(name, 0.0) > 0 for name in names) for names in (before, kept)]
    fewer = paid[0] - paid[1]
    dearer = sum(one.run * (one.cost - one.cost_alone) for one in result.members)
    return dearer / fewer if fewer > 0 and dearer > 0 else None


def totals_say(result: FamilyResult) -> list[str]:
    """What it comes to, in sentences."""
    unit, apart = result.unit, result.apart
    fewer = len(result.used(alone=True)) - len(result.used(alone=False))
    said = [
        f"Over all runs {significant(apart, 5)} {unit} chosen board by board, {significant(result.value, 5)} together:"
        f" {significant(apart - result.value)} {unit} less."
    ]
    gained, bought = result.shared - result.value, apart - result.shared
    if bought > 0:
        said.append(
            f"{significant(bought)} of it because packages on several boards are brought in once and bought together."
        )
    if gained > 1e-9 * max(abs(apart), 1.0):
        count = f", {several(fewer, 'outline')} fewer" if fewer > 0 else ""
        said.append(f"{significant(gained)} of it because boards take a package that another one has{count}.")
    elif not moves(result):
        said.append("Every board keeps the packages that it chooses alone.")
    return said


def moves(result: FamilyResult) -> list[tuple[str, list[str], str, str]]:
    """Parts that come in another package than alone: board, references, alone, together."""
    return [
        (one.name, list(part.part.refs), before, option.name)
        for one in result.members
        for part, before, option in one.rows()
        if before != option.name
    ]


def pays_say(one: Member, unit: str) -> str:
    """What a board pays for the family, or gains by it, beside outlines."""
    more = one.cost - one.cost_alone
    if abs(more) <= 1e-9 * max(abs(one.cost_alone), 1.0):
        return "costs the same"
    return f"costs {significant(abs(more))} {unit} {'more' if more > 0 else 'less'} a board"


def hangs_say(result: FamilyResult) -> str | None:
    """The assumption that the family's choice hangs on, with the value at which it flips."""
    even = breaks_even(result)
    if even is None:
        return None
    rate = max(result.outlines.values(), default=0.0)
    assumed = any(one.model.bench.rates["outline"].assumed for one in result.members)
    return (
        f"another outline costs {'an assumed ' if assumed else ''}{significant(rate)} {result.unit};"
        f" below {significant(even)} {result.unit} the boards' own choices cost less"
    )


def _keeps(result: FamilyResult) -> bool:
    return any(one.priced.kept for one in result.members)


def proof_says(result: FamilyResult) -> str:
    """How far the choice is proven."""
    found = result.together
    if result.halted:
        return (
            f"Stopped while judging {', '.join(result.halted)}: the best of what was judged, under today's line;"
            " parts not yet judged stay as they are."
        )
    if found.status == "optimal":
        equals = "; among packages equal within what is known today's stays" if _keeps(result) else ""
        said = f"no other choice for these {len(result.members)} boards is better, prices and limits as stated"
        return f"Proven: {said}{equals}."
    if not found.choices:
        return "Stopped before a choice for all boards was found: each keeps its own."
    gap = (found.value - found.bound) / max(abs(found.value), 1e-12)
    return f"Stopped: the best found, at most {gap:.2%} from the best."
