"""The whole-board choice as plain data for `result.json`, each point of the trade-off a full choice."""

from __future__ import annotations

from dataclasses import asdict

import numpy as np
from numpy.typing import NDArray

from landwise.board.chosen import BoardChoice
from landwise.board.firm import flip_key
from landwise.board.model import BoardModel
from landwise.board.panelled import panelled
from landwise.board.placing import UM, Placing
from landwise.choosing.optimum.model import Solution
from landwise.choosing.packing.model import SIDE_NAMES, Rect
from landwise.results.choicejson import PanelJson, RelaxedJson
from landwise.results.choicewords import conflict_sentence, gain_sentence, relaxed_sentence, steps_from
from landwise.results.inputwords import flip_says, flip_unit
from landwise.results.limitwords import limit_says
from landwise.results.panelwords import panel_says
from landwise.untyped import Fields


def choice_data(choice: BoardChoice) -> Fields:
    """The choice as data that `ChoiceJson` accepts."""
    model, best, searched = choice.model, choice.best, choice.searched or choice.best
    names = [part.named for part in model.parts]
    name_of = {part.part.refs[0]: part.named for part in model.parts}

    def full(found: Solution) -> Fields:
        return {"decision": model.says(found.decision), "options": choice.options(found)}

    return {
        "status": best.status,
        "objective": choice.objective,
        "unit": choice.unit,
        "value": searched.value if searched.found else None,
        "bound": searched.bound if searched.found else None,
        "gap": searched.gap if searched.found else None,
        "taken": choice.value,
        "kept": [{"ref": one.ref, "package": one.present, "cheapest": one.cheapest} for one in choice.kept],
        "proof": choice.proof,
        "decision": choice.decision,
        "decisions": [model.says(d) for d in range(len(model.decisions))],
        "equal": [model.says(d) for d in choice.equal],
        "cost": choice.cost,
        "today": choice.today,
        "options": choice.options(best) if best.found else {},
        "limits": [{**_limit(model, price.name), "saved": price.saved, **full(price.freed)} for price in choice.limits],
        "holds": [
            {"part": name_of[hold.ref], "ref": hold.ref, "saved": hold.saved, "decision": model.says(hold.freed)}
            for hold in choice.holds
        ],
        "others": [
            {
                "decision": model.says(one.decision),
                "more": one.more if one.more < float("inf") else None,
                "kept_out": [names[p] for p in one.kept_out],
                "limits": [_limit(model, name)["name"] for name in one.limits],
                "limit_keys": [_limit(model, name)["key"] for name in one.limits],
            }
            for one in choice.others
        ],
        "alternatives": [
            {
                "part": name_of[other.ref],
                "ref": other.ref,
                "option": other.option,
                "more": other.more,
                "decision": model.says(other.decision),
            }
            for other in choice.alternatives
        ],
        "second": None
        if choice.second is None
        else {
            "value": choice.second.value - best.value + (best.value if choice.value is None else choice.value),
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
        "steps_from": steps_from(choice),
        "gain": gain_sentence(choice, names),
        "axes": list(choice.axes),
        "complete": choice.complete,
        "risk": model.risk_says,
        "points": [{"values": list(point.values), **full(point.found)} for point in choice.points],
        "firm": _firm(choice),
        "placing": _placing(choice.placing),
        "panel": panel_data(choice),
        "conflict": [_limit(model, name)["name"] for name in choice.conflict],
        "conflict_keys": [_limit(model, name)["key"] for name in choice.conflict],
        "relaxed": _relaxed(choice),
        "stuck": [part.named for part in model.stuck],
        "left_out": list(choice.left_out),
    }


def _relaxed(choice: BoardChoice) -> list[Fields]:
    """The least change of each limit of a conflict, as data that `RelaxedJson` accepts."""
    return [
        {
            **_limit(choice.model, one.name),
            "needed": one.needed,
            "least": one.least,
            "helps": one.helps,
            "limit": one.limit,
            "unit": one.unit,
            "parts": [choice.model.parts[p].named for p in one.parts],
        }
        for one in choice.relaxed
    ]


def conflict_says(choice: BoardChoice | None) -> tuple[str, ...]:
    """Which limits conflict and the least change of each, as clauses for page one; nothing where a board keeps them."""
    if choice is None or not choice.conflict:
        return ()
    names = tuple(str(_limit(choice.model, name)["name"]) for name in choice.conflict)
    changes = [RelaxedJson.model_validate(one) for one in _relaxed(choice)]
    return (conflict_sentence(names), *map(relaxed_sentence, changes))


def panel_data(choice: BoardChoice) -> dict[str, object] | None:
    """The chosen board on its panel, as data that `PanelJson` accepts; None where none is stated."""
    found = panelled(choice)
    if found is None:
        return None
    return {
        "fixed": found.fixed,
        "images": found.chosen.images,
        "today_images": found.today.images,
        "length_mm": found.chosen.length_mm,
        "width_mm": found.chosen.width_mm,
        "today_length_mm": found.today.length_mm,
        "today_width_mm": found.today.width_mm,
        "saved_mm2": found.saved_mm2,
        "money": found.money,
        "today_money": found.today_money,
        "unit": choice.model.bench.content.costs.unit,
        "following": None if found.following is None else asdict(found.following),
    }


def panel_line(choice: BoardChoice | None) -> str:
    """What the panel makes of saved area, in words; empty where none is stated."""
    data = None if choice is None else panel_data(choice)
    return "" if data is None else panel_says(PanelJson.model_validate(data))


def _limit(model: BoardModel, name: str) -> dict[str, str]:
    """A limit's key, what it concerns, and its words."""
    limit = model.limits[name]
    return {"name": limit_says(limit), "key": str(limit.key), "of": limit.of}


def _placing(placing: Placing | None) -> dict[str, object] | None:
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


def _firm(choice: BoardChoice) -> dict[str, object] | None:
    firm, model = choice.firm, choice.model
    if firm is None:
        return None
    found, weighed = firm.inputs, firm.weights

    def shares(table: NDArray[np.float64]) -> dict[str, dict[str, float]]:
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
                "key": flip_key(flip),
                "of": flip.name if flip.part < 0 else model.names[flip.part][flip.option],
                "ref": "" if flip.part < 0 else model.parts[flip.part].part.refs[0],
                "now": flip.now,
                "at": flip.at,
                "unit": flip_unit(flip, choice.unit),
                "options": choice.options(flip.to),
                "decision": model.says(flip.to.decision),
                "differs": list(choice.differences(flip.to)),
            }
            for flip in firm.flips
        ],
    }
