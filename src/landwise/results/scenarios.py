"""The scenarios of a study: each one's own best, what one choice for all costs in it, and its regret."""

from __future__ import annotations

from collections.abc import Mapping

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
