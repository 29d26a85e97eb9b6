"""Offers from any distributor's or assembler's list: order codes by their letters, price breaks, what may be bought."""

from __future__ import annotations

import csv
import io
from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from types import MappingProxyType

from landwise.costs.offers import Offer
from landwise.errors import FileError, InputError
from landwise.fabdata.bills import BillLine
from landwise.fabdata.grids import DELIMITERS, SPREADSHEETS, Reading, decode, read_table
from landwise.fabdata.offercells import CONTROLS, SIGNS, breaks_in_cell, count, day, grade, lifecycle, price_in, weeks
from landwise.fabdata.offercolumns import FIELDS, WRITTEN, Columns, columns_of, spelled
from landwise.fabdata.ordercodes import house_of
from landwise.fabdata.partnumbers import read_number
from landwise.fabdata.presentpackage import present_package

LARGEST_BYTES = 200_000_000  # 100,000 rows of a wide export are about 40 MB
HEADER_SEARCH_ROWS = 40
MOST_LEFT = 40  # rows left out that are named
Row = Mapping[str, str]


@dataclass(frozen=True)
class OfferList:
    """What a list offers.

    `unread` counts rows that were left out, by why; `left` names the first of them: row below the headings, order code,
    why.
    """

    file: str
    columns: Columns
    offers: tuple[Offer, ...]
    rows: int
    unread: Mapping[str, int]
    notes: tuple[str, ...]
    left: tuple[tuple[int, str, str], ...] = ()


def read_header(path: str | Path) -> tuple[list[str], Iterator[Sequence[str]]]:
    """The header of a list and its rows.

    Raises
    ------
    FileError
        Missing, a folder, empty, too large, or neither text nor a spreadsheet.
    InputError
        If no row looks like a header.
    """
    path = Path(path)
    raw = _bytes(path)
    candidates: list[Callable[[], Iterator[Sequence[str]]]] = []
    if raw.startswith(SPREADSHEETS):
        candidates += [partial(_sheet_rows, reading) for reading in read_table(path).readings]
    else:
        text = decode(raw, path.name)
        head = text[:20_000]
        for delimiter in sorted((d for d in DELIMITERS if d in head), key=head.count, reverse=True):
            candidates.append(partial(_text_rows, text, delimiter))
    best: tuple[int, int, Callable[[], Iterator[Sequence[str]]]] | None = None
    for make in candidates:
        for at, cells in zip(range(HEADER_SEARCH_ROWS), _safely(make(), path.name), strict=False):
            score = _score(cells)
            if score and (best is None or score > best[0]):
                best = (score, at, make)
    if best is None:
        raise InputError(
            "no header row of a list of offers was found",
            file=path.name,
            expected="a row with a heading such as Manufacturer Part Number, and others beside it",
        )
    _, at, make = best
    rows = _safely(make(), path.name)
    header: list[str] = []
    for _ in range(at + 1):
        header = [cell.strip() for cell in next(rows)]
    return header, rows


def _sheet_rows(reading: Reading) -> Iterator[Sequence[str]]:
    return (cells for _, cells in reading.rows(None))


def _text_rows(text: str, delimiter: str) -> Iterator[Sequence[str]]:
    return csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)


_SPELLINGS = frozenset(spelling for words in FIELDS.values() for spelling in words) | WRITTEN.keys()


def _score(cells: Sequence[str]) -> int:
    return sum(spelled(cell) in _SPELLINGS for cell in cells if cell.strip())


def _safely(rows: Iterator[Sequence[str]], file: str) -> Iterator[Sequence[str]]:
    while True:
        try:
            yield next(rows)
        except StopIteration:
            return
        except csv.Error as error:
            raise FileError("not readable as a table", file=file, found=str(error)[:80], expected="CSV") from None


def _bytes(path: Path) -> bytes:
    try:
        if path.is_dir():
            raise FileError("a folder, not a file", file=str(path), expected="a file")
        size = path.stat().st_size
        if size > LARGEST_BYTES:
            raise FileError(
                "too large",
                file=str(path),
                found=f"{size / 1e6:.0f} MB",
                expected=f"at most {LARGEST_BYTES / 1e6:.0f} MB; ask the seller for logic only",
            )
        if size == 0:
            raise FileError("the file is empty", file=str(path))
        return path.read_bytes()
    except OSError as error:
        raise FileError(error.strerror or "can't be read", file=str(path)) from None


