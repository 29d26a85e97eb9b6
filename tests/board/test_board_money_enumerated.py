"""The whole objective against an enumeration written apart from the model: every board of many small studies.

What is read from the judged options is raw: joints by sight, expected defects, area, terminals, and which foil prints
them. Everything that becomes money or a limit from there on is worked again below, with plain loops over dictionaries,
from the study and the rates; nothing of `board.money`, `costs.loads` or `choosing` is used for it.
"""

from __future__ import annotations

import itertools
import math
import random
import tomllib
from dataclasses import replace
from importlib import resources

import numpy as np
import pytest

from landwise.board.alike import proposed_ahead
from landwise.board.build import model_of
from landwise.board.judged import judged_everywhere, setups_of
from landwise.board.objective import best_of, objective_of
from landwise.board.rivals import rivals_of
from landwise.judging.bench import Bench
from landwise.judging.study import run_study
from landwise.memory import Memory
from landwise.study.file import study_from
from whole import WHOLE

BOARDS, BLOCKS = (200, 10) if WHOLE else (80, 4)
MEMORY = Memory()  # the boards share outlines and lines: what is judged once serves the next
CONTROL = tomllib.loads(resources.files("landwise.access").joinpath("control.toml").read_text(encoding="utf-8"))
ORDER = {"before reflow": 0, "after reflow": 1, "at test": 2}
KINDS = ("bridge", "open", "other")
QUADS = ("SO-14", "TSSOP-14", "DIP-14", "QFN-14-2.5x3")
GATES = ("SC-70-5", "SOT-23-5", "SON-6-1.45x1.0")


def offered(rng: random.Random, names: list[str]) -> list[dict]:
    """Options with one price, or with breaks."""
    options = []
    for name in names:
        price = round(rng.uniform(0.02, 0.4), 3)
        row: dict = {"outline": name}
        if rng.random() < 0.5:
            row["price"] = price
        else:
            row["prices"] = {"1": price * 2, "1000": price, str(rng.choice((2000, 5000))): price * 0.7}
        options.append(row)
    return options


def parts_of(rng: random.Random) -> list[dict]:
    """Two or three parts at one to five places; two of the same may have to come alike."""
    parts = []
    for number in range(rng.choice((2, 2, 2, 3))):
        names, code, terminals = ((GATES, "1G08", 5), (QUADS, "08", 14))[rng.random() < 0.5]
        some = rng.sample(names, rng.choice((2, 2, 2, 3)) if number < 2 else 2)
        part = {
            "refs": [f"U{number}{place}" for place in range(rng.choice((1, 1, 2, 5)))],
            "number": code,
            "family": "LVC",
            "terminals": terminals,
            "options": offered(rng, some),
        }
        if rng.random() < 0.7:
            part["package"] = rng.choice(some)
        parts.append(part)
    if parts[0]["number"] == parts[1]["number"] and rng.random() < 0.3:
        parts[0]["group"] = parts[1]["group"] = "same"
        parts[1]["options"] = [dict(row) for row in parts[0]["options"]]
        parts[1].pop("package", None)
    return parts


def invented(rng: random.Random) -> dict:
    """A small study: some parts, a line that may step, look and test, a board that exists or not."""
    board: dict = {"state": rng.choice(("new", "existing")), "sides": rng.choice((1, 1, 2))}
    board["layers"] = rng.choice((2, 4))
    board["xray_anyway"], board["drilled_anyway"] = rng.random() < 0.2, rng.random() < 0.3
    board["printed_anyway"] = rng.random() < 0.7
    if rng.random() < 0.5:
        board |= {"length": "60 mm", "width": "40 mm", "may_shrink": rng.random() < 0.5}
    if rng.random() < 0.12:
        board["classes"] = [{"name": "fine", "layers": 4, "track": "0.1 mm", "space": "0.1 mm", "rate": 1.4}]
    line: dict = {"foils": ["100 um", "120 um"], "foil": "120 um", "print": "as lands", "technology": "laser-cut"}
    line["steps_allowed"] = rng.random() < 0.2
    line["inspection"] = ["optical", *(s for s in ("side view", "x-ray", "paste") if rng.random() < 0.3)]
    line["test"] = rng.choice(("none", "functional", "in-circuit"))
    costs: dict = {"run": rng.choice((40, 500, 1000, 20000))}
    for rate in ("placement", "outline", "feeder", "change", "board_area", "escape", "rework", "second_process"):
        if rng.random() < 0.4:
            costs.setdefault("rates", {})[rate] = round(10 ** rng.uniform(-2, 1.5), 4)
    want: dict = {"hidden_joints": rng.choice(("any", "any", "as the line sees"))}
    if rng.random() < 0.3:
        want["most_outlines"] = rng.choice((1, 2))
    if rng.random() < 0.3:
        want["board_limits"] = {"area": rng.choice((20.0, 60.0, 120.0, 200.0))}
    if rng.random() < 0.2:
        want["limits"] = {"height": rng.choice((1.0, 1.3))}
    found = {"part": parts_of(rng), "board": board, "line": line, "costs": costs, "want": want}
    if "length" in board and rng.random() < 0.6:
        board["panel"] = panel_of(rng, board.get("classes", []))
        board["shrinks"] = rng.choice(("length", "width", "either"))
    return found


