"""The whole-board choice as plain data for `result.json`, each point of the trade-off a full choice."""

from __future__ import annotations

from typing import Any

from pydantic import BaseModel, ConfigDict, Field

from landwise.boardchoice import BoardChoice, gain_sentence
from landwise.choosing.board.model import Solution


class _Strict(BaseModel):
    model_config = ConfigDict(extra="forbid")


class LimitJson(_Strict):
    """What the board would save without one limit."""

    name: str
    saved: float
    decision: str = Field(description="the shared decision that would then be best")
    options: dict[str, str]


class HoldJson(_Strict):
    """What the board would save if one part did not care about the shared decision."""

    part: str
    saved: float
    decision: str = Field(description="where the board would go without it")


class AlternativeJson(_Strict):
    """The best board in which one part comes in another option."""

    part: str
    option: str
    more: float = Field(description="what that board costs more")
    decision: str


class SecondJson(_Strict):
    """The runner-up among all choices."""

    value: float
    behind: float
    differs: list[str]


class ChangeJson(_Strict):
    """The best board with at most so many parts changed from today's."""

    changes: int
    changed: list[str]
    saved: float
    decision: str
    options: dict[str, str]


class PointJson(_Strict):
    """One choice of the trade-off."""

    values: list[float] = Field(description="in the order of `axes`")
    decision: str
    options: dict[str, str]


class RelaxedJson(_Strict):
    """The least change of one limit that makes the board possible."""

    name: str
    needed: float
    limit: float | None
    unit: str
    parts: list[str]


class BoardFlipJson(_Strict):
    """The nearest value of one input at which another board becomes the best."""

    what: str
    now: float
    at: float
    options: dict[str, str]
    decision: str
    differs: list[str]


class FirmJson(_Strict):
    """How firm the choice is."""

    draws: int
    searched: int = Field(description="draws that wanted a search of their own")
    confidence: float = Field(description="share of draws of the uncertain inputs in which exactly this board wins")
    wins: dict[str, dict[str, float]] = Field(description="share of draws in which each option is in the best board")
    weight_wins: dict[str, dict[str, float]] = Field(
        description="share of all weightings of the trade-off's axes under which each option wins"
    )
    flips: list[BoardFlipJson]


class ChoiceJson(_Strict):
    """One choice for all parts and for what they share."""

    status: str = Field(description="optimal, stopped or infeasible")
    objective: str
    unit: str
    value: float | None
    bound: float | None
    gap: float | None
    proof: str
    decision: str
    decisions: list[str] = Field(description="every shared decision that was weighed")
    equal: list[str] = Field(description="other shared decisions that do as well for the same options")
    cost: float | None = Field(description="per good board")
    today: float | None = Field(description="cost of today's board")
    options: dict[str, str] = Field(description="outline by the part's first reference")
    limits: list[LimitJson]
    holds: list[HoldJson]
    alternatives: list[AlternativeJson]
    second: SecondJson | None
    steps: list[ChangeJson] = Field(description="migration list")
    gain: str
    axes: list[str]
    complete: bool = Field(description="whether the trade-off holds every point there is")
    risk: str = Field(description="what the risk axis is")
    points: list[PointJson]
    firm: FirmJson | None = None
    conflict: list[str]
    relaxed: list[RelaxedJson]
    stuck: list[str] = Field(description="parts that no option fits, left out of the choice")


