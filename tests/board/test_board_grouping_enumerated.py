"""Money and grouping together against an enumeration written apart from the model: all groupings of many small studies.

Each way to package the gates is planned here in plain loops and becomes a plain study of its own. Every board of it is
then priced by the loops of `test_board_money_enumerated`, with what its grouping pays beside: capacitors, tie-offs,
nets or tracks that move, changes, reels. Nothing of `board.ways`, `board.regroup` or `choosing` is used for it.
"""

from __future__ import annotations

import itertools
import math
import random

import pytest
from tests.board import test_board_money_enumerated as money

from landwise.board.choice import choose_board
from landwise.board.judged import judged_everywhere, setups_of
from landwise.judging.bench import Bench
from landwise.judging.study import run_study
from landwise.memory import Memory
from landwise.study.file import study_from
from whole import WHOLE

BOARDS, BLOCKS = (200, 10) if WHOLE else (12, 1)
MEMORY = Memory()  # the boards share outlines and lines: what is judged once serves the next
UNITS = {"1G08": 1, "2G08": 2, "08": 4}
TERMINALS = {"1G08": 5, "2G08": 8, "08": 14}
OUTLINES = {"1G08": money.GATES, "2G08": ("VSSOP-8", "TSSOP-8"), "08": ("SO-14", "TSSOP-14", "QFN-14-2.5x3")}
SIGNALS, INPUTS = 3, 2  # of a 2-input gate
CAPACITOR_MM2 = 2.0  # courtyard; as `board.ways` states it


def invented(rng: random.Random) -> dict:
    """Two to four gates that may share packages beside one other part, on a board and a line of the money's kind."""
    data = money.invented(rng)
    data["board"].pop("panel", None)
    data["board"].pop("shrinks", None)
    data["want"]["supply"] = "any"
    for rate in ("decoupling", "tie_off", "net_moved"):
        if rng.random() < (0.3 if rate == "net_moved" else 0.7):
            data["costs"].setdefault("rates", {})[rate] = round(10 ** rng.uniform(-3.5, -1), 5)
    kinds = {number: money.offered(rng, rng.sample(OUTLINES[number], 2)) for number in UNITS}
    if rng.random() < 0.2:
        kinds.pop("2G08")
    gates = rng.choice((2, 3, 3, 4))
    data["part"] = [*today_of(rng, gates, kinds), other(rng)]
    refs = [part["refs"][0] for part in data["part"][:-1]]
    told = [{"number": number, "units": UNITS[number], "options": options} for number, options in kinds.items()]
    data["regroup"] = [{"refs": refs, "kinds": told}]
    return data


def table(number: str, refs: list[str], options: list[dict]) -> dict:
    rows = [dict(row) for row in options]
    return {"refs": refs, "number": number, "family": "LVC", "terminals": TERMINALS[number], "options": rows}


def today_of(rng: random.Random, gates: int, kinds: dict[str, list[dict]]) -> list[dict]:
    """The gates as the study has them: a table each, one table of several places, or one package with room to spare."""
    refs = [f"U{n}" for n in range(1, gates + 1)]
    form = rng.choice(("each", "each", "one", "quad"))
    if form == "quad":
        parts = [table("08", ["U1"], kinds["08"]) | {"gates": gates}]
    elif form == "one":
        parts = [table("1G08", refs, kinds["1G08"])]
    else:
        parts = [table("1G08", [ref], kinds["1G08"]) for ref in refs]
        if gates > 2 and "2G08" in kinds and rng.random() < 0.25:  # else nothing is left to choose
            parts[0]["apart"] = ["U2"]
    package = rng.choice(parts[0]["options"])["outline"] if rng.random() < 0.7 else None
    placed = rng.random() < 0.5
    for part in parts:
        if package is not None:
            part["package"] = package
        if placed:
            part["at"] = {ref: [f"{rng.uniform(2, 58):.3f} mm", f"{rng.uniform(2, 38):.3f} mm"] for ref in part["refs"]}
    return parts


def other(rng: random.Random) -> dict:
    names = rng.sample(("SO-14", "TSSOP-14", "QFN-14-2.5x3"), 2)
    part = {"refs": ["U9"], "number": "32", "family": "LVC", "terminals": 14, "options": money.offered(rng, names)}
    if rng.random() < 0.5:
        part["package"] = rng.choice(names)
    return part