def panel_of(rng: random.Random, classes: list[dict]) -> dict:
    """A panel of a few boards of 60 × 40 mm, some of which hardly fit, with a price of its own or by its area."""
    panel: dict = {"length": rng.uniform(90, 260), "width": rng.uniform(70, 200), "border": rng.choice((0.0, 3.0, 5.0))}
    panel["gap"], panel["strip"] = rng.choice((0.0, 2.0)), rng.choice((0.0, 4.0))
    panel["mixed"] = rng.random() < 0.4
    if rng.random() < 0.5:
        panel["price"] = round(rng.uniform(2, 30), 2)
        for kind in classes:
            kind["panel_price"] = round(rng.uniform(2, 40), 2)
    return {
        key: f"{value} mm" if key in ("length", "width", "border", "gap", "strip") else value
        for key, value in panel.items()
    }


def ends_of(plan, sight: str, kind: str) -> dict[str, float]:
    """Where defects of a kind end: each step finds its share of what those before it left."""
    left, found = 1.0, {"before reflow": 0.0, "after reflow": 0.0, "at test": 0.0}
    for key in sorted(plan.steps, key=lambda key: ORDER[CONTROL[key]["when"]]):
        share = CONTROL[key].get("finds", {}).get(sight, {}).get(kind, (0.0, 0.0, 0.0))[1]
        if key == "x-ray":
            share *= plan.xray_share
        found[CONTROL[key]["when"]] += left * share
        left -= left * share
    return found | {"escaped": left}


def defects_of(option) -> dict[tuple[str, str], float]:
    """Expected defects by where they can be seen from, and kind."""
    rates, sights = option.geometry.rates, option.geometry.sights
    if rates is None:  # drilled: the median of published wave batches
        return {("from above", "open"): 46e-6 * option.geometry.outline.terminals}
    kinds = {"bridge": rates.bridges.value, "open": rates.opens.value}
    kinds["other"] = max(0.0, rates.defects.value - sum(kinds.values()))
    side, under = sights.from_the_side, sights.not_at_all
    hidden = rates.hidden if side + under else 0.0
    where = {"from above": 1 - hidden}
    if side + under:
        where |= {"from the side": hidden * side / (side + under), "not at all": hidden * under / (side + under)}
    return {(sight, kind): share * value for sight, share in where.items() for kind, value in kinds.items()}


def price_of(row: dict, pieces: int) -> float:
    """The price that holds at so many pieces."""
    if "price" in row:
        return row["price"]
    return row["prices"][max((start for start in row["prices"] if int(start) <= pieces), key=int)]


def own_money(data, place, judgement, decision, part, rates) -> float:
    """What all places of a part cost in one option under one decision, alone."""
    option, run, board = judgement.option, data["costs"]["run"], data["board"]
    table = data["part"][place]
    row = next(row for row in table["options"] if row["outline"] == option.name)
    same = sum(len(other["refs"]) for other in data["part"] if other["number"] == table["number"])
    one = price_of(row, part.pieces) * (1 + rates["attrition"])
    assert part.pieces in (len(table["refs"]) * run, same * run)
    if board.get("may_shrink", "length" not in board) and "panel" not in board:
        area = option.area_mm2
        if judgement.step_um:
            width, height = option.geometry.pattern.courtyard_mm
            margin = 2 * clear_mm(judgement.step_um)
            area += (width + margin) * (height + margin) - width * height
        layers = decision.board.layers
        per_cm2 = rates["board_area"] * (1 + rates["layer_factor"] * max(0, layers - 2)) * decision.board.rate
        one += area / 100 * per_cm2
    outline, sights, plan = option.geometry.outline, option.geometry.sights, decision.plan
    if outline.drilled:
        one += rates["insertion"] + rates["drilled_joint"] * outline.terminals
    else:
        one += rates["placement"]
    if "optical" in plan.steps:
        one += rates["optical"] * sights.from_above
    if "side-view" in plan.steps:
        one += rates["side_view"] * sights.from_the_side
    for (sight, kind), expected in defects_of(option).items():
        ends = ends_of(plan, sight, kind)
        mended = ends["after reflow"] + ends["at test"]
        one += expected * (
            ends["before reflow"] * rates["reprint"]
            + mended * (rates["rework"] if sight == "from above" else rates["rework_hidden"])
            + mended * rates["scrap"] * rates["board_value"]
            + ends["at test"] * rates["late"]
            + ends["escaped"] * rates["escape"]
        )
    whole = len(table["refs"]) * one
    if board["state"] == "existing" and table.get("package", option.name) != option.name:
        whole += rates["change"] / run
    return whole


