"""The whole-board choice as plain data for `result.json`, each point of the trade-off a full choice."""

from __future__ import annotations

from typing import Any

from pydantic import BaseModel, ConfigDict, Field

from landwise.board.choice import BoardChoice, gain_sentence
from landwise.board.firm import flip_says
from landwise.board.placing import NOT_A_LAYOUT, UM, Placing
from landwise.choosing.optimum.model import Solution
from landwise.choosing.packing.model import SIDE_NAMES, Rect


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
    now: float = Field(description="today's value; of a paste transfer, the middle of its band")
    at: float
    options: dict[str, str]
    decision: str
    differs: list[str]


class RangeJson(_Strict):
    """An uncertain input and the range it was drawn from."""

    name: str
    value: float
    low: float
    high: float


class FirmJson(_Strict):
    """How firm the choice is: the board chosen anew for many draws of its uncertain inputs."""

    draws: int
    searched: int = Field(description="draws that wanted a search of their own")
    impossible: int = Field(description="draws in which no board keeps the limits")
    confidence: float = Field(description="share of draws in which exactly this board wins")
    inputs: list[RangeJson] = Field(description="what was drawn, beside each part's price and the line's transfer")
    wins: dict[str, dict[str, float]] = Field(description="share of draws in which each option is in the best board")
    axes: list[str] = Field(description="what was weighed for the next three")
    weight_confidence: float | None = Field(
        description="share of draws of the inputs and of all weightings of the axes in which exactly this board wins"
    )
    weight_wins: dict[str, dict[str, float]] = Field(
        description="share of draws of the inputs and of all weightings in which each option wins"
    )
    central: list[float] | None = Field(description="average weights of the axes among the draws this board wins")
    flips: list[BoardFlipJson] = Field(description="nearest first")


class OtherJson(_Strict):
    """Another shared decision at its best."""

    decision: str
    more: float | None = Field(description="what the best board under it costs more; null if there is none")
    kept_out: list[str] = Field(description="parts that no option fits there")
    limits: list[str] = Field(description="what stops the nearest options of those parts")


class PlaceJson(_Strict):
    """Where one courtyard or test land lies; x and y of its lower left corner, lengths as placed."""

    name: str
    outline: str = Field(description="of a part; of a test land its probe's grid")
    kind: str = Field(description="part or test land")
    side: str = Field(description="top, bottom, or both for a drilled part")
    x_mm: float
    y_mm: float
    length_mm: float
    width_mm: float
    turned: bool = Field(description="a quarter turn from the outline as drawn")
    foil_um: float | None = Field(description="over the part; null where nothing is printed")


class StretchJson(_Strict):
    """A stretch of one side kept free for all else; keep-outs within it don't count."""

    side: str
    x_mm: float
    y_mm: float
    length_mm: float
    width_mm: float


class WayOutJson(_Strict):
    """The cheapest board of the trade-off for which a placement was found."""

    board: int = Field(description="its number in `points`, from 1")
    more: float = Field(description="money per board above the choice")
    differs: list[str]


