"""The columns of a distributor's or assembler's list: which heading means what, and where the price breaks stand."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

from landwise.errors import InputError
from landwise.fabdata.grids import heading_word

FIELDS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        name: tuple(words.split())
        for name, words in {
            "order_code": "manufacturerpartnumber mfrpartnumber mfgpartnumber mpn manufacturerpart mfrpart"
            " mfrpart# mfr# manufacturerpartno mfrpartno orderingcode ordercode herstellernummer"
            " herstellerteilenummer herstellerteilenr herstellerartikelnummer herstellerartnr mfgpn mfrpn"
            " manufacturerpn partnumber part# partno productnumber part component"
            " referencefabricant referencedufabricant referenceconstructeur reffabricant codiceproduttore"
            " codicedelproduttore numerodepartedelfabricante referenciadelfabricante codigofabricante"
            " codigodofabricante fabrikantonderdeelnummer fabrikantnummer teilenummer teilenr bestellnummer bestellnr",
            "maker": "manufacturer maker manufacturername mfr mfrname mfg brand hersteller fabricant supplier"
            " constructeur produttore fabbricante fabricante fabrikant",
            "package": "package packagecase supplierdevicepackage packagetype case casestyle footprint gehause bauform"
            " boitier contenitore package encapsulado encapsulamento behuizing",
            "description": "description productdescription partdescription desc beschreibung details"
            " bezeichnung designation descrizione descripcion descricao omschrijving",
            "stock": "stock instock quantityavailable availability available qtyavailable availablestock"
            " inventory inventoryqty verfugbar stockqty onhand stockquantity lagerbestand bestand lager"
            " quantitedisponible disponible disponibilite disponibilita disponibili giacenza existencias"
            " disponibilidad disponivel estoque voorraad",
            "least": "moq minqty minimumquantity minimumorderquantity minorderqty minimumorder minimum mindestmenge"
            " mindestbestellmenge"
            " qtemin quantiteminimale qtamin quantitaminima cantidadminima minimumafname",
            "reel": "reelqty reelquantity reel packagequantity packageqty packqty spq standardpackqty"
            " standardpackage mpq standardpackquantity packunit verpackungseinheit vpe",
            "lead": "leadtime leadtimeweeks leadweeks leadtimedays leaddays factoryleadtime"
            " manufacturerleadtime mfrstandardleadtime manufacturerstandardleadtime lieferzeit"
            " lieferzeitwochen delai delaidelivraison delaidefabrication tempidiconsegna plazo plazodeentrega"
            " levertijd",
            "lifecycle": "lifecycle lifecyclestatus partstatus productstatus productlifecycle status",
            "last_buy": "lastbuy lastbuydate lasttimebuy lasttimebuydate ltb ltbdate lastorderdate lastorder",
            "grade": "grade qualification aec aecq100 qualified automotive",
            "quantity": "pricebreak breakqty breakquantity fromquantity fromqty staffel abmenge priceqty"
            " pricequantity quantity qty menge quantite quantita cantidad hoeveelheid",
            "price": "unitprice price unitcost cost preis einzelpreis stuckpreis unitpriceusd unitpriceeur"
            " priceusd priceeach prixunitaire prix prezzounitario prezzo preciounitario precio precounitario stukprijs"
            " prijs stueckpreis",
            "per": "per priceunit priceper priceperquantity preiseinheit preisproeinheit unitedeprix",
            "prices": "prices pricebreaks pricing pricelist staffelpreise pricetiers tarifs"
            " prixdegressifs prezziascaglioni preciosporvolumen",
            "currency": "currency wahrung curr devise valuta divisa moneda moeda",
        }.items()
    }
)
# Headings without Latin letters, whole.
WRITTEN: Mapping[str, str] = MappingProxyType(
    {
        word: field
        for field, words in {
            "order_code": "厂商型号 制造商型号 制造商零件编号 厂家型号 型号 メーカー型番 型番"
            " 製造元部品番号 제조사부품번호 артикул",
            "maker": "品牌 厂商 制造商 厂家 メーカー 製造元 제조사 производитель",
            "package": "封装 パッケージ 패키지 корпус",
            "description": "描述 商品描述 説明 설명 описание",
            "stock": "库存 库存数量 在庫 在庫数 재고 наличие",
            "price": "单价 价格 単価 단가 цена",
            "prices": "阶梯价 梯度价格",
            "least": "起订量 最小起订量 最小発注数量",
            "lead": "交期 货期 納期",
            "currency": "币种 货币 通貨 валюта",
        }.items()
        for word in words.split()
    }
)
REQUIRED = ("order_code",)
MOST_BREAKS = 30
_CURRENCIES = r"(?:US\$|USD|EUR|GBP|CHF|CNY|RMB|JPY|SEK|PLN|[$€£¥])"
_BREAK = re.compile(
    rf"(?:{_CURRENCIES}\s*)?(?:(?:unit\s*)?(?:price|preis|cost|ea)\s*)?[@(/\s]*(?:qty|ab|from|>=|≥)?\s*(?P<n>\d[\d,.']*)"
    rf"\s*(?P<k>k)?\s*(?:[-–~]\s*(?P<last>\d[\d,.']*)\s*k?\s*)?"
    rf"(?:\+|pcs?|ea|stk|stück|and up|up)?\s*[)]?(?:\s*[(]?{_CURRENCIES}[)]?)?",
    re.I,
)
# `Price per 100`, `Preis pro 1.000`, `EUR/1000`: one price for so many pieces.
_PER = re.compile(
    rf"(?:(?:unit\s*)?(?:price|preis|prix|prezzo|precio|prijs|cost)|{_CURRENCIES})\D{{0,12}}?"
    r"(?:\bper|\bpro|\bpar|\bpor|/)\s*(?P<n>\d[\d.,']*)\s*(?P<k>k)?\s*(?:pcs?|pieces|stk|stück|st)?\s*\W*(?:usd|eur|€|\$)?\W*",
    re.I,
)
_PAIRED_QUANTITY = re.compile(
    r"(?:price\s*)?(?:break|qty|quantity|menge|from|staffel|tier|ab)\D{0,12}?(?P<n>\d{1,2})", re.I
)
_PAIRED_PRICE = re.compile(r"(?:unit\s*)?(?:price|preis|cost)\D{0,12}?(?P<n>\d{1,2})", re.I)


@dataclass(frozen=True)
class Columns:
    """What the columns of a list mean.

    Parameters
    ----------
    fields : mapping of str to str
        Field to heading.
    wide : mapping of int to str
        Quantity to the heading of its price, where each price break has a column.
    paired : tuple of (str, str)
        Headings of a quantity and of the price that holds from it, where breaks stand in pairs of columns.
    passed : tuple of str
        Headings that mean nothing here.
    per : int
        Pieces that a price of the column `price` is for.
    """

    fields: Mapping[str, str]
    wide: Mapping[int, str]
    paired: tuple[tuple[str, str], ...]
    passed: tuple[str, ...]
    per: int = 1

    def table(self) -> dict[str, str]:
        """The mapping as plain data: what is shown, kept and read again."""
        found = dict(self.fields)
        found |= {f"price {quantity}": heading for quantity, heading in self.wide.items()}
        for at, (quantity, price) in enumerate(self.paired, 1):
            found |= {f"break {at}": quantity, f"break price {at}": price}
        return found


def columns_of(header: Sequence[str], own: Mapping[str, str] | None = None) -> Columns:
    """The columns of a header: a user's own mapping first, then known spellings.

    Parameters
    ----------
    header : sequence of str
    own : mapping of str to str
        Field to heading, as `Columns.table` writes it; an empty heading leaves the field out.

    Raises
    ------
    InputError
        For a field or heading that is not there, or without a column of order codes.

    Examples
    --------
    >>> found = columns_of(["Mfr Part #", "Manufacturer", "Stock", "1", "100", "1000+", "Notes"])
    >>> found.fields["order_code"], sorted(found.wide), found.passed
    ('Mfr Part #', [1, 100, 1000], ('Notes',))
    """
    own = dict(own or {})
    names = [cell.strip() for cell in header]
    fields, wide, paired = _own_columns(names, own)
    left = [name for name in names if name and name not in {*fields.values(), *wide.values(), *sum(paired, ())}]
    spellings = {spelling: field for field, words in FIELDS.items() for spelling in words}
    ranks = {spelling: rank for words in FIELDS.values() for rank, spelling in enumerate(words)}
    if not wide and not paired:
        paired = _paired(left)
        left = [name for name in left if name not in sum(paired, ())]
    if not wide and not paired:
        wide = _wide(left)
        left = [name for name in left if name not in wide.values()]
    for name in left:
        if _PER.fullmatch(name) and "price" not in fields and "price" not in own:
            fields["price"] = name
    for name in sorted(left, key=lambda name: ranks.get(spelled(name), 99)):
        field = spellings.get(spelled(name)) or WRITTEN.get(spelled(name))
        if field and field not in fields and field not in own:
            fields[field] = name
    for field in REQUIRED:
        if field not in fields:
            raise InputError(
                "no column of order codes was found",
                found=", ".join(names[:12]),
                expected="a heading such as Manufacturer Part Number, or --column order_code=HEADING",
            )
    used = {*fields.values(), *wide.values(), *sum(paired, ())}
    kept = {field: heading for field, heading in fields.items() if heading}
    return Columns(
        MappingProxyType(kept),
        MappingProxyType(dict(sorted(wide.items()))),
        paired,
        tuple(name for name in names if name and name not in used),
        _pieces(kept.get("price", "")),
    )


def _pieces(heading: str) -> int:
    """For how many pieces a column of prices holds.

    >>> _pieces("Preis pro 1.000"), _pieces("Price per 1k"), _pieces("Unit Price")
    (1000, 1000, 1)
    """
    told = _PER.fullmatch(heading)
    return max(int(re.sub(r"\D", "", told["n"])) * (1000 if told["k"] else 1), 1) if told else 1


def spelled(heading: str) -> str:
    """A heading without brackets, case, accents and signs; one without Latin letters as it is, without blanks.

    >>> spelled("Mfr. Part # (all)"), spelled("厂商型号"), spelled("Boîtier")
    ('mfrpart#', '厂商型号', 'boitier')
    """
    bare = re.sub(r"[(\[（][^)\]）]*[)\]）]", "", heading[:200])
    return heading_word(bare)


def _own_columns(
    names: Sequence[str], own: Mapping[str, str]
) -> tuple[dict[str, str], dict[int, str], tuple[tuple[str, str], ...]]:
    """A user's own mapping, checked against the header."""
    fields: dict[str, str] = {}
    wide: dict[int, str] = {}
    pairs: dict[int, list[str]] = {}
    for field, heading in own.items():
        if heading and heading not in names:
            raise InputError(
                "no such column", place=field, found=repr(heading), expected=", ".join(names[:12]) or "a header"
            )
        price = re.fullmatch(r"price (\d+)", field)
        pair = re.fullmatch(r"break (price )?(\d+)", field)
        if price:
            wide[int(price[1])] = heading
        elif pair:
            pairs.setdefault(int(pair[2]), ["", ""])[1 if pair[1] else 0] = heading
        elif field in FIELDS:
            if heading:
                fields[field] = heading
        else:
            raise InputError(
                "no such field", place="column", found=field, expected=f"{' | '.join(FIELDS)} | price QUANTITY"
            )
    return fields, wide, tuple((quantity, price) for quantity, price in pairs.values() if quantity and price)