def clear_mm(step_um: float) -> float:
    """Clear margin around a step: 0.9 mm for each 25 µm (IPC-7525, as the manual gives it)."""
    return 0.9 * step_um / 25.0


def shared_money(data, decision, parts, rates) -> float:
    """What a decision costs beside the parts."""
    run, board, plan = data["costs"]["run"], data["board"], decision.plan
    whole = 0.0
    if "x-ray" in plan.steps:
        paid = 0.01 if board["xray_anyway"] else 0.0
        whole += rates["xray"] * max(0.0, plan.xray_share - paid)
        if not paid:
            whole += rates["xray"] * 5 * (1 - plan.xray_share) / run + rates["xray_setup"] / run
    if "paste" in plan.steps:
        whole += rates["paste_inspection"]
    if "in-circuit" in plan.steps:
        whole += rates["in_circuit"] + rates["in_circuit_setup"] / run
    if decision.stepped:
        whole += rates["foil"] * rates["step_zone"] / run
    if board["sides"] == 2:
        whole += rates["second_side"]
    if "length" in board and "panel" not in board:
        rest = 60.0 * 40.0
        if board["may_shrink"]:
            for part in parts:
                today = part.present.area_mm2 if part.present else min(one.area_mm2 for one in part.options)
                rest -= part.count * today
        per_cm2 = rates["board_area"] * (1 + rates["layer_factor"] * max(0, decision.board.layers - 2))
        whole += max(0.0, rest) / 100 * per_cm2 * decision.board.rate
    return whole


def boards_a_panel(panel, length: float, width: float) -> int:
    """Boards that fit, counted one after the other: all one way, all turned, or rows of both where they may mix."""
    mm = {key: float(panel[key].split()[0]) for key in ("length", "width", "border", "gap", "strip")}
    along, across = mm["length"] - 2 * mm["border"], mm["width"] - 2 * mm["border"]
    if mm["length"] >= mm["width"]:
        across -= 2 * mm["strip"]
    else:
        along -= 2 * mm["strip"]

    def line(room: float, one: float) -> int:
        count = 0
        while (count + 1) * one + count * mm["gap"] <= room + 1e-9:
            count += 1
        return count

    def below(x: float, y: float, a: float, b: float) -> int:
        most = line(x, a) * line(y, b)
        if panel["mixed"]:
            for rows in range(line(y, b) + 1):
                left = y - rows * (b + mm["gap"])
                most = max(most, rows * line(x, a) + line(x, b) * line(left, a))
        return most

    rooms = ((along, across), (across, along))
    return max(below(*room, *one) for room in rooms for one in ((length, width), (width, length)))


def panel_money(data, taken, decision, parts, rates) -> float:
    """What a board pays for its panel with these options on it; infinite where it is too large for any."""
    board, run = data["board"], data["costs"]["run"]
    panel, length, width = board["panel"], 60.0, 40.0
    ways = [(length, width)]
    if board["may_shrink"]:
        area = length * width
        for part, one in zip(parts, taken, strict=True):
            today = part.present.area_mm2 if part.present else min(option.area_mm2 for option in part.options)
            area += part.count * (used_mm2(one) - today)
        ways = [(length, area / length)] * (board["shrinks"] != "length")
        ways += [(area / width, width)] * (board["shrinks"] != "width")
    most = max(boards_a_panel(panel, *way) for way in ways)
    if not most:
        return float("inf")
    price, fine = panel.get("price"), decision.board.name == "fine"
    if price is None:
        cm2 = float(panel["length"].split()[0]) * float(panel["width"].split()[0]) / 100
        price = cm2 * rates["board_area"] * decision.board.rate
        price *= 1 + rates["layer_factor"] * max(0, decision.board.layers - 2)
    elif fine:
        price = board["classes"][0]["panel_price"]
    return price * math.ceil(run / most) / run