class PlacingJson(_Strict):
    """Whether the courtyards lie on the board: a packing check, not a layout."""

    verdict: str = Field(description="fits (with a checked placement), does not fit (proven), or not shown")
    why: str
    says: str
    share: float = Field(description="area of courtyards, test lands and reserved area over the free area")
    places: list[PlaceJson] = Field(description="of everything where it fits, else the best attempt")
    left_out: list[str] = Field(description="what the best attempt has no place for")
    reserved: list[StretchJson]
    today: str | None = Field(description="the verdict for today's packages")
    way_out: WayOutJson | None = Field(
        description="where the choice has no placement: a board of the trade-off that has"
    )
    unplaced: list[str] = Field(description="parts whose package is not known")


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
    others: list[OtherJson] = Field(default_factory=list, description="other shared decisions, nearest first")
    alternatives: list[AlternativeJson]
    second: SecondJson | None
    steps: list[ChangeJson] = Field(description="migration list")
    gain: str
    axes: list[str]
    complete: bool = Field(description="whether the trade-off holds every point there is")
    risk: str = Field(description="what the risk axis is")
    points: list[PointJson]
    firm: FirmJson | None = None
    placing: PlacingJson | None = Field(default=None, description="null where the study gives no board size")
    conflict: list[str]
    relaxed: list[RelaxedJson]
    stuck: list[str] = Field(description="parts that no option fits, left out of the choice")
    left_out: list[str] = Field(default_factory=list, description="explanations that a stop left out or cut short")


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
        "others": [
            {
                "decision": model.says(one.decision),
                "more": one.more if one.more < float("inf") else None,
                "kept_out": [names[p] for p in one.kept_out],
                "limits": list(one.limits),
            }
            for one in choice.others
        ],
        "alternatives": [dict(vars(other)) for other in choice.alternatives],
        "second": None
        if choice.second is None
        else {
            "value": choice.second.value,
            "behind": choice.second.value - best.value,
            "differs": list(choice.differences(choice.second)),
        },
        "steps": [
            {
                "changes": step.changes,
                "changed": [names[p] for p in step.changed],
                "saved": step.saved,
                **full(step.found),
            }
            for step in choice.steps
        ],
        "gain": gain_sentence(choice, names),
        "axes": list(choice.axes),
        "complete": choice.complete,
        "risk": model.risk_says,
        "points": [{"values": list(point.values), **full(point.found)} for point in choice.points],
        "firm": _firm(choice),
        "placing": _placing(choice.placing),
        "conflict": list(choice.conflict),
        "relaxed": [
            {
                "name": one.name,
                "needed": one.needed,
                "limit": one.limit,
                "unit": one.unit,
                "parts": [names[p] for p in one.parts],
            }
            for one in choice.relaxed
        ],
        "stuck": [part.name for part in model.stuck],
        "left_out": list(choice.left_out),
    }


def _placing(placing: Placing | None) -> dict[str, Any] | None:
    if placing is None:
        return None
    answer, out = placing.answer, placing.way_out
    return {
        "verdict": answer.verdict,
        "why": answer.why,
        "says": placing.says,
        "share": answer.share,
        "places": [
            {
                "name": place.item.name,
                "outline": place.item.says,
                "kind": place.item.kind,
                "side": "both" if place.item.through else SIDE_NAMES[place.side],
                "turned": place.turned,
                "foil_um": placing.foils_um[place.item.foil] if place.item.foil >= 0 else None,
                **_box(place.rect),
            }
            for place in answer.placement
        ],
        "left_out": [item.name for item in answer.left_out],
        "reserved": [{"side": SIDE_NAMES[strip.side], **_box(strip.rect)} for strip in answer.strips],
        "today": None if placing.today is None else placing.today.verdict,
        "way_out": None if out is None else {"board": out.number, "more": out.more, "differs": list(out.differs)},
        "unplaced": list(placing.unplaced),
    }


def _box(rect: Rect) -> dict[str, float]:
    x, y = rect.x1 / UM, rect.y1 / UM
    return {"x_mm": x, "y_mm": y, "length_mm": (rect.x2 - rect.x1) / UM, "width_mm": (rect.y2 - rect.y1) / UM}


def _firm(choice: BoardChoice) -> dict[str, Any] | None:
    firm, model = choice.firm, choice.model
    if firm is None:
        return None
    found, weighed = firm.inputs, firm.weights

    def shares(table: Any) -> dict[str, dict[str, float]]:
        return {
            part.part.refs[0]: {name: float(table[p, k]) for k, name in enumerate(names) if table[p, k] > 0}
            for p, (part, names) in enumerate(zip(model.parts, model.names, strict=True))
        }

    return {
        "draws": found.draws,
        "searched": found.searched,
        "impossible": found.impossible,
        "confidence": found.confidence,
        "inputs": [dict(vars(one)) for one in firm.ranges],
        "wins": shares(found.wins),
        "axes": list(firm.axes) if weighed else [],
        "weight_confidence": weighed.confidence if weighed else None,
        "weight_wins": shares(weighed.wins) if weighed else {},
        "central": None if weighed is None or weighed.central is None else [float(w) for w in weighed.central],
        "flips": [
            {
                "what": flip_says(model, flip),
                "now": flip.now,
                "at": flip.at,
                "options": choice.options(flip.to),
                "decision": model.says(flip.to.decision),
                "differs": list(choice.differences(flip.to)),
            }
            for flip in firm.flips
        ],
    }


