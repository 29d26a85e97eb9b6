"""What a part is offered in and for how much: the study's own word first, then offers, then what was sighted."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from landwise.costs.board import price_at
from landwise.costs.offers import Bought, Offer, Standing, standing
from landwise.costs.prices import Known, Price, price_of
from landwise.errors import InputError, LandwiseError
from landwise.fabdata.functionnumbers import asked_for
from landwise.fabdata.partnumbers import written_number
from landwise.judging.bench import Bench
from landwise.judging.dropin import DropIn, drop_in
from landwise.judging.limits import LimitKey
from landwise.judging.results import Rejection
from landwise.outlines import Outline, find
from landwise.outlines.choice import proposals
from landwise.outlines.supply import Asked, Supply, supply_of
from landwise.quantities import several
from landwise.study.file import OptionTable, PartTable, StudyFile
from landwise.study.offers import breaks_of, of_part

OFFER_LIMITS = (LimitKey.GRADE, LimitKey.LIFECYCLE, LimitKey.REEL, LimitKey.LEAD_TIME, LimitKey.STOCK)


@dataclass(frozen=True)
class Market:
    """All that is known about buying one part.

    Parameters
    ----------
    pieces : int
        Bought in all: every place of it on the board, in every part of the study that is the same, times the run.
    known : tuple of Known
        Prices by package, at these pieces.
    standings : mapping of str to Standing
        Its offers by package, weighed.
    makers : mapping of str to int
        Makers counted by package: by the study, else by its offers.
    """

    pieces: int
    known: tuple[Known, ...]
    standings: Mapping[str, Standing]
    makers: Mapping[str, int]


@dataclass(frozen=True)
class Purchase:
    """How one part in one package can be bought.

    `makers` is None where nobody counts them; `refused` names the limits that every offer of it breaks.
    """

    supply: Supply
    price: Price
    makers: int | None
    refused: tuple[str, ...]
    drop_in: DropIn
    pieces: int


def pieces_of(content: StudyFile, part: PartTable) -> int:
    """Pieces of a part's order code that are bought in all: here, and what other products buy of it (once).

    A price break counts these pieces, not boards.
    """
    return pieces_here(content, part) + max((other.also_bought for other in _alike(content, part)), default=0)


def pieces_here(content: StudyFile, part: PartTable) -> int:
    """Pieces of a part's order code on these boards: all fitted places of the same number and family, times the run."""
    return max(1, sum(len(other.refs) for other in _alike(content, part))) * content.costs.run


def _alike(content: StudyFile, part: PartTable) -> list[PartTable]:
    """The part and all fitted ones of its number and family; a part without a number stands by itself."""
    return [
        other
        for other in content.part
        if other is part
        or (part.number and (other.number, other.family.upper()) == (part.number, part.family.upper()) and other.fitted)
    ]


def reel_of(content: StudyFile, part: PartTable) -> str:
    """Number and family of a part that other tables of the study name as well; nothing where it stands alone."""
    return named_reel(part) if part.fitted and len(_alike(content, part)) > 1 else ""


def named_reel(part: PartTable) -> str:
    """What pieces that may come from one reel have in common besides the package; nothing without a number."""
    return f"{part.family.upper()} {part.number}".strip() if part.number else ""


def asked_of(part: PartTable, terminals: int) -> Asked:
    """The part as the table of sightings knows it."""
    return asked_for(part.number, part.family, part.function, terminals)


def outlines_of(part: PartTable, terminals: int, present: Outline | None, bench: Bench) -> tuple[Outline, ...]:
    """What a part could come in: the study's own list, or proposals and what it is offered in; the present one always.

    Raises
    ------
    InputError
        If there is none.
    """
    found: dict[str, Outline] = {}
    if isinstance(part.options, list):
        named = [find(option.outline, bench.own) for option in part.options]
    else:
        offered = [find(name, bench.own) for name in market_of(part, bench).standings]
        named = [*proposals(terminals, bench.own, asked_of(part, terminals)), *offered]
    for outline in (*named, *([present] if present else [])):
        found.setdefault(outline.name, outline)
    if not found:
        raise InputError(
            "no outline of the catalogue has so many terminals",
            found=str(terminals),
            expected="options in the study, or your own outlines",
        )
    return tuple(found.values())


PRICES = {"price", "prices", "price_spread"}  # of an option


def told_unpriced(part: PartTable, bench: Bench) -> str:
    """A part as a key for what follows from its prices only through a `Purchase`."""

    def told() -> str:
        # words of pydantic's own, whose type nests in itself
        left: dict[str, Any] = {"price": True}
        if isinstance(part.options, list):
            left["options"] = {"__all__": PRICES}
        return part.model_dump_json(exclude=left) + part.model_dump_json(exclude=left, exclude_unset=True)

    return bench.once("told without prices", part, told)


def market_of(part: PartTable, bench: Bench) -> Market:
    """Prices and offers of a part, at the pieces bought, worked once.

    Raises
    ------
    InputError
        For a price break that is no quantity, or none that holds.
    """
    return bench.once("market", part, lambda: _market(part, bench))


