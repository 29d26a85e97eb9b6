"""Uncertain inputs in words: rates, the run, prices, defects, paste transfer."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from landwise.board.draws import Unknown
from landwise.board.firm import flip_key
from landwise.board.model import BoardModel
from landwise.choosing.optimum.flips import Flip
from landwise.costs.loads import RUN

LABELS: Mapping[str, str] = MappingProxyType(
    {
        RUN: "boards in the run",
        "xray": "X-ray rate",
        "board_area": "rate of board area",
        "foil": "price of a foil",
        "rework_hidden": "rework rate under bodies",
        "layer_factor": "layer factor",
    }
)


def label(name: str) -> str:
    """A rate or the run in words.

    >>> label("board_area"), label("second_side")
    ('rate of board area', 'second side rate')
    """
    return LABELS.get(name, name.replace("_", " ") + " rate")


def flip_says(model: BoardModel, flip: Flip) -> str:
    """The input of a flip in words."""
    key = flip_key(flip)
    if key == "rate":
        return label(flip.name)
    where = f"{model.parts[flip.part].name} in {model.names[flip.part][flip.option]}"
    return f"paste transfer of {where}" if key == "transfer" else f"price of {where}"


def input_says(one: Unknown, part: str) -> str:
    """An input worth knowing in words; `part` is the reference that waits for it."""
    if one.kind == "price-level":
        return f"the price of {part}"
    if one.kind == "price":
        return f"the price of {part} in {one.of}"
    if one.kind == "defects":
        return f"your line's defects on {one.of}"
    return f"your own {label(one.of)}"


def input_name(one: Unknown) -> str:
    """The name of an input in `result.json`.

    >>> input_name(Unknown("price", "SO-14")), input_name(Unknown("rate", "xray"))
    ('price SO-14', 'xray')
    """
    return " ".join(bit for bit in ("" if one.kind == "rate" else one.kind.replace("-", " "), one.of) if bit)
