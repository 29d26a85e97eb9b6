"""Bills of materials: lines with their references, read from whatever table they come in."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from types import MappingProxyType

from landwise.errors import InputError
from landwise.fabdata.grids import Grid, heading_word
from landwise.fabdata.leftout import left_out
from landwise.fabdata.packages import read_package
from landwise.fabdata.partnumbers import read_number
from landwise.fabdata.references import expand, looks_like_references
from landwise.fabdata.tables import HeadedTable, Row, read_headed

# Header spellings without case, blanks and signs, most usual first.
FIELDS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        name: tuple(words.split())
        for name, words in {
            "references": "reference references refdes designator designators ref refs location locations parts"
            " partreference referencedesignator referencedesignators refdesignator position"
            " positions bauteil bauteile teil teile bauelement bauelemente pos referenz referenzen"
            " repere reperes referencia riferimento circuitref refdesig refdesg"
            " referencedesignation partref partrefs componentreference symbol bauteilname"
            " customerreference kundenreferenz positie oznaczenie referens beteckning 位置 참조번호"
            " 位号 标号 元件标号 位置号 記号 部品記号 回路記号 参照名 リファレンス 回路番号 позобозначение обозначение",
            "quantity": "qty quantity count menge anzahl anz pcs amount quantite cantidad qtyper qtyboard stk"
            " qtyperboard quantityperboard qtypcb stuck stuckzahl stueckzahl quant number no"
            " totalqty aantal quantita quantidade ilosc antal 数量 數量 수량 用量 個数 員数 количество колво",
            "value": "value val comment designation parttype wert valeur valor componentvalue typ"
            " bezeichner artikel valuecomment descriptionvalue name partname component libref"
            " componentname librarypart nennwert waarde valore 参数 值 规格 規格 定数 値 номинал",
            "footprint": "footprint package packagefootprint pcbfootprint footprintname case casepackage"
            " packagecase gehause bauform boitier encapsulado housing packagetype decal pcbpackage"
            " pcbdecal pattern landpattern behuizing contenitore encapsulamento obudowa kapsel 패키지"
            " 封装 封裝 パッケージ 外形 形状 корпус",
            "part_number": "mpn mpn1 manufacturerpartnumber manufacturerpartnumber1 mfrpartnumber mfgpartnumber"
            " manufacturerpart manufacturepn manufacturerpn mfrpn mfgpn partnumber part# partno"
            " mfrpart# manufacturerpart# mfr# pn herstellernummer bestellnummer orderingcode"
            " ordercode device herstellerteilenummer artikelnummer typenbezeichnung manufacturerno"
            " manufacturerpartno mfrpartno mfgpartno mfgpart mfrpart mfgpart# manufacturer#"
            " manufacturernumber manufpn manpn partcode devicename part"
            " referencefabricant referencedufabricant referenceconstructeur reffabricant codiceproduttore"
            " referenciadelfabricante numerodepartedelfabricante fabrikantnummer codigofabricante codigodofabricante"
            " numerproducenta tillverkarensartikelnummer 料號 제조사부품번호"
            " 厂商型号 制造商型号 厂家型号 制造商零件编号 型号 料号 メーカー型番 型番"
            " 型式 部品型番 製造元部品番号 部品番号 артикул",
            "description": "description desc partdescription details beschreibung bezeichnung bemerkung"
            " bemerkungen descripcion libpart notes descrizione omschrijving descr itemdescription"
            " componentdescription longdescription note remarks remark comments remarque remarques observaciones"
            " descricao opis beskrivning opmerking opmerkingen uwagi anmarkning observacoes 품명 비고"
            " 描述 名称 品名 元件名称 部品名 说明 説明 品目 наименование описание 备注 備註 備考 примечание",
            "category": "componenttype category type kind class group art parttypename 类型 类别 種類 分類",
            "maker": "manufacturer mfr mfg maker hersteller vendor fabricant manufacturer1 brand"
            " fabricante produttore fabrikant producent tillverkare"
            " 廠牌 제조사 厂家 厂商 制造商 品牌 メーカー メーカ 製造元 производитель",
            "fitted": "dnp dni fitted assemblyinfo populate mount nostuff dnf donotpopulate assemble"
            " bestuckt bestuckung populated mounted placed place fit install installed notfitted"
            " donotfit donotplace dns nopop nf stuffing assembly assemblystatus fitting"
            " monte amonter montage equipe montado montar montato montare plaatsen montowac monteras"
            " 贴装 是否贴装 是否贴片 実装 実装有無 установка",
            "price": "price unitprice cost unitcost preis einzelpreis stuckpreis prix 单价 単価 价格 цена",
            "order_note": "possiblesourcesandnotes supplierandref supplierpart supplierpartnumber"
            " supplierpartnumber1 mouser sourcing",
        }.items()
    }
)
MOST = 0.6  # of a column's cells decide what it is, where no header tells
MOST_REFERENCES = 200_000
LONGEST_TEXT = 2000  # of one cell: longer ones are cut before they are searched


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
    """A whole bill, with notes on how it was read and problems that a reader should look at.

    `unplaced` holds the lines that name no reference: screws, boards, spares.
    """

    file: str
    columns: Mapping[str, str]
    lines: tuple[BillLine, ...]
    notes: tuple[str, ...]
    problems: tuple[str, ...]
    unplaced: tuple[BillLine, ...] = ()


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
    table = read_headed(
        path,
        FIELDS,
        key="references",
        what="a bill of materials",
        guess=_columns_by_content,
        is_key=looks_like_references,
    )
    table = _makers_number_first(table)
    if not {"value", "part_number", "description", "footprint"} & set(table.columns):
        raise InputError(
            "the bill says nothing about its parts",
            file=table.file,
            found=", ".join(table.columns.values()),
            expected="a column such as Value, Part Number, Description or Footprint",
        )
    lines, unplaced, notes, problems = _lines(table)
    if not lines:
        raise InputError("no line of the bill names a reference", file=table.file, expected="references such as U1, R3")
    return Bill(table.file, table.columns, tuple(lines), (*table.notes, *notes), tuple(problems), tuple(unplaced))


# Headings of numbers that are a house's own as often as a maker's.
_ANYONES_NUMBER = frozenset(
    [
        *("partnumber", "part#", "partno", "pn", "bestellnummer", "orderingcode", "ordercode", "device"),
        *("artikelnummer", "typenbezeichnung", "partcode", "devicename", "part", "料号", "部品番号"),
    ]
)


def _makers_number_first(table: HeadedTable) -> HeadedTable:
    """Where a column of makers' numbers stands behind one of the house's own numbers, the two change places."""
    held = table.columns.get("part_number", "")
    makers = next(
        (
            heading
            for heading in table.extra
            if heading_word(heading) in FIELDS["part_number"] and heading_word(heading) not in _ANYONES_NUMBER
        ),
        "",
    )
    if not makers or heading_word(held) not in _ANYONES_NUMBER:
        return table
    kept, own = f"+ {makers}", f"+ {held}"
    rows = tuple(
        replace(
            row,
            cells={name: text for name, text in row.cells.items() if name not in (kept, "part_number")}
            | {"part_number": row.cells.get(kept, ""), own: row.cells.get("part_number", "")},
        )
        for row in table.rows
    )
    extra = tuple(held if heading == makers else heading for heading in table.extra)
    return replace(table, columns={**table.columns, "part_number": makers}, extra=extra, rows=rows)


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


def _lines(table: HeadedTable) -> tuple[list[BillLine], list[BillLine], list[str], list[str]]:
    notes: list[str] = []
    problems: list[str] = []
    rows, section_note = _sections(table.rows)
    if section_note:
        notes.append(section_note)
    heading = table.columns.get("fitted", "")
    lines: list[BillLine] = []
    unplaced: list[BillLine] = []
    total = 0
    for row in rows:
        references = _expand(row, table.file)
        total += len(references)
        if total > MOST_REFERENCES:
            raise InputError(
                "too many references",
                file=table.file,
                place=f"row {row.number}",
                found=f"more than {MOST_REFERENCES}",
                expected="a bill of one board",
            )
        if not references:
            said = "; ".join(value for value in row.cells.values() if value)[:70]
            if said:
                problems.append(f"row {row.number}: no reference, kept out of the parts ({said})")
                unplaced.append(_line(row, (), heading))
        elif lines and _goes_on(row, lines[-1]):
            last = lines.pop()
            lines.append(replace(last, references=tuple(dict.fromkeys((*last.references, *references)))))
            notes.append(f"row {row.number} holds more references of row {last.row}")
        else:
            lines.append(_line(row, references, heading))
    problems += _miscounts(lines) + _repeats(lines)
    return lines, unplaced, notes, problems


def _expand(row: Row, file: str) -> tuple[str, ...]:
    try:
        return expand(row.cells.get("references", ""))
    except InputError as error:
        raise error.within(file=file, place=f"row {row.number}") from None


def _goes_on(row: Row, last: BillLine) -> bool:
    """Whether a row only carries on the references of the line before, as old exports wrap them."""
    alone = not any(value for name, value in row.cells.items() if name != "references")
    return alone and last.quantity is not None and len(last.references) < last.quantity


def _miscounts(lines: list[BillLine]) -> list[str]:
    return [
        f"row {line.row}: quantity {line.quantity}, but {len(line.references)} references ({_few(line.references)})"
        for line in lines
        if line.quantity is not None and line.quantity != len(line.references)
    ]


def _few(references: tuple[str, ...]) -> str:
    return ", ".join(references[:4]) + ("…" if len(references) > 4 else "")


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


def _line(row: Row, references: tuple[str, ...], heading: str) -> BillLine:
    cells = {name: value[:LONGEST_TEXT] for name, value in row.cells.items() if value}
    texts = {name: value for name, value in cells.items() if not name.startswith("+ ") and value not in ("~", "-")}
    extra = {name[2:]: value for name, value in cells.items() if name.startswith("+ ")}
    return BillLine(
        row.number,
        references,
        _count(cells.get("quantity", "")),
        MappingProxyType(texts),
        left_out(cells, references, heading, is_text=_is_text),
        read_price(cells.get("price", "")),
        MappingProxyType(extra),
    )


_TEXTS = frozenset((*FIELDS["description"], *FIELDS["value"]))


def _is_text(name: str) -> bool:
    """Whether a column kept aside is one of texts: those of variants say nothing about this board."""
    return name.startswith("+ ") and heading_word(name[2:]) in _TEXTS


def _count(text: str) -> int | None:
    match = re.fullmatch(r"\s*(\d{1,6})(?:[.,]0+)?\s*", text)
    return int(match[1]) if match else None


def read_price(text: str) -> float | None:
    """A price with a decimal point or comma, and with or without thousands marked.

    >>> read_price("1.234,56 €"), read_price("$1,234.50"), read_price("0,12"), read_price("on request")
    (1234.56, 1234.5, 0.12, None)
    """
    match = re.search(r"\d[\d.,' ]*", text)
    if not match:
        return None
    number = re.sub(r"[' ]", "", match[0]).rstrip(".,")
    mark = max(number.rfind("."), number.rfind(","))
    if mark < 0:
        return float(number)
    whole, decimals = re.sub(r"[.,]", "", number[:mark]), number[mark + 1 :]
    return float(f"{whole or 0}.{decimals}")


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
            (seated if sockets & set(where) else twice).append(
                f"{ref} (rows {', '.join(map(str, where[:5]))}{'…' if len(where) > 5 else ''})"
            )
    found = []
    if seated:
        found.append(f"{len(seated)} references have a row for the part and one for its socket: {seated[0]} and so on")
    if twice:
        found.append(
            f"stand in more than one row: {', '.join(twice[:10])}"
            + (f" and {len(twice) - 10} more" if len(twice) > 10 else "")
        )
    return found
