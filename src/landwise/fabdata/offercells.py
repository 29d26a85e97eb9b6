"""Single cells of a list of offers: prices and price breaks, counts, lead times, lifecycles, grades and days."""

from __future__ import annotations

import re
from datetime import date, datetime

from landwise.costs.offers import Grade, Lifecycle
from landwise.fabdata.bills import read_price
from landwise.fabdata.ordercodes import grade_of

CONTROLS = re.compile(r"[\x00-\x08\x0b-\x1f\x7f\ufeff\u200b]")
SIGNS = (
    *(("$", "USD"), ("€", "EUR"), ("£", "GBP"), ("¥", "¥, yen or yuan"), ("￥", "¥, yen or yuan")),
    *((name, name) for name in ("CHF", "SEK", "PLN", "CNY", "JPY", "EUR", "USD", "GBP")),
    *(("円", "JPY"), ("元", "CNY"), ("人民币", "CNY")),
)
_NEGATIVE = re.compile(r"\s*[-−]\s*[$€£¥]?\s*\d")
_FOR_SO_MANY = re.compile(r"/\s*(1?0{2,3}|1000)\s*(?:pcs?|stk|st)?\.?\s*$", re.I)  # `32.00/100`


def price_in(cell: str) -> float | None:
    """The price of one piece in a cell; None for none, a negative one, or words.

    >>> price_in("0,12 €"), price_in("32.00/100"), price_in("-0.20"), price_in("on request")
    (0.12, 0.32, None, None)
    """
    if _NEGATIVE.match(cell):
        return None
    told = _FOR_SO_MANY.search(cell)
    price = read_price(cell[: told.start()] if told else cell)
    return None if price is None else price / (int(told[1]) if told else 1)


_PRICE_TEXT = r"(?:US\$|USD|EUR|GBP|CHF|CNY|RMB|JPY|[$€£¥￥])?\s*\d+(?:[.,]\d+)?"
_SIGNED_TEXT = r"(?:US\$|USD|EUR|GBP|CHF|CNY|RMB|JPY|[$€£¥￥])\s*\d+(?:[.,]\d+)?"
# A quantity, then a price: after a colon, an equals or an at sign; after a plus; or a dash and a currency.
_STEP = re.compile(
    r"(?<![\d.])(?P<n>\d{1,3}(?:[.,' \u202f]\d{3})+(?!\d)|\d{1,9})\s*"
    rf"(?:(?:-\s*\d*|\+)?\s*[:=@]\s*(?P<marked>{_PRICE_TEXT})|\+\s*(?P<after>{_PRICE_TEXT})|-\s*(?P<signed>{_SIGNED_TEXT}))"
)


def breaks_in_cell(text: str) -> dict[int, float]:
    """Price breaks written in one cell.

    >>> breaks_in_cell("1-199:0.0145, 200-:0.0114"), breaks_in_cell("1+: $0.20; 100+: $0.12"), breaks_in_cell("0.20")
    ({1: 0.0145, 200: 0.0114}, {1: 0.2, 100: 0.12}, {})
    >>> breaks_in_cell("1+ $0.32 1,000+ $0.11"), breaks_in_cell("1: 0,15 € | 1.000: 0,08 €")
    ({1: 0.32, 1000: 0.11}, {1: 0.15, 1000: 0.08})
    """
    found = {}
    for step in _STEP.finditer(text):
        start = int(re.sub(r"\D", "", step["n"]))
        value = read_price(step["marked"] or step["after"] or step["signed"])
        if start >= 1 and value is not None:
            found[start] = value
    return found


def count(text: str) -> int | None:
    """A whole number with thousands marked in any way; words such as `In Stock: 1,200` too.

    >>> count("12,345"), count("In stock: 1 200"), count("none"), count("3000 / reel"), count("1,2M")
    (12345, 1200, None, 3000, 1200000)
    """
    many = re.search(r"(\d{1,6}(?:[.,]\d{1,3})?)\s*(?:(k|K)|M(?!\w))(?!\w)", text)
    if many:
        return round(float(many[1].replace(",", ".")) * (1000 if many[2] else 1_000_000))
    match = re.search(r"\d{1,3}(?:[,.' \u202f]\d{3})+(?!\d)|\d{1,12}", text)
    return int(re.sub(r"\D", "", match[0])) if match else None


def weeks(text: str, *, in_days: bool) -> float | None:
    """A lead time in weeks.

    The longer end of a span counts.

    >>> weeks("12-14 Weeks", in_days=False), weeks("28", in_days=True), weeks("10 working days", in_days=False)
    (14.0, 4.0, 2.0)
    >>> round(weeks("3 months", in_days=False)), weeks("16 wks", in_days=True)
    (13, 16.0)
    """
    match = _SPAN_OF_TIME.search(text)
    if not match:
        return None
    value = max(float(end.replace(",", ".")) for end in (match["from"], match["to"]) if end)
    low = text.lower()
    if re.search(r"month|monat|mois|mesi|meses|maand", low):
        return value * WEEKS_A_MONTH
    weekly = re.search(r"week|wk|woche|semaine|settiman|semana|周", low)
    days = re.search(r"day|tag|jour|giorn|d[ií]as|天|日", low) or (in_days and not weekly)
    if not days:
        return value
    return value / (WORKING_DAYS if re.search(r"work|business|werktag|arbeitstag|ouvr", low) else 7)


_SPAN_OF_TIME = re.compile(r"(?P<from>\d+(?:[.,]\d+)?)(?:\s*(?:-|–|to|bis|à)\s*(?P<to>\d+(?:[.,]\d+)?))?")
WEEKS_A_MONTH = 52 / 12
WORKING_DAYS = 5  # in a week


_STATES: tuple[tuple[str, Lifecycle], ...] = (
    (r"obsolete|discontinued|end of life|\beol\b|abgek", "obsolete"),
    (r"last[\s-]*(?:time[\s-]*)?buy|\bltb\b", "last buy"),
    (r"not (?:recommended )?for new|nrnd|nfnd|not recommended", "not for new designs"),
    (r"active|production|current|aktiv|released", "active"),
)


def lifecycle(text: str) -> Lifecycle:
    for pattern, state in _STATES:
        if re.search(pattern, text, re.I):
            return state
    return ""


_BY_CODE: tuple[Grade, ...] = ("automotive", "extended", "military")


def grade(column: str, code: str, description: str) -> Grade:
    if re.search(r"aec|automotive|\bq100\b|^(?:yes|ja|x|true|1)$", column, re.I):
        return "automotive"
    told = grade_of(code)
    for known in _BY_CODE:
        if told == known:
            return known
    return "automotive" if re.search(r"AEC-?Q100|automotive", description, re.I) else ""


_DAYS = ("%Y-%m-%d", "%d.%m.%Y", "%m/%d/%Y", "%d-%b-%Y", "%d %b %Y", "%b %d, %Y", "%Y/%m/%d", "%Y%m%d")


def day(text: str) -> date | None:
    """A day in the usual spellings; `3/4/2026` is read month first.

    >>> day("2026-03-31"), day("31.03.2026"), day("soon")
    (datetime.date(2026, 3, 31), datetime.date(2026, 3, 31), None)
    """
    if not text:
        return None
    for form in _DAYS:
        try:
            return datetime.strptime(text.strip()[:20].split("T")[0].strip(), form).date()
        except ValueError:
            continue
    return None