def once_money(data, tables, options, rates) -> float:
    """What is paid once: outlines new to the board, a feeder for each number and package, soldering what is drilled."""
    run, board = data["costs"]["run"], data["board"]
    names = {option.name for option in options}
    if board["state"] == "existing":
        names -= {part["package"] for part in data["part"] if "package" in part}
    whole = len(names) * rates["outline"] / run
    reels = {(table["number"], option.name) for table, option in zip(tables, options, strict=True)}
    whole += len(reels) * rates["feeder"] / run
    if any(option.geometry.outline.drilled for option in options) and not board["drilled_anyway"]:
        whole += rates["second_process"] + rates["second_process_setup"] / run
    if any(not option.geometry.outline.drilled for option in options) and not board["printed_anyway"]:
        whole += rates["printing"] + (rates["printing_setup"] + rates["foil"]) / run
    return whole


def allowed(data, judgement) -> bool:
    """Whether an option keeps the limits that bind it alone."""
    option = judgement.option
    if judgement.foil_um is None or any(one.limit != "foil" for one in option.rejections):
        return False
    if any(option.figures[key].verdict == "fails" for key in ("opening", "layers")):
        return False
    thinnest = option.geometry.window.thinnest_works_um
    if thinnest is not None and judgement.foil_um < thinnest and option.geometry.printed.apertures:
        return False
    top = data["want"].get("limits", {}).get("height")
    height = option.figures["height"]
    return top is None or (height.value if height.low is None else height.low) <= top + 1e-12


def used_mm2(judgement) -> float:
    area = judgement.option.area_mm2
    if judgement.step_um:
        width, height = judgement.option.geometry.pattern.courtyard_mm
        margin = 2 * clear_mm(judgement.step_um)
        area += (width + margin) * (height + margin) - width * height
    return area


def every_board(data, setups, judged, rates):
    """(decision, choice, cost, whether it keeps the limits) of every board."""
    parts = setups.parts
    for d, decision in enumerate(setups.decisions):
        shared = shared_money(data, decision, parts, rates)
        own = {
            (p, k): own_money(data, p, judged[d, p, k], decision, part, rates)
            for p, part in enumerate(parts)
            for k in range(len(part.options))
        }
        for choice in itertools.product(*(range(len(part.options)) for part in parts)):
            taken = [judged[d, p, k] for p, k in enumerate(choice)]
            cost = sum(own[p, k] for p, k in enumerate(choice)) + shared
            cost += once_money(data, data["part"], [one.option for one in taken], rates)
            if "panel" in data["board"]:
                cost += panel_money(data, taken, decision, parts, rates)
            holds = cost < float("inf") and all(allowed(data, one) for one in taken)
            names = [one.option.name for one in taken]
            most = data["want"].get("most_outlines")
            holds = holds and (most is None or len(set(names)) <= most)
            grouped = {names[p] for p in range(len(parts)) if data["part"][p].get("group")}
            holds = holds and len(grouped) <= 1
            area = data["want"].get("board_limits", {}).get("area")
            if area is not None:
                packed = setups.bench.content.want.packing
                used = sum(len(data["part"][p]["refs"]) * used_mm2(one) for p, one in enumerate(taken))
                holds = holds and used * (1 + packed) <= area * data["board"]["sides"] * (1 + 1e-9)
            zones = sum(len(data["part"][p]["refs"]) for p, one in enumerate(taken) if one.step_um > 0)
            if any(one.stepped for one in setups.decisions):
                holds = holds and zones <= setups.bench.content.line.most_step_zones
            yield d, choice, cost, holds


def told_by(model, decision, choice) -> tuple[float, bool]:
    """What the model says of a board under a decision at the cheapest size that holds it, and whether any does."""
    alike = [n for n, one in enumerate(model.decisions) if replace(one, size=None) == decision]
    kept = [n for n in alike if model.problem.holds(n, choice)]
    return min(model.problem.value(n, choice) for n in kept or alike), bool(kept)


