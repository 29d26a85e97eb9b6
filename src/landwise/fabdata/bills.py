"""Bills of materials: lines with their references, read from whatever table they come in."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from types import MappingProxyType

from landwise.errors import InputError
from landwise.fabdata.logic import read_number
from landwise.fabdata.packages import read_package
from landwise.fabdata.references import expand, looks_like_references
from landwise.fabdata.tables import Grid, HeadedTable, Row, read_headed

# Header spellings without case, blanks and signs, most usual first.
FIELDS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "references": (
            "reference", "references", "refdes", "designator", "designators", "ref", "refs", "location", "locations",
            "parts", "partreference", "referencedesignator", "referencedesignators", "refdesignator", "position", "positions",
            "bauteil", "bauteile", "teil", "teile", "bauelement", "bauelemente", "pos", "referenz", "referenzen", "repere", "reperes", "referencia", "riferimento", "circuitref",
        ),
        "quantity": ("qty", "quantity", "count", "menge", "anzahl", "anz", "pcs", "amount", "quantite", "cantidad", "qtyper", "qtyboard", "stk"),
        "value": (
            "value", "val", "comment", "designation", "parttype", "wert", "valeur", "valor", "componentvalue", "typ", "bezeichner", "artikel", "valuecomment",
            "descriptionvalue", "name", "partname", "component", "libref",
        ),
        "footprint": (
            "footprint", "package", "packagefootprint", "pcbfootprint", "footprintname", "case", "casepackage", "packagecase",
            "gehause", "gehäuse", "bauform", "boitier", "encapsulado", "housing", "packagetype", "decal",
        ),
        "part_number": (
            "mpn", "manufacturerpartnumber", "manufacturerpartnumber1", "mfrpartnumber", "mfgpartnumber", "manufacturerpart",
            "manufacturepn", "manufacturerpn", "mfrpn", "mfgpn", "partnumber", "part#", "partno", "mfrpart#", "manufacturerpart#",
            "mfr#", "pn", "herstellernummer", "bestellnummer", "orderingcode", "ordercode", "device",
        ),
        "description": ("description", "desc", "partdescription", "details", "beschreibung", "bezeichnung", "bemerkung", "bemerkungen", "descripcion", "libpart", "notes"),
        "category": ("componenttype", "category", "type", "kind", "class", "group", "art", "parttypename"),
        "maker": ("manufacturer", "mfr", "mfg", "maker", "hersteller", "vendor", "fabricant", "manufacturer1", "brand"),
        "fitted": ("dnp", "dni", "fitted", "assemblyinfo", "populate", "mount", "nostuff", "dnf", "donotpopulate", "assemble", "bestuckt"),
        "price": ("price", "unitprice", "cost", "unitcost", "preis", "einzelpreis", "stuckpreis", "prix"),
        "order_note": ("possiblesourcesandnotes", "supplierandref", "supplierpart", "supplierpartnumber", "supplierpartnumber1", "mouser", "sourcing"),
    }
)  # fmt: skip
MOST = 0.6  # of a column's cells decide what it is, where no header tells
_NOT_FITTED = re.compile(
    r"\b(dnp|dni|dnf|nf|no|not fitted|do not (?:populate|fit)|nostuff|no stuff|nicht bestückt)\b", re.I
)
_SOME_NOT_FITTED = re.compile(r"\b(?:NF|DNP|DNI|DNF)\s*\(([^)]*)\)", re.I)
_FITTED_YES = re.compile(r"^(1|y|yes|true|x|fitted|populate|ja)$", re.I)


@dataclass(frozen=True)
class BillLine:
    """One line of a bill: where it stood, its references, and its texts by field."""

    row: int
    references: tuple[str, ...]
    quantity: int | None
    texts: Mapping[str, str]
    not_fitted: tuple[str, ...] = ()
    price: float | None = None
    extra: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))

    def text(self, name: str) -> str:
        """One field, or an empty text."""
        return self.texts.get(name, "")


@dataclass(frozen=True)
class Bill:
    """A whole bill, with notes on how it was read and problems that a reader should look at."""

    file: str
    columns: Mapping[str, str]
    lines: tuple[BillLine, ...]
    notes: tuple[str, ...]
    problems: tuple[str, ...]


def read_bill(path: str | Path) -> Bill:
    """Read a bill of materials.

    Parameters
    ----------
    path : str or Path
        CSV of any delimiter, text in columns, or a spreadsheet; columns in any order.

    Raises
    ------
    FileError
        Missing, a folder, empty, too large, or not text.
    InputError
        No column of references, nothing beside it, or no line with a reference.
    """
    table = read_headed(path, FIELDS, key="references", what="a bill of materials", guess=_columns_by_content)
    if not {"value", "part_number", "description", "footprint"} & set(table.columns):
        raise InputError(
            "the bill says nothing about its parts",
            file=table.file,
            found=", ".join(table.columns.values()),
            expected="a column such as Value, Part Number, Description or Footprint",
        )
    lines, notes, problems = _lines(table)
    if not lines:
        raise InputError("no line of the bill names a reference", file=table.file, expected="references such as U1, R3")
    return Bill(table.file, table.columns, tuple(lines), (*table.notes, *notes), tuple(problems))


def _columns_by_content(rows: Grid) -> list[str] | None:
    """Names for the columns of a bill without a header, by what most of their cells look like."""
    body = [cells for _, cells in rows if sum(bool(cell.strip()) for cell in cells) >= 2]
    if len(body) < 2:
        return None
    width = max(map(len, body))
    names = [""] * width
    tests: tuple[tuple[str, Callable[[str], bool]], ...] = (
        ("Reference", looks_like_references),
        ("Package", lambda cell: read_package(cell) is not None and read_number(cell) is None),
        ("Quantity", lambda cell: bool(re.fullmatch(r"\d{1,4}", cell.strip()))),
    )
    for name, fits in tests:
        shares = [_share(body, at, fits) if not names[at] else 0.0 for at in range(width)]
        best = max(range(width), key=lambda at: shares[at])
        if shares[best] > MOST:
            names[best] = name
    if "Reference" not in names:
        return None
    texts = iter(("Value", "Description", "Part Number"))
    return [
        name or (next(texts, "") if _share(body, at, lambda cell: bool(re.search("[A-Za-z]", cell))) > 0 else "")
        for at, name in enumerate(names)
    ]


def _share(body: list[list[str]], at: int, fits: Callable[[str], bool]) -> float:
    filled = [cells[at] for cells in body if at < len(cells) and cells[at].strip()]
    return sum(map(fits, filled)) / len(filled) if filled else 0.0


def _lines(table: HeadedTable) -> tuple[list[BillLine], list[str], list[str]]:
    notes: list[str] = []
    problems: list[str] = []
    rows, section_note = _sections(table.rows)
    if section_note:
        notes.append(section_note)
    lines = []
    for row in rows:
        references = expand(row.cells.get("references", ""))
        if not references:
            if any(value for name, value in row.cells.items() if name not in ("references",)):
                said = "; ".join(value for value in row.cells.values() if value)[:70]
                problems.append(f"row {row.number}: no reference, kept out of the parts ({said})")
            continue
        lines.append(_line(row, references, problems))
    problems += _repeats(lines)
    return lines, notes, problems


def _sections(rows: tuple[Row, ...]) -> tuple[list[Row], str]:
    """One section of a bill that lists the same parts twice (each alone, then grouped)."""
    numbers = sorted({row.section for row in rows})
    if len(numbers) < 2:
        return list(rows), ""
    held = {
        n: {ref for row in rows if row.section == n for ref in expand(row.cells.get("references", ""))} for n in numbers
    }
    last, before = numbers[-1], numbers[-2]
    if held[last] and held[last] == held[before]:
        return [
            row for row in rows if row.section == last
        ], "the parts are listed twice, alone and grouped: the groups are used"
    return list(rows), f"{len(numbers)} sections with headers of their own were joined"


def _line(row: Row, references: tuple[str, ...], problems: list[str]) -> BillLine:
    cells = row.cells
    quantity = _count(cells.get("quantity", ""))
    if quantity is not None and quantity != len(references):
        problems.append(
            f"row {row.number}: quantity {quantity}, but {len(references)} references ({', '.join(references[:4])}…)"
        )
    texts = {name: value for name, value in cells.items() if not name.startswith("+ ") and value not in ("", "~", "-")}
    extra = {name[2:]: value for name, value in cells.items() if name.startswith("+ ") and value}
    return BillLine(
        row.number,
        references,
        quantity,
        MappingProxyType(texts),
        _not_fitted(cells, references),
        _price(cells.get("price", "")),
        MappingProxyType(extra),
    )


def _not_fitted(cells: Mapping[str, str], references: tuple[str, ...]) -> tuple[str, ...]:
    flag = cells.get("fitted", "")
    some = _SOME_NOT_FITTED.search(flag)
    if some:
        named = set(expand(some[1]))
        return tuple(ref for ref in references if ref in named)
    if _NOT_FITTED.search(flag) or cells.get("value", "").strip().upper() in ("DNP", "DNI", "DNF", "NF"):
        return references
    return ()


def _count(text: str) -> int | None:
    match = re.fullmatch(r"\s*(\d{1,6})(?:[.,]0+)?\s*", text)
    return int(match[1]) if match else None


def _price(text: str) -> float | None:
    match = re.search(r"\d+(?:[.,]\d+)?", text)
    return float(match[0].replace(",", ".")) if match else None


def _repeats(lines: list[BillLine]) -> list[str]:
    """References that stand in several rows: sockets with their parts in one note, anything else by name."""
    rows: dict[str, list[int]] = {}
    for line in lines:
        for ref in line.references:
            rows.setdefault(ref, []).append(line.row)
    sockets = {line.row for line in lines if any(re.search(r"\bsocket\b", text, re.I) for text in line.texts.values())}
    seated: list[str] = []
    twice: list[str] = []
    for ref, where in rows.items():
        if len(where) > 1:
            (seated if sockets & set(where) else twice).append(f"{ref} (rows {', '.join(map(str, where))})")
    found = []
    if seated:
        found.append(f"{len(seated)} references have a row for the part and one for its socket: {seated[0]} and so on")
    if twice:
        found.append(
            f"stand in more than one row, all are kept: {', '.join(twice[:10])}"
            + (f" and {len(twice) - 10} more" if len(twice) > 10 else "")
        )
    return found