def _market(part: PartTable, bench: Bench) -> Market:
    content, pieces = bench.content, pieces_of(bench.content, part)
    known: dict[str, Known] = {}
    makers: dict[str, int] = {}
    for option in part.options if isinstance(part.options, list) else ():
        outline = find(option.outline, bench.own)
        breaks = breaks_of(option.prices, option.price, option.outline)
        if breaks:
            try:
                known[outline.name] = Known(outline, price_at(breaks, pieces), "stated")
            except LandwiseError as error:
                raise error.within(place=option.outline) from None
        if option.sources is not None:
            makers[outline.name] = option.sources
    present = find(part.package, bench.own) if part.package else None
    if present is not None and part.price is not None:
        known.setdefault(present.name, Known(present, part.price, "stated"))
    want = content.want
    limits = Bought(
        grade=want.grade,
        active=want.lifecycle == "active",
        most_reel=want.most_reel,
        most_lead_weeks=want.most_lead_weeks,
        in_stock=want.in_stock,
        on=bench.today,
    )
    offers: dict[str, list[Offer]] = {}
    for offer in of_part(bench.offers, part.number, part.family) if part.number else ():
        offers.setdefault(offer.outline, []).append(offer)
    standings = {name: standing(held, pieces, limits) for name, held in offers.items()}
    for name, stand in standings.items():
        makers.setdefault(name, stand.makers)
        if stand.price is not None:
            known.setdefault(name, Known(find(name, bench.own), stand.price, "offer"))
    return Market(pieces, tuple(known.values()), standings, makers)


def purchase_of(outline: Outline, part: PartTable, terminals: int, bench: Bench) -> Purchase:
    """How a part in one package can be bought."""
    market = market_of(part, bench)
    stand = market.standings.get(outline.name)
    present = find(part.package, bench.own) if part.package else None
    makers = market.makers.get(outline.name)
    if makers is None and market.standings:
        makers = 0  # the study counts makers of this part, and none offers it so
    return Purchase(
        _supply(outline, part, terminals, bench, stand, present),
        price_of(
            outline, market.known, terminals=terminals, pieces=market.pieces, factor=bench.content.costs.rate_factor
        ),
        makers,
        tuple(stand.refused) if stand and stand.best is None else (),
        drop_in(outline, present, bench.lands(present) if present else None),
        market.pieces,
    )


def _supply(
    outline: Outline, part: PartTable, terminals: int, bench: Bench, stand: Standing | None, present: Outline | None
) -> Supply:
    """The study's own word outranks the table: options it names, the part in use, its offers, its own outlines."""
    named = isinstance(part.options, list) and any(
        find(option.outline, bench.own).name == outline.name for option in part.options
    )
    if stand is not None and stand.best is not None:
        return Supply("stated", len(stand.offers), max(stand.makers, 1))
    if named or (present is not None and present.name == outline.name) or outline in bench.own:
        return Supply("stated", 0, 0)
    return supply_of(asked_of(part, terminals), outline)


def rejections_of(purchase: Purchase, part: PartTable, content: StudyFile) -> list[Rejection]:
    """Limits on what may be bought that a package breaks."""
    want, supply = content.want, purchase.supply
    found = []
    taken = {"seen": ("stated", "seen"), "likely": ("stated", "seen", "likely")}.get(want.supply)
    if taken and supply.state not in taken:
        found.append(
            Rejection(LimitKey.SUPPLY, f'{supply_says(supply, part)}; an [[offer]] or supply = "any" allows it')
        )
    for key in purchase.refused:
        if key in OFFER_LIMITS:
            says = "lead time" if key == LimitKey.LEAD_TIME else key
            found.append(Rejection(key, f"every offer of it breaks the limit on {says}"))
    if want.makers is not None and purchase.makers is not None and purchase.makers < want.makers:
        count = "1 maker offers it" if purchase.makers == 1 else f"{purchase.makers} makers offer it"
        found.append(Rejection(LimitKey.MAKERS, f"{count}, {want.makers} are wanted"))
    if want.drop_in and not purchase.drop_in:
        found.append(
            Rejection(LimitKey.DROP_IN, "its terminals do not come as those of the part in use: the board changes")
        )
    return found


def stated_limits(option: OptionTable | None, content: StudyFile) -> list[Rejection]:
    """The limits that an option breaks by what the study itself says of buying it."""
    want = content.want
    found: list[Rejection] = []
    if option is None:
        return found
    if want.least_sources is not None and option.sources is not None and option.sources < want.least_sources:
        found.append(Rejection(LimitKey.LEAST_SOURCES, f"{option.sources} offer it, {want.least_sources} are wanted"))
    weeks = option.lead_weeks
    if want.most_lead_weeks is not None and weeks is not None and weeks > want.most_lead_weeks:
        found.append(Rejection(LimitKey.LEAD_TIME, f"{weeks:g} weeks, at most {want.most_lead_weeks:g} are wanted"))
    spread = content.costs.price_spread if option.price_spread is None else option.price_spread
    if want.most_price_spread is not None and spread > want.most_price_spread:
        says = f"its price may move by {spread:.0%}, at most {want.most_price_spread:.0%} is wanted"
        found.append(Rejection(LimitKey.PRICE_SPREAD, says))
    return found


def supply_says(supply: Supply, part: PartTable) -> str:
    """A package's supply in one clause."""
    name = written_number(part.family, part.number) or part.function or "this function"
    family = f"{part.family} functions" if part.family and supply.compared else "functions"
    if supply.state == "stated":
        makers = f" by {several(supply.sources, 'maker')}" if supply.sources else ""
        return f"named in the study{makers}" if not supply.sightings else f"offered{makers}"
    if supply.state == "seen":
        codes = f"{several(supply.sightings, 'order code')}"
        under = f" ({', '.join(supply.numbers[:4])})" if supply.numbers else ""
        inside = f" in {', '.join(supply.families[:4])}" if supply.families else ""
        return f"seen: {codes} of {name}{under}{inside} in one list of May 2026"
    if supply.state == "likely":
        return f"likely: {supply.share:.0%} of like {family} come in it, {name} itself was not seen"
    if supply.state == "not seen":
        return f"{name} was not seen in it, {supply.share:.0%} of like {family} were (one list, May 2026)"
    return f"nothing is known about what {name} comes in"
