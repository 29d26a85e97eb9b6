"""Offers and prices pasted or dropped as a table: its columns shown, what they give shown, then put into the study."""

from __future__ import annotations

import csv
import io
import shlex
import tempfile
import tomllib
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

from landwise.costs.offers import Offer
from landwise.errors import InputError, LandwiseError
from landwise.fabdata.grids import SPREADSHEETS, decode
from landwise.fabdata.offercolumns import FIELDS, columns_of, spelled
from landwise.fabdata.offerlists import PriceRow, read_header, read_offers, read_price_rows
from landwise.outlines import find
from landwise.quantities import significant
from landwise.study.offers import of_part, offer_data, wanted_by
from landwise.workbench.boardmend import rewritten, study_of
from landwise.workbench.boardtoml import Value

LARGEST_TABLE = 1_000_000  # characters: it goes to the page and back; longer lists are for the command line
MOST_TAKEN = 1_000  # offers or prices put into a study at once
MOST_SHOWN = 40
REFERENCES = {
    *("reference", "references", "ref", "refs", "refdes", "designator", "designators"),
    *("referenz", "referenzen", "repere", "riferimento", "referencia"),
}
NAMES: Mapping[str, str] = {
    "order_code": "Order code",
    "package": "Package",
    "price": "Price",
    "per": "Price is for so many",
    "quantity": "From a quantity of",
    "prices": "Prices in one cell",
    "currency": "Currency",
    "maker": "Maker",
    "description": "Description",
    "stock": "Stock",
    "least": "Least order",
    "reel": "Reel or pack",
    "lead": "Lead time",
    "lifecycle": "Lifecycle",
    "last_buy": "Last day to buy",
    "grade": "Grade",
}
OF_PRICES = ("order_code", "package", "price", "per", "quantity", "prices")


@dataclass(frozen=True)
class ShownColumn:
    """One field and the column that holds it: its key, its name, the heading or nothing."""

    field: str
    name: str
    heading: str


@dataclass(frozen=True)
class ShownRow:
    """What one offer, or one price, gives: parts, package, order code or the words written, prices, the rest."""

    parts: str
    package: str
    code: str
    prices: str
    more: str


@dataclass
class Table:
    """A table as it was read, before anything is taken.

    Parameters
    ----------
    text, called : str
        The table, and what to call it.
    by_part : bool
        Whether its rows are prices by reference and package, and not offers by order code.
    headings : list of str
    columns : list of ShownColumn
    rows : list of ShownRow
        The first of what would be taken.
    count, read : int
        What would be taken, and rows read.
    left : list of (int, str, str)
        The first rows left out: row below the headings, what it names, why. `left_count` are left out in all.
    notes : list of str
    commands : list of str
        What gives the same on the command line.
    errors : dict
        By field of the form.
    """

    text: str
    called: str
    by_part: bool = False
    headings: list[str] = field(default_factory=list)
    columns: list[ShownColumn] = field(default_factory=list)
    rows: list[ShownRow] = field(default_factory=list)
    count: int = 0
    read: int = 0
    left: list[tuple[int, str, str]] = field(default_factory=list)
    left_count: int = 0
    notes: list[str] = field(default_factory=list)
    commands: list[str] = field(default_factory=list)
    errors: dict[str, str] = field(default_factory=dict)
    data: dict[str, Value] = field(default_factory=dict)


def table_text(name: str, content: bytes) -> str:
    """The text of an uploaded table; a spreadsheet's as values between tabs.

    Raises
    ------
    LandwiseError
        With `table` as its place, if it can't be read or is too long for a page.
    """
    try:
        if content.startswith(SPREADSHEETS):
            with _laid_down(name, content) as path:
                header, rows = read_header(path)
                made = io.StringIO()
                csv.writer(made, delimiter="\t", lineterminator="\n").writerows([header, *rows])
                text = made.getvalue()
        else:
            text = decode(content, name)
    except LandwiseError as error:
        raise InputError(error.message, place="table", found=error.found, expected=error.expected) from None
    if len(text) > LARGEST_TABLE:
        raise InputError(
            "too long for this page",
            place="table",
            found=f"{len(text) / 1e6:.1f} MB of text",
            expected="at most 1 MB; for longer lists landwise offers LIST --study board.toml -o offers.toml",
        )
    return text


