"""Uncertain inputs in words: rates, the run, prices, defects, paste transfer."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from types import MappingProxyType

from landwise.board.draws import Unknown
from landwise.board.firm import flip_key
from landwise.board.model import BoardModel
from landwise.choosing.optimum.flips import Flip
from landwise.costs.loads import RUN
from landwise.costs.rates import default_rates
from landwise.quantities import significant

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
    where = f"{model.parts[flip.part].named} in {model.names[flip.part][flip.option]}"
    return f"paste transfer of {where}" if key == "transfer" else f"price of {where}"


def flip_unit(flip: Flip, money: str) -> str:
    """The unit of the input of a flip: boards, the study's money for a price, and so on."""
    if flip_key(flip) != "rate":
        return money if flip_key(flip) == "price" else ""
    if flip.name == RUN:
        return "boards"
    rate = default_rates().get(flip.name)
    if rate is None:
        return ""
    return rate.unit if rate.share else f"{money} {rate.unit}"


def flip_sentence(
    what: str, now: float, at: float, after: Sequence[str], *, key: str = "rate", unit: str = "", basis: str = ""
) -> str:
    """Where one input flips the choice.

    Parameters
    ----------
    what : str
        The input.
    now, at : float
        Its value, and the nearest at which something else is best. [unit]
    after : sequence of str
        What is best from there on.
    key : str
        rate, price or transfer.
    unit, basis : str
        The unit, and a word before the value, such as assumed.

    Examples
    --------
    >>> flip_sentence("price of U6 in SO-8", 0.0747, 0.0701, ["U6 in MSOP-8"], key="price", unit="EUR", basis="guessed")
    'price of U6 in SO-8: guessed 0.0747 EUR; at 0.0701 EUR or less the best is U6 in MSOP-8'
    >>> flip_sentence("paste transfer of U1 in QFN-16-3x3", 0.92, 0.8, ["U1 in SO-16"], key="transfer")
    'paste transfer of U1 in QFN-16-3x3: 92% in the middle of its band; below 80% the best is U1 in SO-16'
    """
    best = f"the best is {', '.join(after)}"
    if key == "transfer":
        return f"{what}: {now:.0%} in the middle of its band; below {at:.0%} {best}"
    value, flips = (" ".join(bit for bit in (significant(number), unit) if bit) for number in (now, at))
    side = "or less" if at < now else "or more"
    return f"{what}: {basis + ' ' if basis else ''}{value}; at {flips} {side} {best}"


def input_says(one: Unknown, part: str) -> str:
    """An input worth knowing in words; `part` is the reference that waits for it."""
    if one.kind == "prices":
        return f"the prices of {part or 'these parts'}"
    if one.kind == "price-level":
        return f"the price of {part}"
    if one.kind == "price":
        return f"the price of {part} in {one.of}"
    if one.kind == "life":
        return f"how long joints of {one.of} last where it lives"
    if one.kind == "defects":
        return f"your line's defects on {one.of}"
    return f"your own {label(one.of)}"


def input_name(one: Unknown) -> str:
    """The name of an input in `result.json`.

    >>> input_name(Unknown("price", "SO-14")), input_name(Unknown("rate", "xray"))
    ('price SO-14', 'xray')
    """
    return " ".join(bit for bit in ("" if one.kind == "rate" else one.kind.replace("-", " "), one.of) if bit)