def read_offers(
    path: str | Path,
    own: Mapping[str, str] | None = None,
    *,
    source: str = "",
    wanted: Callable[[str, str], bool] | None = None,
) -> OfferList:
    """Read a list of offers.

    Parameters
    ----------
    path : str or Path
        CSV of any delimiter, or a spreadsheet.
    own : mapping of str to str
        A user's own columns; see `offercolumns.columns_of`.
    source : str
        What to call the list; its file name otherwise.
    wanted : callable, optional
        Given number and family, whether the part matters; all logic otherwise.

    Notes
    -----
    Rows of one order code and maker are one offer: their price breaks are joined. Rows whose code is no logic number,
    or names no package of the catalogue, are counted by why and left out.

    Raises
    ------
    FileError, InputError
        As for `read_header` and `columns_of`.
    """
    path = Path(path)
    header, rows = read_header(path)
    try:
        columns = columns_of(header, own)
    except InputError as error:
        raise error.within(file=path.name) from None
    reader = _Reader(columns, header, source or path.stem, wanted)
    read, unread = 0, Counter[str]()
    left: list[tuple[int, str, str]] = []
    for cells in rows:
        if any(cells):
            read += 1
            why = reader.take(cells)
            if why:
                unread[why] += 1
                if len(left) < MOST_LEFT:
                    left.append((read, reader.code(cells), why))
    notes = []
    priced = (columns.fields.get("price", ""), *columns.wide.values(), *(price for _, price in columns.paired))
    reader.currencies.update(name for sign, name in SIGNS for heading in priced if sign in heading.upper())
    if columns.per > 1:
        notes.append(f"the prices of {columns.fields['price']!r} are for {columns.per} pieces and were divided")
    if reader.currencies:
        notes.append(f"prices in {', '.join(sorted(reader.currencies))}, as the list says; they are not converted")
    if not columns.wide and not columns.paired and not {"price", "prices"} & columns.fields.keys():
        notes.append("no column of prices was found: the offers tell only what is sold")
    return OfferList(
        path.name,
        columns,
        tuple(reader.offers.values()),
        read,
        MappingProxyType(dict(unread)),
        tuple(notes),
        tuple(left),
    )


@dataclass(frozen=True)
class PriceRow:
    """Prices of one part in one package: row below the headings, reference and package as written, price breaks."""

    row: int
    part: str
    package: str
    breaks: Mapping[int, float]


def read_price_rows(path: str | Path, own: Mapping[str, str]) -> tuple[Columns, tuple[PriceRow, ...]]:
    """A table of prices by reference and package, such as somebody keeps beside a bill.

    Parameters
    ----------
    path : str or Path
        As for `read_offers`.
    own : mapping of str to str
        The columns; `order_code` is the one that holds the references, and `package` must be among them.

    Raises
    ------
    FileError, InputError
        As for `read_header` and `columns_of`.
    """
    header, rows = read_header(path)
    columns = columns_of(header, own)
    if "package" not in columns.fields:
        raise InputError("no column of packages was found", place="package", found=", ".join(header[:12]))
    reader = _Reader(columns, header, "", None)
    found = [
        PriceRow(number, reader.code(cells), reader.text(cells, "package"), MappingProxyType(reader.breaks(cells)))
        for number, cells in enumerate((cells for cells in rows if any(cells)), 1)
    ]
    return columns, tuple(found)