@pytest.mark.parametrize("block", range(BLOCKS))
def test_every_board_costs_what_an_enumeration_of_its_own_says_and_the_best_is_found(block):
    possible = 0
    for seed in range(block * BOARDS // BLOCKS, (block + 1) * BOARDS // BLOCKS):
        data = invented(random.Random(seed))
        study = study_from(data)
        result = run_study(study, bench=Bench.of(study, MEMORY))
        setups = setups_of(result, MEMORY)
        judged = judged_everywhere(result, setups, tell=lambda *_: None, stop=lambda: False)
        model = model_of(setups, judged)  # as `board_model` does, with one judging for both
        rates = {name: rate.value for name, rate in setups.bench.rates.items()}
        least = float("inf")
        for d, choice, cost, holds in every_board(data, setups, judged, rates):
            if not model.stuck:
                told, kept = told_by(model, setups.decisions[d], choice)
                assert kept == holds, (seed, d, choice)
                if holds or "panel" not in data["board"]:
                    assert told == pytest.approx(cost, rel=1e-9), (seed, d, choice)
            if holds:
                least = min(least, cost)
        found = best_of(objective_of(model))
        if model.stuck or least == float("inf"):
            assert model.stuck or not found.found, seed
            continue
        possible += 1
        assert found.status == "optimal", seed
        assert found.value == pytest.approx(least, rel=1e-9), seed
    assert possible > BOARDS // BLOCKS // 3


def ahead_by_hand(data, setups, rates, best, proposed, cost) -> list[float]:
    """What each decision is ahead by for what it keeps of the proposed one, from the rule as it stands in the docs."""
    worth = data["want"].get("worth_deciding", rates["finding_out"] / data["costs"]["run"])
    parts = []
    for p, part in enumerate(setups.parts):
        option = part.options[best.choice[p]]
        parts.append(min(worth, 0.05 * option.cost.total * len(data["part"][p]["refs"])))
    found = []
    for one in setups.decisions:
        same = all(getattr(one, name) == getattr(proposed, name) for name in ("foil_um", "technology", "powder"))
        adds = one.stepped and not proposed.stepped
        adds = adds or any(step not in proposed.plan.steps for step in one.plan.steps)
        adds = adds or one.plan.xray_share > proposed.plan.xray_share or one.board.name != proposed.board.name
        found.append(same * min(worth, 0.05 * cost) + (not adds) * min(parts))
    return found


def test_each_option_is_compared_under_the_decision_that_an_enumeration_of_its_own_takes():
    departing = kept = needed = 0
    for seed in range(24 if not WHOLE else 60):
        data = invented(random.Random(seed))
        data["line"].pop("foil")  # any foil on hand may print the board
        data["line"]["inspection"] = ["optical", "x-ray"]
        data["want"]["hidden_joints"] = "as the line sees"  # so that some options need what the board does not take
        study = study_from(data)
        result = run_study(study, bench=Bench.of(study, MEMORY))
        setups = setups_of(result, MEMORY)
        judged = judged_everywhere(result, setups, tell=lambda *_: None, stop=lambda: False)
        model = model_of(setups, judged)
        best = best_of(objective_of(model))
        if model.stuck or not best.found:
            continue
        rates = {name: rate.value for name, rate in setups.bench.rates.items()}
        boards = {(d, choice): cost for d, choice, cost, holds in every_board(data, setups, judged, rates) if holds}
        own = setups.decisions.index(replace(model.decisions[best.decision], size=None))
        ahead = ahead_by_hand(data, setups, rates, best, setups.decisions[own], boards[own, best.choice])
        found = rivals_of(model, best, np.zeros((1, 1, 1)), proposed_ahead(model, best))
        for p, names in enumerate(model.names):
            for k in range(len(names)):
                choice = (*best.choice[:p], k, *best.choice[p + 1 :])
                costs = {d: boards[d, choice] for d in range(len(ahead)) if (d, choice) in boards}
                taken = min(costs, key=lambda d: (round(costs[d] - ahead[d], 9), d != own), default=-1)
                if k == best.choice[p]:
                    taken = own
                told = found.decisions[p][k]
                assert (told < 0) == (taken < 0), (seed, p, k)
                if told >= 0:
                    assert replace(model.decisions[told], size=None) == setups.decisions[taken], (seed, p, k)
                    assert found.mean[p, k] == pytest.approx(costs[taken], rel=1e-9), (seed, p, k)
                    departing += taken != own
                    needed += own not in costs
                    kept += taken == own and costs[own] > min(costs.values()) * (1 + 1e-9)
    assert needed > 0  # the boards hold what the rule is about: what must depart, what may not
    assert departing > needed
    assert kept > 0