def gates_of(data) -> list[tuple[str, tuple[float, float] | None]]:
    """Reference and place of every gate in use."""
    found = []
    for part in data["part"][:-1]:
        for ref in part["refs"]:
            place = part.get("at", {}).get(ref)
            at = None if place is None else tuple(float(word.split()[0]) for word in place)
            found += [(ref, at)] * part.get("gates", UNITS[part["number"]])
    return found


def counts_of(data) -> list[dict[str, int]]:
    """Packages of each number: all gates find room, and none of the packages could be left away."""
    kinds = [kind["number"] for kind in data["regroup"][0]["kinds"]]
    needed, found = len(gates_of(data)), []
    for counts in itertools.product(*(range(needed + 1) for _ in kinds)):
        taken = {number: count for number, count in zip(kinds, counts, strict=True) if count}
        room = sum(UNITS[number] * count for number, count in taken.items())
        if taken and room >= needed and all(room - UNITS[number] < needed for number in taken):
            found.append(taken)
    return found


def moved(data, counts: dict[str, int]) -> tuple[float, int] | None:
    """How much longer tracks get and how many gates move, at the least; None where gates that stay apart must share."""
    gates = gates_of(data)
    apart = {frozenset((part["refs"][0], ref)) for part in data["part"] for ref in part.get("apart", ())}
    sizes = [UNITS[number] for number, count in counts.items() for _ in range(count)]
    best = None
    for slots in itertools.product(range(len(sizes)), repeat=len(gates)):
        blocks = [[gate for gate, slot in zip(gates, slots, strict=True) if slot == n] for n in range(len(sizes))]
        if any(not block or len(block) > size for block, size in zip(blocks, sizes, strict=True)):
            continue
        if any(pair <= {ref for ref, _ in block} for pair in apart for block in blocks):
            continue
        length = gone = 0.0
        for block in blocks:
            at_each = [
                (
                    sum(0.0 if a is None or b is None else math.dist(a, b) for _, b in block),
                    sum(r != ref for r, _ in block),
                )
                for ref, a in block
            ]
            least = min(at_each)
            length, gone = length + least[0], gone + least[1]
        if best is None or length + 1e-3 * gone < best[0] + 1e-3 * best[1]:
            best = (length, int(gone))
    return best


def tables_of(data, counts: dict[str, int]) -> list[dict]:
    """The parts of a plain study with these packages."""
    kinds = {kind["number"]: kind["options"] for kind in data["regroup"][0]["kinds"]}
    parts = []
    for number, count in counts.items():
        part = table(number, [f"{number}-{n}" for n in range(count)], kinds[number])
        same = next((one for one in data["part"][:-1] if one["number"] == number), None)
        if same is not None and "package" in same:
            part["package"] = same["package"]
        parts.append(part)
    return parts


def as_today(data) -> list[dict]:
    return [
        {key: value for key, value in part.items() if key not in ("gates", "at", "apart")} for part in data["part"][:-1]
    ]


def beside(data, decision, counts, shift: tuple[float, int] | None, rates) -> float:
    """What a grouping pays whatever the outlines; no shift is today's."""
    board, run = data["board"], data["costs"]["run"]
    packages = sum(counts.values())
    spare = sum(UNITS[number] * count for number, count in counts.items()) - len(gates_of(data))
    paid = packages * (rates["decoupling"] + rates["placement"]) + spare * INPUTS * rates["tie_off"]
    per_mm2 = 0.0
    if board.get("may_shrink", "length" not in board):
        per_mm2 = rates["board_area"] * (1 + rates["layer_factor"] * max(0, decision.board.layers - 2)) / 100
        per_mm2 *= decision.board.rate
    paid += packages * CAPACITOR_MM2 * per_mm2
    if shift is None:
        return paid
    placed = all(at is not None for _, at in gates_of(data))
    if placed and per_mm2 and "net_moved" not in data["costs"].get("rates", {}):
        paid += shift[0] * SIGNALS * (0.15 + 0.15) / board["layers"] * per_mm2
    else:
        paid += shift[1] * SIGNALS * rates["net_moved"]
    if board["state"] == "existing":
        fresh = set(counts) - {part["number"] for part in data["part"][:-1]}
        paid += max(1, len(fresh)) * rates["change"] / run
    return paid