class _Reader:
    """Row after row into offers; what one order code's letters mean is worked once."""

    def __init__(
        self,
        columns: Columns,
        header: Sequence[str],
        source: str,
        wanted: Callable[[str, str], bool] | None,
    ) -> None:
        self.columns, self.source, self.wanted = columns, source, wanted
        self.offers: dict[tuple[str, str], Offer] = {}
        self.currencies: set[str] = set()
        self._at = {name: at for at, name in reversed(list(enumerate(header)))}
        self._fields = {field: self._at[heading] for field, heading in columns.fields.items()}
        self._wide = [(quantity, self._at[heading]) for quantity, heading in columns.wide.items()]
        self._paired = [(self._at[quantity], self._at[price]) for quantity, price in columns.paired]
        self._packages: dict[tuple[str, str, int | None, str, str], str] = {}
        self._in_days = (
            "day" in columns.fields.get("lead", "").lower() or "tage" in columns.fields.get("lead", "").lower()
        )

    def code(self, cells: Sequence[str]) -> str:
        """The order code of a row."""
        return self.text(cells, "order_code")

    def take(self, cells: Sequence[str]) -> str:
        """One row; why it was left out, or nothing."""
        code = self.code(cells)
        if not code:
            return "no order code"
        maker = self.text(cells, "maker")
        held = self.offers.get((code, maker))
        if held is not None:
            self.offers[code, maker] = replace(
                held,
                breaks=MappingProxyType(dict(sorted({**self.breaks(cells), **held.breaks}.items()))),
            )
            return ""
        reading = read_number(code)
        if reading is None or not reading.number:
            return "no logic number"
        if self.wanted and not self.wanted(reading.number, reading.family):
            return "not a part of the study"
        text = self.text(cells, "package") or self.text(cells, "description")
        terminals = reading.function.terminals or None if reading.function else None
        key = (
            reading.suffix,
            house_of(reading.maker, reading.tail),
            terminals,
            text,
            reading.number if not terminals else "",
        )
        outline = self._packages.get(key)
        if outline is None:
            texts = {name: said for name, said in (("part_number", code), ("description", text)) if said}
            line = BillLine(0, ("U1",), None, MappingProxyType(texts))
            outline = present_package(line, reading, terminals, None, {}).outline
            self._packages[key] = outline
        if not outline:
            return "package not in the catalogue, or not told"
        self.offers[code, maker] = Offer(
            order_code=code,
            outline=outline,
            number=reading.number,
            family=reading.family,
            breaks=MappingProxyType(self.breaks(cells)),
            maker=maker,
            source=self.source,
            stock=count(self.text(cells, "stock")),
            grade=grade(self.text(cells, "grade"), code, self.text(cells, "description")),
            lifecycle=lifecycle(self.text(cells, "lifecycle")),
            last_buy=day(self.text(cells, "last_buy")),
            reel=count(self.text(cells, "reel")) or None,
            least=count(self.text(cells, "least")) or None,
            lead_weeks=weeks(self.text(cells, "lead"), in_days=self._in_days),
        )
        return ""

    def text(self, cells: Sequence[str], field: str) -> str:
        """What a row says of a field; empty where the list has no such column."""
        at = self._fields.get(field)
        return CONTROLS.sub("", cells[at]).strip()[:300] if at is not None and at < len(cells) else ""

    def breaks(self, cells: Sequence[str]) -> dict[int, float]:
        """The prices of a row, by the quantity from which each holds."""
        found: dict[int, float] = {}
        for quantity, at in self._wide:
            price = self._price(cells[at]) if at < len(cells) else None
            if price is not None:
                found[quantity] = price
        for quantity_at, price_at in self._paired:
            if max(quantity_at, price_at) < len(cells):
                start, price = count(cells[quantity_at]), self._price(cells[price_at])
                if start and price is not None:
                    found[start] = price
        if not found:
            found = breaks_in_cell(self.text(cells, "prices") or self.text(cells, "price"))
        if not found:
            price = self._price(self.text(cells, "price"))
            if price is not None:
                price /= self.columns.per * (count(self.text(cells, "per")) or 1)
                found[count(self.text(cells, "quantity")) or count(self.text(cells, "least")) or 1] = price
        currency = self.text(cells, "currency")
        if currency:
            self.currencies.add(currency[:10])
        return {start: price for start, price in sorted(found.items()) if price > 0}

    def _price(self, cell: str) -> float | None:
        for sign, name in SIGNS:
            if sign in cell:
                self.currencies.add(name)
        return price_in(cell)
