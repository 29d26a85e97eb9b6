"""Offers: what somebody sells a part for, in which package, at which quantity, and whether it may be bought."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from types import MappingProxyType
from typing import Literal

from landwise.errors import InputError

Grade = Literal["", "extended", "automotive", "military"]
Lifecycle = Literal["", "active", "not for new designs", "last buy", "obsolete"]
# What a wished grade takes: an automotive part serves where an extended range is asked for, a military one both.
SERVES: Mapping[str, frozenset[str]] = MappingProxyType(
    {
        "": frozenset(["", "extended", "automotive", "military"]),
        "extended": frozenset(["extended", "automotive", "military"]),
        "automotive": frozenset(["automotive"]),
        "military": frozenset(["military"]),
    }
)


@dataclass(frozen=True)
class Offer:
    """One order code as one seller offers it.

    Parameters
    ----------
    order_code : str
    outline : str
        Catalogue name of its package.
    number, family : str
        Function number and family letters.
    breaks : mapping of int to float
        Price of one piece from so many pieces on; empty where the list tells none.
    maker, source : str
        Who makes it, and which list or seller it stands in.
    stock : int or None
        Pieces.
    grade, lifecycle : str
    last_buy : date or None
        Last day on which it can be ordered.
    reel, least : int or None
        Pieces of its reel or pack, and fewest pieces that are sold.
    lead_weeks : float or None
    """

    order_code: str
    outline: str
    number: str
    family: str
    breaks: Mapping[int, float] = field(default_factory=lambda: MappingProxyType({}))
    maker: str = ""
    source: str = ""
    stock: int | None = None
    grade: Grade = ""
    lifecycle: Lifecycle = ""
    last_buy: date | None = None
    reel: int | None = None
    least: int | None = None
    lead_weeks: float | None = None

    def __post_init__(self) -> None:
        if any(start < 1 or not price >= 0 for start, price in self.breaks.items()):
            raise InputError(
                "a price break out of order",
                place=self.order_code,
                found=", ".join(f"{start}: {price:g}" for start, price in self.breaks.items()),
                expected="quantities of at least 1, prices of at least 0",
            )


@dataclass(frozen=True)
class Bought:
    """Limits on what may be bought; None or empty where the study sets none."""

    grade: Grade = ""
    active: bool = True
    most_reel: int | None = None
    most_lead_weeks: float | None = None
    in_stock: bool = False
    on: date | None = None


def unit_price(breaks: Mapping[int, float], pieces: int, least: int | None = None) -> float | None:
    """Price of one piece where so many are bought; None where the breaks are empty.

    Buying more than needed counts where it is cheaper as a whole, or where fewer are not sold; what is left over is
    worth nothing here.

    Raises
    ------
    InputError
        For fewer than one piece.

    Examples
    --------
    >>> breaks = {1: 0.20, 100: 0.12, 1000: 0.08}
    >>> unit_price(breaks, 500), unit_price(breaks, 40), unit_price(breaks, 900)
    (0.12, 0.2, 0.08888888888888889)
    >>> unit_price({100: 0.12}, 50)
    0.24
    """
    if pieces < 1:
        raise InputError("pieces bought must be at least one", found=str(pieces), expected="1 or more")
    if not breaks:
        return None
    fewest = max(pieces, least or 1)
    totals = []
    for start in sorted(breaks):
        quantity = max(fewest, start)
        totals.append(breaks[start] * quantity)
    return min(totals) / pieces


def refusals(offer: Offer, pieces: int, limits: Bought) -> tuple[str, ...]:
    """Why an offer may not be bought under the study's limits, by key; empty if it may.

    >>> offer = Offer("A1", "SO-14", "00", "HC", {1: 0.1}, lifecycle="last buy", stock=10)
    >>> refusals(offer, 100, Bought(in_stock=True, grade="automotive"))
    ('grade', 'lifecycle', 'stock')
    """
    found = []
    if offer.grade not in SERVES[limits.grade]:
        found.append("grade")
    over = offer.last_buy is not None and limits.on is not None and offer.last_buy < limits.on
    if (limits.active and offer.lifecycle not in ("", "active")) or over:
        found.append("lifecycle")
    if limits.most_reel is not None and offer.reel is not None and offer.reel > limits.most_reel:
        found.append("reel")
    if (
        limits.most_lead_weeks is not None
        and offer.lead_weeks is not None
        and offer.lead_weeks > limits.most_lead_weeks
    ):
        found.append("lead-time")
    if limits.in_stock and offer.stock is not None and offer.stock < pieces:
        found.append("stock")
    return tuple(found)


@dataclass(frozen=True)
class Standing:
    """All offers of one part in one package, weighed.

    `best` is the cheapest that may be bought, with its price at the pieces bought; `makers` and `sellers` count those
    of offers that may be bought; `refused` counts the others by why.
    """

    offers: tuple[Offer, ...]
    best: Offer | None
    price: float | None
    makers: int
    sellers: int
    refused: Mapping[str, int]

    @property
    def single(self) -> bool:
        """Whether one maker stands alone behind it."""
        return self.makers == 1


def standing(offers: Sequence[Offer], pieces: int, limits: Bought) -> Standing:
    """Weighs the offers of one part in one package.

    Examples
    --------
    >>> two = [Offer("A1", "SO-14", "00", "HC", {1: 0.1}, "a"), Offer("B1", "SO-14", "00", "HC", {1: 0.09}, "b")]
    >>> got = standing(two, 100, Bought())
    >>> got.best.order_code, got.price, got.makers
    ('B1', 0.09, 2)
    """
    refused: dict[str, int] = {}
    allowed = []
    for offer in offers:
        why = refusals(offer, pieces, limits)
        for key in why:
            refused[key] = refused.get(key, 0) + 1
        if not why:
            allowed.append(offer)
    priced = [(unit_price(offer.breaks, pieces, offer.least), offer) for offer in allowed]
    known = [(price, offer) for price, offer in priced if price is not None]
    price, best = min(known, key=lambda pair: (pair[0], pair[1].order_code), default=(None, None))
    return Standing(
        tuple(offers),
        best or (allowed[0] if allowed else None),
        price,
        _count(offer.maker for offer in allowed),
        _count(offer.source for offer in allowed),
        MappingProxyType(refused),
    )


def _count(names: Iterable[str]) -> int:
    """Different names; unnamed ones together count as one, if none is named."""
    found = list(names)
    named = {name.strip().lower() for name in found if name.strip()}
    return len(named) or int(bool(found))