def least_of(data, parts: list[dict], counts, shift, present) -> float:
    """The cheapest board of one grouping that keeps the limits, over every package and every shared decision."""
    plain = {key: value for key, value in data.items() if key != "regroup"} | {"part": [*parts, data["part"][-1]]}
    study = study_from(plain)
    result = run_study(study, bench=Bench.of(study, MEMORY))
    setups = setups_of(result, MEMORY)
    judged = judged_everywhere(result, setups, tell=lambda *_: None, stop=lambda: False)
    rates = {name: rate.value for name, rate in setups.bench.rates.items()}
    want, least = data["want"], float("inf")
    packed = setups.bench.content.want.packing
    places = [len(part["refs"]) for part in plain["part"]]
    for d, decision in enumerate(setups.decisions):
        shared = money.shared_money(data, decision, present, rates) + beside(data, decision, counts, shift, rates)
        own = {
            (p, k): money.own_money(plain, p, judged[d, p, k], decision, part, rates)
            for p, part in enumerate(setups.parts)
            for k in range(len(part.options))
        }
        for choice in itertools.product(*(range(len(part.options)) for part in setups.parts)):
            taken = [judged[d, p, k] for p, k in enumerate(choice)]
            names = [one.option.name for one in taken]
            area = sum(count * money.used_mm2(one) for count, one in zip(places, taken, strict=True)) * (1 + packed)
            zones = sum(count for count, one in zip(places, taken, strict=True) if one.step_um > 0)
            top = want.get("board_limits", {}).get("area", float("inf")) * data["board"]["sides"]
            if (
                not all(money.allowed(plain, one) for one in taken)
                or len(set(names)) > want.get("most_outlines", len(names))
                or area > top * (1 + 1e-9)
                or zones > setups.bench.content.line.most_step_zones
            ):
                continue
            cost = sum(own[p, k] for p, k in enumerate(choice)) + shared
            cost += money.once_money(data, plain["part"], [one.option for one in taken], rates)
            least = min(least, cost)
    return least


def by_grouping(data) -> dict[str, float]:
    """The least cost of every way to package the gates, by its packages; infinite where no board keeps the limits."""
    study = study_from({key: value for key, value in data.items() if key != "regroup"})
    present = run_study(study, bench=Bench.of(study, MEMORY)).parts
    today = {}
    for part in data["part"][:-1]:
        today[part["number"]] = today.get(part["number"], 0) + len(part["refs"])
    found = {said(today): least_of(data, as_today(data), today, None, present)}
    for counts in counts_of(data):
        shift = moved(data, counts)
        if counts != today and shift is not None:
            found[said(counts)] = least_of(data, tables_of(data, counts), counts, shift, present)
    return found


def said(counts: dict[str, int]) -> str:
    return " + ".join(f"{count} × {number}" for number, count in sorted(counts.items(), key=lambda one: -UNITS[one[0]]))


@pytest.mark.parametrize("block", range(BLOCKS))
def test_every_grouping_costs_what_an_enumeration_of_its_own_says_and_the_best_is_found(block):
    possible, taken = 0, set()
    for seed in range(block * BOARDS // BLOCKS, (block + 1) * BOARDS // BLOCKS):
        data = invented(random.Random(5000 + seed))
        expected = by_grouping(data)
        study = study_from(data)
        result = choose_board(run_study(study, bench=Bench.of(study, MEMORY)), memory=MEMORY, reasons=False)
        least = min(expected.values())
        if least == float("inf"):
            # A part that nothing fits is left out of the choice, and named: the rest is then chosen without it.
            found = result.choice
            assert found is None or found.model.stuck or not found.best.found, seed
            continue
        possible += 1
        assert result.regrouped is not None, (seed, expected)
        one = result.regrouped.sets[0]
        told = {way.way.says: float("inf") if way.cost is None else way.cost for way in one.ways}
        reachable = {says: cost for says, cost in expected.items() if cost < float("inf")}
        assert {says: cost for says, cost in told.items() if cost < float("inf")} == pytest.approx(
            reachable, rel=1e-9
        ), seed
        assert result.regrouped.proven, seed
        assert result.regrouped.cost == pytest.approx(least, rel=1e-9), seed
        # The board of the way that is taken is chosen anew, with all its reasons: it costs the same.
        assert result.choice.searched.value == pytest.approx(expected[one.chosen.way.says], rel=1e-9), seed
        taken.add(one.chosen.way.says)
    assert possible > BOARDS // BLOCKS // 3
    assert len(taken) > 1  # not always the same way
