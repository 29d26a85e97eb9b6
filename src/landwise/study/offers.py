"""A user's own offers: `[[offer]]` in the study, or files beside it; read once, checked whole."""

from __future__ import annotations

import json
import tomllib
from collections.abc import Callable, Iterable, Mapping, Sequence
from datetime import date
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING

from pydantic import Field, ValidationError

from landwise.costs.offers import Grade, Lifecycle, Offer
from landwise.errors import FileError, InputError
from landwise.outlines import Outline, find
from landwise.study.fields import Table
from landwise.study.parttable import PartTable
from landwise.study.plainwords import plainly

if TYPE_CHECKING:
    from landwise.fabdata.offerlists import OfferList

LARGEST_OFFER_FILE = 100_000_000


class OfferTable(Table):
    """One order code as one seller offers it."""

    order_code: str = Field(min_length=1, description="number, family and package are read from it where not given")
    outline: str = Field(default="", description="its package; else from the order code's letters")
    number: str = Field(default="", description="function number; else from the order code")
    family: str = Field(default="", description="family letters; else from the order code")
    maker: str = ""
    source: str = Field(default="", description="whose list it stands in")
    price: float | None = Field(default=None, ge=0, description="price of one piece at any quantity")
    prices: dict[str, float] = Field(default_factory=dict, description="price of one piece from so many pieces on")
    stock: int | None = Field(default=None, ge=0)
    grade: Grade = ""
    lifecycle: Lifecycle = ""
    last_buy: date | None = None
    reel: int | None = Field(default=None, gt=0, description="pieces on its reel or in its pack")
    least: int | None = Field(default=None, gt=0, description="fewest pieces that are sold")
    lead_weeks: float | None = Field(default=None, ge=0)


def breaks_of(prices: Mapping[str, float], price: float | None, place: str) -> dict[int, float]:
    """Price breaks by quantity from a study's texts; one price without a quantity holds from one piece on.

    Raises
    ------
    InputError
        For a break that is no quantity, a price below zero, or a price beside price breaks.

    >>> breaks_of({"1": 0.2, "1000": 0.08}, None, "U1")
    {1: 0.2, 1000: 0.08}
    """
    wanted = 'prices = { "1" = 0.20, "1000" = 0.08 }'
    if not all(start.isdigit() and int(start) > 0 for start in prices):
        raise InputError("a price break is not a quantity", place=place, found=", ".join(prices), expected=wanted)
    if any(not one >= 0 for one in prices.values()):
        raise InputError("a price below zero", place=place, found=str(min(prices.values())), expected=wanted)
    if prices and price is not None:
        raise InputError(
            "a price and price breaks stand side by side",
            place=place,
            found=f"price = {price:g} and prices from {', '.join(prices)}",
            expected=f"one of them; a price of one piece is a break of its own, such as {wanted}",
        )
    if prices:
        return {int(start): one for start, one in prices.items()}
    return {} if price is None else {1: price}


def offer_from(table: OfferTable, own: Iterable[Outline] = ()) -> Offer:
    """An offer from its table, what is missing read from the order code.

    Raises
    ------
    InputError
        If neither the table nor the order code tells function or package.

    Examples
    --------
    >>> offer = offer_from(OfferTable(order_code="SN74HC595PWR", prices={"1": 0.2, "1000": 0.09}))
    >>> offer.outline, offer.number, offer.family, offer.breaks[1000]
    ('TSSOP-16', '595', 'HC', 0.09)
    """
    # Loaded here: a study without offers, which is most, needs nothing that reads order codes.
    from landwise.fabdata.bills import BillLine
    from landwise.fabdata.partnumbers import read_number
    from landwise.fabdata.presentpackage import present_package

    number, family, outline = table.number, table.family, table.outline
    reading = read_number(table.order_code)
    if not number and reading:
        number, family = reading.number, family or reading.family
    if not number:
        raise InputError(
            "the order code is no logic number", place=table.order_code, expected="number and family of the offer"
        )
    if not outline and reading:
        terminals = reading.function.terminals or None if reading.function else None
        line = BillLine(0, ("U1",), None, MappingProxyType({"part_number": table.order_code}))
        outline = present_package(line, reading, terminals, None, {}).outline
    if not outline:
        raise InputError(
            "the order code's letters name no package of the catalogue",
            place=table.order_code,
            expected="outline of the offer",
        )
    return Offer(
        order_code=table.order_code,
        outline=find(outline, tuple(own)).name,
        number=number,
        family=family,
        breaks=MappingProxyType(breaks_of(table.prices, table.price, table.order_code)),
        maker=table.maker,
        source=table.source,
        stock=table.stock,
        grade=table.grade,
        lifecycle=table.lifecycle,
        last_buy=table.last_buy,
        reel=table.reel,
        least=table.least,
        lead_weeks=table.lead_weeks,
    )