@contextmanager
def _laid_down(name: str, content: bytes) -> Iterator[Path]:
    """A table as a file of its own name for the readers, which take files."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / name
        path.write_bytes(content)
        yield path


def read_table(study: str, text: str, called: str, own: Mapping[str, str] | None = None, *, by: str = "") -> Table:
    """A pasted table, its columns as found or as told, and what it would give to the study.

    Parameters
    ----------
    study, text : str
        The study as it stands, and the table.
    called : str
        A file name to call the table by.
    own : mapping of str to str
        Field to heading, as the page's form says it; an empty heading leaves the field out.
    by : str
        `code` for offers by order code, `part` for prices by reference and package; as the headings say where empty.
    """
    made = Table(text, called)
    if not text.strip():
        made.errors["table"] = "Paste a table, or choose a file: its first row names its columns."
        return made
    if len(text) > LARGEST_TABLE:
        made.errors["table"] = "The table is too long for this page: at most 1 MB of text."
        return made
    with _laid_down(called, text.encode()) as path:
        try:
            header, _ = read_header(path)
        except LandwiseError:
            made.errors["table"] = (
                "No row of headings was found. The first row names the columns,"
                " such as Manufacturer Part Number, Package, Price."
            )
            return made
        made.headings = list(dict.fromkeys(one for one in header if one))
        told = _own(made.headings, own, by)
        made.by_part = by == "part" or (not by and not own and _by_part(made.headings))
        if not told.get("order_code") and not _has_codes(made.headings, told):
            what = "references" if made.by_part else "order codes"
            made.errors["column.order_code"] = f"Choose the column that holds the {what}."
            made.columns = _columns({**told, "order_code": ""}, made.by_part)
            return made
        try:
            if made.by_part:
                _price_rows(made, study, path, told)
            else:
                _offers(made, study, path, told)
        except InputError as error:
            place = error.place if error.place in NAMES else "order_code"
            made.errors[f"column.{place}"] = (
                "Choose the column that holds the packages." if place == "package" else f"{error.message.capitalize()}."
            )
            made.columns = _columns(told, made.by_part)
    return made


def _own(headings: Sequence[str], own: Mapping[str, str] | None, by: str) -> dict[str, str]:
    """What the form says of the columns; where it says nothing of prices by part, the column of references."""
    if own:
        return {name: heading for name, heading in own.items() if not heading or heading in headings}
    reference = next((one for one in headings if spelled(one) in REFERENCES), "")
    return {"order_code": reference} if reference and (by == "part" or (not by and _by_part(headings))) else {}


def _by_part(headings: Sequence[str]) -> bool:
    return any(spelled(one) in REFERENCES for one in headings) and not _has_codes(headings, {})


def _has_codes(headings: Sequence[str], own: Mapping[str, str]) -> bool:
    try:
        columns_of(headings, own)
    except InputError:
        return False
    return True


def _columns(table: Mapping[str, str], by_part: bool) -> list[ShownColumn]:
    """The fields to choose a column for, those of price breaks with the others."""
    names = OF_PRICES if by_part else tuple(NAMES)
    breaks = [name for name in table if name not in FIELDS]
    found = []
    for name in (*names[:3], *breaks, *names[3:]):
        said = "Reference" if by_part and name == "order_code" else NAMES.get(name) or name.capitalize()
        found.append(ShownColumn(name, said, table.get(name, "")))
    return found


def _offers(made: Table, study: str, path: Path, own: Mapping[str, str]) -> None:
    content = study_of(study).content
    found = read_offers(path, own, source=path.stem, wanted=wanted_by(content.part))
    made.columns, made.read = _columns(found.columns.table(), False), found.rows
    made.count, made.left = len(found.offers), list(found.left)
    made.left_count = sum(found.unread.values())
    made.notes = list(found.notes)
    for one in found.offers[:MOST_SHOWN]:
        # Parts as the study takes it: all of the number, of this family or of none stated.
        refs = [ref for part in content.part if of_part([one], part.number, part.family) for ref in part.refs]
        made.rows.append(ShownRow(" ".join(refs), one.outline, one.order_code, _said(one.breaks), _more(one)))
    made.data = {"offer": [offer_data(one) for one in found.offers]}
    columns = "".join(f" --column {shlex.quote(f'{one}={head}')}" for one, head in own.items())
    made.commands = [
        f"landwise offers {shlex.quote(made.called)} --study board.toml -o offers.toml{columns}",
        'offers = ["offers.toml"]   # in board.toml, in place of these [[offer]] tables',
        "landwise study board.toml -o out/",
    ]


def _said(breaks: Mapping[int, float]) -> str:
    return " / ".join(f"{start}: {significant(price)}" for start, price in breaks.items()) or "no price"


def _more(one: Offer) -> str:
    bits = (one.maker, f"{one.stock} in stock" if one.stock is not None else "", one.lifecycle, one.grade)
    return ", ".join(bit for bit in bits if bit)


def _price_rows(made: Table, study: str, path: Path, own: Mapping[str, str]) -> None:
    columns, rows = read_price_rows(path, own)
    made.columns, made.read = _columns(columns.table(), True), len(rows)
    parts = study_of(study).content.part
    at = {ref: number for number, part in enumerate(parts) for ref in part.refs}
    taken: dict[int, dict[str, Mapping[int, float]]] = {}
    for one in rows:
        why, outline = _unusable(one, at)
        if why:
            made.left.append((one.row, f"{one.part} {one.package}".strip(), why))
            continue
        number = at[one.part]
        taken.setdefault(number, {})[outline] = {**taken.get(number, {}).get(outline, {}), **one.breaks}
        made.rows.append(ShownRow(" ".join(parts[number].refs), outline, one.package, _said(one.breaks), ""))
    made.left_count, made.left = len(made.left), made.left[:MOST_SHOWN]
    made.count, made.rows = len(made.rows), made.rows[:MOST_SHOWN]
    for number in taken:
        if parts[number].options == "any":
            made.notes.append(
                f"{parts[number].refs[0]} will come in the packages of this table only; now it may come in all that the"
                " catalogue has"
            )
    made.data = {"prices": taken}
    made.commands = ["landwise study board.toml -o out/"]


def _unusable(one: PriceRow, at: Mapping[str, int]) -> tuple[str, str]:
    """Why a row of prices can't be taken, or its package's name."""
    if one.part not in at:
        return "no such reference on the board", ""
    if not one.breaks:
        return "no price that can be read", ""
    try:
        return "", find(one.package).name
    except LandwiseError:
        return "no such package in the catalogue", ""


def taken(study: str, made: Table) -> tuple[str, str]:
    """The study with what a table gives; its text, and what was done.

    Offers of the same order code, maker and source take the place of those that stand there.

    Raises
    ------
    InputError
        With `table` as its place, if there is nothing to take, or too much.
    """
    if made.errors or not made.count:
        raise InputError("there is nothing in this table to take", place="table", expected="look at what was left out")
    if made.count > MOST_TAKEN:
        raise InputError(
            "too many rows to take", place="table", found=str(made.count), expected=f"at most {MOST_TAKEN}"
        )
    data = tomllib.loads(study)
    if "offer" in made.data:
        new = made.data["offer"]
        names = {_name(one) for one in new}
        data["offer"] = [*(one for one in data.get("offer", []) if _name(one) not in names), *new]
        return rewritten(study, data), f"{made.count} offers taken from {made.called}"
    for number, prices in made.data["prices"].items():
        part = data["part"][number]
        old = part.get("options")
        options = {one["outline"]: dict(one) for one in old} if isinstance(old, list) else {}
        for outline, breaks in prices.items():
            kept = {key: value for key, value in options.get(outline, {}).items() if key not in ("price", "prices")}
            said = (
                {"price": breaks[1]} if list(breaks) == [1] else {"prices": {str(n): one for n, one in breaks.items()}}
            )
            options[outline] = {"outline": outline, **said, **kept}
        part["options"] = list(options.values())
    return rewritten(study, data), f"{made.count} prices taken from {made.called}"


def _name(one: Mapping[str, Value]) -> tuple[str, str, str]:
    return one["order_code"], one.get("maker", ""), one.get("source", "")


def sources(study: str) -> list[tuple[str, int]]:
    """What the study's own offers come from, with how many there are."""
    count = Counter(one.get("source", "") for one in tomllib.loads(study).get("offer", []))
    return sorted(count.items())


def without_source(study: str, source: str) -> tuple[str, str]:
    """The study without the offers of one source; its text, and what was done."""
    data = tomllib.loads(study)
    left = [one for one in data.get("offer", []) if one.get("source", "") != source]
    gone = len(data.get("offer", [])) - len(left)
    if not gone:
        raise InputError("no offers of this source", place="source", found=repr(source[:60]))
    if left:
        data["offer"] = left
    else:
        del data["offer"]
    return rewritten(study, data), f"{gone} offers of {source or 'no source'} taken out"