def choice_data(choice: BoardChoice) -> dict[str, Any]:
    """The choice as data that `ChoiceJson` accepts."""
    model, best = choice.model, choice.best
    names = [part.name for part in model.parts]

    def full(found: Solution) -> dict[str, Any]:
        return {"decision": model.says(found.decision), "options": choice.options(found)}

    return {
        "status": best.status,
        "objective": choice.objective,
        "unit": choice.unit,
        "value": best.value if best.found else None,
        "bound": best.bound if best.found else None,
        "gap": best.gap if best.found else None,
        "proof": choice.proof,
        "decision": choice.decision,
        "decisions": [model.says(d) for d in range(len(model.decisions))],
        "equal": list(choice.equal),
        "cost": choice.cost,
        "today": choice.today,
        "options": choice.options(best) if best.found else {},
        "limits": [{"name": price.name, "saved": price.saved, **full(price.freed)} for price in choice.limits],
        "holds": [{"part": hold.part, "saved": hold.saved, "decision": hold.freed} for hold in choice.holds],
        "alternatives": [dict(vars(other)) for other in choice.alternatives],
        "second": None if choice.second is None else {
            "value": choice.second.value,
            "behind": choice.second.value - best.value,
            "differs": list(choice.differences(choice.second)),
        },
        "steps": [
            {"changes": step.changes, "changed": [names[p] for p in step.changed], "saved": step.saved, **full(step.found)}
            for step in choice.steps
        ],
        "gain": gain_sentence(choice, names),
        "axes": list(choice.axes),
        "complete": choice.complete,
        "risk": model.risk_says,
        "points": [{"values": list(point.values), **full(point.found)} for point in choice.points],
        "firm": _firm(choice),
        "conflict": list(choice.conflict),
        "relaxed": [
            {"name": one.name, "needed": one.needed, "limit": one.limit, "unit": one.unit, "parts": [names[p] for p in one.parts]}
            for one in choice.relaxed
        ],
        "stuck": [part.name for part in model.stuck],
    }  # fmt: skip


def _firm(choice: BoardChoice) -> dict[str, Any] | None:
    firm, model = choice.firm, choice.model
    if firm is None:
        return None
    found = firm.inputs

    def shares(table: Any) -> dict[str, dict[str, float]]:
        return {
            part.part.refs[0]: {name: float(table[p, k]) for k, name in enumerate(names) if table[p, k] > 0}
            for p, (part, names) in enumerate(zip(model.parts, model.names, strict=True))
        }

    return {
        "draws": found.draws, "searched": found.searched, "confidence": found.confidence,
        "wins": shares(found.wins), "weight_wins": {} if firm.weights is None else shares(firm.weights),
        "flips": [
            {"what": flip.name, "now": flip.now, "at": flip.at, "options": choice.options(flip.to),
             "decision": model.says(flip.to.decision), "differs": list(choice.differences(flip.to))}
            for flip in found.flips
        ],
    }  # fmt: skip


def choice_lines(told: ChoiceJson) -> list[str]:
    """The choice in a few sentences, for the terminal and for `landwise explain`."""
    lines = [f"{told.objective}: {told.proof}", f"shared by all parts: {told.decision}"]
    if told.equal:
        lines.append("would do as well: " + "; ".join(told.equal))
    for hold in told.holds:
        lines.append(
            f"{hold.part} alone holds the board at {told.decision}: {hold.saved:.3g} {told.unit} (else {hold.decision})"
        )
    for limit in told.limits:
        lines.append(f"limit {limit.name!r} costs {limit.saved:.3g} {told.unit}")
    if told.second:
        differs = ", ".join(told.second.differs)
        lines.append(f"runner-up: {differs}; {told.second.behind:.3g} {told.unit} behind")
    if told.gain:
        lines.append(told.gain)
    if told.firm:
        lines.append(
            f"wins {told.firm.confidence:.0%} of {told.firm.draws} draws of rates, prices, volume and transfer"
        )
        for flip in told.firm.flips[:3]:
            lines.append(f"{flip.what} from {flip.now:.3g} to {flip.at:.3g} puts {', '.join(flip.differs)} first")
    for conflict in [", ".join(told.conflict)] if told.conflict else []:
        lines.append(f"these limits conflict, and any smaller set does not: {conflict}")
    for one in told.relaxed:
        if one.unit == "options":
            who = ", ".join(one.parts)
            lines.append(f"  possible if {who or 'one part'} may break {one.name!r}")
        else:
            lines.append(f"  possible if {one.name!r} allows {one.needed:.4g} {one.unit} (now {one.limit})")
    if told.stuck:
        lines.append(f"no option fits {', '.join(told.stuck)}: left out of the choice")
    return lines