def read_offer_file(path: Path, own: Iterable[Outline] = ()) -> tuple[Offer, ...]:
    """Offers of a TOML file: `offer` tables, as `landwise offers` writes them.

    Raises
    ------
    FileError, InputError
        Naming file, order code and field.
    """
    try:
        if path.stat().st_size > LARGEST_OFFER_FILE:
            limit = f"at most {LARGEST_OFFER_FILE / 1e6:g} MB"
            raise FileError("too large", file=str(path), expected=limit)
        data = tomllib.loads(path.read_text(encoding="utf-8-sig"))
    except OSError as error:
        raise FileError(error.strerror or "can't be read", file=str(path)) from None
    except UnicodeDecodeError:
        raise FileError("not UTF-8 text", file=str(path), expected="a file of offers") from None
    except ValueError as error:  # no TOML, or a number of too many digits
        raise InputError("not a TOML file", file=path.name, found=str(error), expected="[[offer]] tables") from None
    rows = data.get("offer", [])
    if not isinstance(rows, list) or set(data) - {"offer", "columns", "list"}:
        raise InputError(
            "no offers", file=path.name, found=", ".join(data) or "an empty file", expected="[[offer]] tables"
        )
    own = tuple(own)
    found = []
    for number, row in enumerate(rows, 1):
        try:
            found.append(offer_from(OfferTable.model_validate(row), own))
        except ValidationError as error:
            problem = error.errors(include_url=False)[0]
            place = f"offer {number}, {', '.join(map(str, problem['loc']))}"
            raise InputError(
                "not a valid value", file=path.name, place=place, expected=plainly(problem["msg"])
            ) from None
        except InputError as error:
            raise error.within(file=path.name) from None
    return tuple(found)


def offers_text(found: OfferList, *, today: date) -> str:
    """The file of offers for a list, as TOML: how its columns were taken, then one offer a line."""
    lines = [
        f"# Offers from {_one_line(found.file)}, read {today.isoformat()} by `landwise offers`.",
        f'# {found.rows} rows, {len(found.offers)} offers. Name this file in a study: offers = ["this file"]',
        *(f"# {_one_line(note)}" for note in found.notes),
        *(f"# left out: {count} rows: {why}" for why, count in found.unread.items()),
        "",
        "[columns]  # read again by `landwise offers --mapping this-file`",
        *(f"{_text(field)} = {_text(heading)}" for field, heading in found.columns.table().items()),
        "",
    ]
    for offer in found.offers:
        lines += ["[[offer]]", *_offer_lines(offer), ""]
    return "\n".join(lines)


def offer_data(offer: Offer) -> dict[str, str | int | float | date | dict[str, float]]:
    """An offer as its `[[offer]]` table holds it, without what is not known."""
    values: dict[str, str | int | float | date | None] = {
        "order_code": _one_line(offer.order_code),
        "outline": offer.outline,
        "number": offer.number,
        "family": offer.family,
        "maker": _one_line(offer.maker),
        "source": _one_line(offer.source),
        "stock": offer.stock,
        "grade": offer.grade,
        "lifecycle": offer.lifecycle,
        "last_buy": offer.last_buy,
        "reel": offer.reel,
        "least": offer.least,
        "lead_weeks": offer.lead_weeks,
    }
    found: dict[str, str | int | float | date | dict[str, float]] = {
        name: value for name, value in values.items() if value not in (None, "") and value is not None
    }
    if offer.breaks:
        found["prices"] = {str(start): float(f"{price:g}") for start, price in offer.breaks.items()}
    return found


def _offer_lines(offer: Offer) -> list[str]:
    lines = []
    for name, value in offer_data(offer).items():
        if isinstance(value, dict):
            said = f"{{ {', '.join(f'{start} = {price:g}' for start, price in value.items())} }}"
        else:
            said = _text(value) if isinstance(value, str) else str(value)
        lines.append(f"{name} = {said}")
    return lines


def wanted_by(parts: Iterable[PartTable]) -> Callable[[str, str], bool]:
    """Whether an order code's number and family belong to one of these parts."""
    named = {(part.number.upper(), part.family.upper()) for part in parts if part.number}
    return lambda number, family: (number.upper(), family.upper()) in named or (number.upper(), "") in named


def kept_columns(path: Path) -> dict[str, str]:
    """The columns that a file of offers or a mapping file keeps.

    Raises
    ------
    FileError, InputError
        If it can't be read, or holds no `[columns]` table of texts.
    """
    try:
        data = tomllib.loads(path.read_text(encoding="utf-8-sig"))
    except OSError as error:
        raise FileError(error.strerror or "can't be read", file=str(path)) from None
    except ValueError as error:  # no text, no TOML, or a number of too many digits
        raise InputError("not a TOML file", file=path.name, found=str(error), expected="[columns]") from None
    columns = data.get("columns")
    if not isinstance(columns, dict) or not all(isinstance(value, str) for value in columns.values()):
        raise InputError("no mapping", file=path.name, expected='[columns] with texts such as order_code = "MPN"')
    return dict(columns)


def _one_line(text: str) -> str:
    return " ".join("".join(c if c.isprintable() else " " for c in text).split())[:160]


def _text(value: str) -> str:
    return json.dumps(_one_line(value).replace("\x7f", ""), ensure_ascii=False)


def of_part(offers: Sequence[Offer], number: str, family: str) -> tuple[Offer, ...]:
    """The offers of one function: of its family, or of any where the study leaves the family open."""
    wanted = family.upper()
    return tuple(offer for offer in offers if offer.number == number and (not wanted or offer.family.upper() == wanted))
