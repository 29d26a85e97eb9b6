"""The scenarios of a study: each one's own best, what one choice for all costs in it, and its regret."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from pydantic import Field

from landwise.board.result import BoardResult
from landwise.board.scenarios import Scenarios, robust_says
from landwise.quantities import significant
from landwise.results.strict import Strict

HEADS = ("scenario", "its own best", "cost", "least worst regret costs", "regret", "regret of cheapest on average")


class ScenarioJson(Strict):
    """One scenario; money per board."""

    name: str
    differs: list[str] = Field(description="what it changes in the study")
    own: dict[str, str] = Field(description="outline of each part of its own best board, by first reference")
    own_decision: str
    decision: str = Field(description="what the parts share in it with the choice of least worst regret")
    own_cost: float
    cost: float = Field(description="of the choice of least worst regret")
    regret: float
    expected: float | None = Field(description="regret of the choice by expected cost; null where it breaks a limit")


class ScenariosJson(Strict):
    """One choice for all scenarios."""

    taken: bool = Field(description="whether the study asked for the smallest worst regret")
    says: str
    proven: bool
    worst: float = Field(description="largest regret of the choice of least worst regret")
    bound: float = Field(description="what no choice brings the largest regret below")
    expected_worst: float | None = Field(description="largest regret of the choice by expected cost")
    gives_up: float | None = Field(description="what it costs more in the study as it stands")
    robust: dict[str, str] = Field(description="outline of each part in the choice of least worst regret")
    by_cost: dict[str, str] = Field(description="outline of each part in the choice by expected cost")
    rows: list[ScenarioJson]


def scenarios_data(result: BoardResult) -> dict[str, object] | None:
    """What `ScenariosJson` accepts; None where the study has no scenarios or they could not be weighed."""
    found, unit = result.scenarios, result.content.costs.unit
    if found is None:
        return None
    return {
        "taken": found.taken,
        "says": " ".join(lines(found, unit)),
        "proven": found.proven,
        "worst": found.worst,
        "bound": found.bound,
        "expected_worst": found.expected_worst,
        "gives_up": found.gives_up,
        "robust": dict(found.robust),
        "by_cost": dict(found.expected),
        "rows": [{**vars(row), "differs": list(row.differs), "own": dict(row.own)} for row in found.rows],
    }


def rows(found: Scenarios) -> list[tuple[str, ...]]:
    """One row a scenario under `HEADS`."""
    return [
        (
            f"{row.name}: {', '.join(row.differs)}",
            _apart(row.own, found.robust),
            significant(row.own_cost),
            significant(row.cost),
            _money(row.regret, row.own_cost),
            "breaks a limit" if row.expected is None else _money(row.expected, row.own_cost),
        )
        for row in found.rows
    ]


def _apart(own: Mapping[str, str], robust: Mapping[str, str]) -> str:
    """What a scenario would take otherwise."""
    other = [f"{ref} in {name}" for ref, name in own.items() if robust[ref] != name]
    return ", ".join(other) or "the same packages"


def _money(value: float, of: float) -> str:
    return "0" if abs(value) <= 1e-9 * max(1.0, abs(of)) else f"{value:.3g}"


def lines(found: Scenarios, unit: str) -> list[str]:
    """What the comparison says, a sentence each."""
    said = [f"{_capital(robust_says(found, unit))}."]
    if not found.moved:
        said.append("The choice that is cheapest on average is the same.")
        return said
    moved = ", ".join(f"{ref} in {found.robust[ref]} and not {found.expected[ref]}" for ref in found.moved)
    worst = found.expected_worst
    other = "which breaks a limit in a scenario" if worst is None else f"whose largest regret is {worst:.3g} {unit}"
    said.append(f"It takes {moved}, against the choice that is cheapest on average, {other}.")
    said.append(
        "The board is chosen so."
        if found.taken
        else 'want.choose_for = "regret" would choose so; this board is the cheapest on average.'
    )
    return said


@dataclass(frozen=True)
class Beside:
    """One scenario as a column beside the others.

    Parameters
    ----------
    name : str
    differs : tuple of str
        What it changes in the study.
    own_cost, cost, regret : str
        Money per board of its own best board, of the recommended one in it, and the difference; of the last two
        "breaks a limit" and nothing where the recommended board keeps no limit of it.
    own_decision : str
        What the parts of its own best board share.
    packages : tuple of (str, bool)
        Of its own best board, as `parts_apart` lists them: the outline, and whether the recommended board has another.
    """

    name: str
    differs: tuple[str, ...]
    own_cost: str
    cost: str
    regret: str
    own_decision: str
    packages: tuple[tuple[str, bool], ...]


def recommended(found: Scenarios) -> Mapping[str, str]:
    """Outline of each part, by first reference, of the board that the study's answer recommends."""
    return found.robust if found.taken else found.expected


def parts_apart(found: Scenarios) -> tuple[str, ...]:
    """First references of the parts that come in another package on some scenario's own best board."""
    board = recommended(found)
    return tuple(ref for ref, name in board.items() if any(row.own[ref] != name for row in found.rows))


def beside(found: Scenarios) -> list[Beside]:
    """Every scenario with its own best board, and what the recommended board costs more in it."""
    board, refs, columns = recommended(found), parts_apart(found), []
    for row in found.rows:
        more = row.regret if found.taken else row.expected
        columns.append(
            Beside(
                name=row.name,
                differs=row.differs,
                own_cost=significant(row.own_cost),
                cost="breaks a limit" if more is None else significant(row.own_cost + more),
                regret="" if more is None else _money(more, row.own_cost),
                own_decision=row.own_decision,
                packages=tuple((row.own[ref], row.own[ref] != board[ref]) for ref in refs),
            )
        )
    return columns


def recommended_says(found: Scenarios, unit: str) -> str:
    """In one sentence what the recommended board can cost more than a scenario's own best."""
    costs = [(row.regret if found.taken else row.expected, row) for row in found.rows]
    broken = [row.name for more, row in costs if more is None]
    if broken:
        return f"The recommended board breaks a limit in {', '.join(broken)}."
    worst, row = max(((more or 0.0, row) for more, row in costs), key=lambda one: one[0])
    if _money(worst, row.own_cost) == "0":
        return "The recommended board is the best of every scenario."
    return f"The recommended board costs at most {worst:.3g} {unit} more than a scenario's own best: in {row.name}."


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def page(result: BoardResult) -> dict[str, object] | None:
    """What the report says about scenarios; None where there is nothing to say."""
    found, unit = result.scenarios, result.content.costs.unit
    if found is None:
        return None
    return {
        "heads": list(HEADS),
        "says": " ".join(lines(found, unit)),
        "rows": [list(row) for row in rows(found)],
        "unit": f"Money in {unit} per good board; the regret of a scenario is what a choice costs above the best board"
        " of that scenario. Foil, steps, powder and inspection are settled anew in each;"
        " packages and board class once.",
    }