def _paired(names: Sequence[str]) -> tuple[tuple[str, str], ...]:
    """Columns such as `Price Break 1`, `Unit Price 1`, by their number."""
    quantities = {int(m["n"]): name for name in names if (m := _PAIRED_QUANTITY.fullmatch(name))}
    prices = {
        int(m["n"]): name for name in names if (m := _PAIRED_PRICE.fullmatch(name)) and name not in quantities.values()
    }
    both = sorted(quantities.keys() & prices.keys())[:MOST_BREAKS]
    return tuple((quantities[n], prices[n]) for n in both)


def _wide(names: Sequence[str]) -> dict[int, str]:
    """Columns whose heading is a quantity: `100`, `Price @ 1000`, `2.5k+`."""
    found: dict[int, str] = {}
    for name in names:
        match = _BREAK.fullmatch(name)
        if not match:
            continue
        digits = match["n"]
        if match["k"]:
            quantity = round(float(digits.replace(",", ".")) * 1000)
        else:
            quantity = int(re.sub(r"\D", "", digits))
        last = int(re.sub(r"\D", "", match["last"] or "") or 0)
        if match["last"] and not match["k"] and last <= quantity:
            continue  # a range of pieces rises
        if quantity >= 1 and len(found) < MOST_BREAKS:
            found.setdefault(quantity, name)
    # One column `Preis/100` is a price for so many pieces; several are prices from so many on.
    if len(found) == 1 and next(iter(found)) > 1 and _PER.fullmatch(next(iter(found.values()))):
        return {}
    # `Price 1`, `Price 2`, `Price 3` number the breaks; they are no quantities.
    return {} if sorted(found) == list(range(1, len(found) + 1)) and len(found) > 1 else found