def choice_lines(told: ChoiceJson) -> list[str]:
    """The choice in a few sentences, for the terminal and for `landwise explain`."""
    lines = [f"{told.objective}: {told.proof}"]
    if told.options:
        lines.append(f"shared by all parts: {told.decision}")
    if told.equal:
        lines.append("would do as well: " + "; ".join(told.equal))
    for hold in told.holds:
        lines.append(
            f"{hold.part} alone holds the board at {told.decision}: {hold.saved:.3g} {told.unit} (else {hold.decision})"
        )
    for limit in told.limits:
        lines.append(f"limit {limit.name!r} costs {limit.saved:.3g} {told.unit}")
    for other in told.others[:2]:
        lines.append(other_line(other, told.unit))
    if told.second:
        differs = ", ".join(told.second.differs)
        lines.append(f"runner-up: {differs}; {told.second.behind:.3g} {told.unit} behind")
    if told.gain:
        lines.append(told.gain)
    if told.firm:
        lines += firm_lines(told.firm)
    if told.left_out:
        lines.append(f"stopped before all was explained; missing: {', '.join(told.left_out)}")
    if told.stuck:
        lines.append(f"no option fits {', '.join(told.stuck)}: left out of the choice")
    lines += [f"on the board ({NOT_A_LAYOUT}): {told.placing.says}"] if told.placing else []
    return lines + _conflict_lines(told)


def _conflict_lines(told: ChoiceJson) -> list[str]:
    if not told.conflict:
        return []
    lines = [f"these limits conflict, and any smaller set does not: {', '.join(told.conflict)}"]
    for one in told.relaxed:
        if one.unit == "options":
            who = ", ".join(one.parts)
            lines.append(f"  possible if {who or 'one part'} may break {one.name!r}")
        elif one.limit is None:
            lines.append(f"  possible if {', '.join(one.parts)} need not come in the same outline")
        else:
            lines.append(f"  possible if {one.name!r} allows {one.needed:.4g} {one.unit} (now {one.limit:g})")
    return lines


def firm_lines(firm: FirmJson, flips: int = 3) -> list[str]:
    """How firm the choice is, in a few sentences."""
    lines = [f"wins {firm.confidence:.0%} of {firm.draws} draws of rates, prices, volume and paste transfer"]
    if firm.impossible:
        lines.append(f"in {firm.impossible} of the draws no board keeps the limits")
    if firm.weight_confidence is not None:
        line = f"wins {firm.weight_confidence:.0%} when all weightings of {', '.join(firm.axes)} are drawn as well"
        if firm.central is not None:
            shares = ", ".join(f"{axis} {weight:.2f}" for axis, weight in zip(firm.axes, firm.central, strict=True))
            line += f"; on average at weights {shares}"
        lines.append(line)
    return lines + [flip_line(flip) for flip in firm.flips[:flips]]


def flip_line(flip: BoardFlipJson) -> str:
    """Where one input flips the choice."""
    after = ", ".join(flip.differs)
    if flip.what.startswith("paste transfer"):
        return f"{flip.what} is {flip.now:.0%} in the middle of its band; where it stays below {flip.at:.0%}: {after}"
    return f"{flip.what} from {flip.now:.3g} to {flip.at:.3g} puts {after} first"


def other_line(other: OtherJson, unit: str) -> str:
    """What another shared decision would cost, or who keeps it out."""
    if other.more is not None:
        return f"{other.decision} instead: {max(0.0, other.more):.3g} {unit} more"
    if other.kept_out:
        return f"{other.decision} is kept out by {', '.join(other.kept_out)}, for want of: {', '.join(other.limits)}"
    return f"{other.decision} is kept out by the limits together"
