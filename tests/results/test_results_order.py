"""A study in another order says the same: what is drawn of a part follows from the part, not from its place."""

from __future__ import annotations

import json
import re
from functools import cache

import pytest

from invented_parts import LITTLE_GATE
from landwise.board.choice import choose_board
from landwise.judging.bench import Bench
from landwise.judging.study import run_study
from landwise.memory import Memory
from landwise.results.file import result_data
from landwise.study.file import study_from

MEMORY = Memory()
# Prices so near each other that shares of draws are no round numbers; no two parts cost the same, for of boards that
# tie any may be named.
NEAR = [("SOT-23-5", 0.030), ("SC-70-5", 0.031), ("SON-6-1.45x1.0", 0.032)]
GATE = LITTLE_GATE | {"options": [{"outline": name, "price": price} for name, price in NEAR]}
PARTS = [
    GATE,
    {**GATE, "refs": ["U3"], "number": "1G32", "options": "any", "price": 0.03},
    # Like the first, and yet its prices are drawn by themselves.
    {**GATE, "refs": ["U4"], "options": [{**one, "price": one["price"] + 0.0007} for one in GATE["options"]]},
    {**GATE, "refs": ["U5"], "number": "1G00", "options": [{**one, "price": 0.0304} for one in GATE["options"][::-1]]},
]
LINE = {"foils": ["100 um", "120 um"], "foil": "100 um", "print": "as lands", "inspection": ["optical"]}


@cache
def told(order: tuple[int, ...]) -> dict[str, object]:
    study = study_from({"part": [PARTS[k] for k in order], "line": LINE, "costs": {"run": 20_000}})
    return result_data(choose_board(run_study(study, bench=Bench.of(study, MEMORY)), memory=MEMORY))


def canonical(value: object) -> object:
    """Lists and the words of a sentence in an order of their own, floats without what a sum's order leaves.

    Steps of totals are numbered as the parts come: what they come to is compared, their numbers aren't. Of parts whose
    packages live equally long `why` names the first.
    """
    if isinstance(value, dict):
        return {key: canonical(value[key]) for key in sorted(value) if key not in {"total_steps", "trail", "why"}}
    if isinstance(value, str):
        return " ".join(sorted(re.findall(r"[^\s,]+", value)))
    if isinstance(value, list):
        return sorted((canonical(one) for one in value), key=lambda one: json.dumps(one, sort_keys=True))
    return float(f"{value:.8g}") if isinstance(value, float) else value


def differing(one: object, other: object, at: str = "") -> list[str]:
    if isinstance(one, dict) and isinstance(other, dict):
        keys = sorted({*one, *other})
        return [line for key in keys for line in differing(one.get(key), other.get(key), f"{at}.{key}")]
    if isinstance(one, list) and isinstance(other, list) and len(one) == len(other):
        return [line for n, pair in enumerate(zip(one, other, strict=True)) for line in differing(*pair, f"{at}[{n}]")]
    return [] if one == other else [f"{at}: {one} | {other}"]


@pytest.mark.parametrize("order", [(3, 2, 1, 0), (2, 0, 3, 1)])
def test_a_study_in_another_order_gives_the_same_result_but_for_order(order):
    assert differing(canonical(told((0, 1, 2, 3))), canonical(told(order))) == []
