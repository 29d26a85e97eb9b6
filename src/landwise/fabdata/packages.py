"""Reading package texts: `SOIC-14`, `14-DIP`, `TSSOP20 4.4mm 0.65`, footprint names, standard designators.

Makers' names of single outlines are those of `data/outline_codes.csv`; source `outline-codes`.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib import resources

from landwise.fabdata.ordercodes import order_codes


@dataclass(frozen=True)
class PackageReading:
    """What a text says about a package.

    Parameters
    ----------
    style : str
        As catalogue names begin: `SO`, `SO wide`, `TSSOP`, `QFN`, …; styles outside the catalogue (`chip`,
        `PLCC`, `TO`) keep their trade word.
    terminals : int or None
    pitch_mm, body_mm : float, (float, float) or None
        Where the text tells them. [mm]
    text : str
        The part of the text that was understood.
    """

    style: str
    terminals: int | None
    pitch_mm: float | None
    body_mm: tuple[float, float] | None
    text: str


# Fixed names first: they hold digits that are not terminal counts.
_FIXED: tuple[tuple[str, str, int | None], ...] = (
    (r"SOT[-_ ]?353|SC[-_ ]?88A|SC[-_ ]?70[-_ ]5|SOT[-_ ]?323[-_ ]5", "SC-70", 5),
    (r"SOT[-_ ]?363|SC[-_ ]?88(?!A)|SC[-_ ]?70[-_ ]6|SOT[-_ ]?323[-_ ]6", "SC-70", 6),
    (r"SOT[-_ ]?323|SC[-_ ]?70[-_ ]3", "SC-70", 3),
    (r"SC[-_ ]?70", "SC-70", None),
    (r"SOT[-_ ]?553|SOT[-_ ]?665|SOT[-_ ]?5x3[-_ ]?5", "SOT-5x3", 5),
    (r"SOT[-_ ]?563|SOT[-_ ]?666|SOT[-_ ]?5x3[-_ ]?6", "SOT-5x3", 6),
    (r"SOT[-_ ]?953", "SOT-9x3", 5),
    (r"SOT[-_ ]?963", "SOT-9x3", 6),
    (r"SOT[-_ ]?457|SC[-_ ]?74(?!A)", "SC-74", 6),
    (r"SOT[-_ ]?25\b|SOT[-_ ]?753|SC[-_ ]?74A|T?SOT[-_ ]?23[-_ ]?5|5[-_ ]?SOT[-_ ]?23", "SOT-23", 5),
    (r"SOT[-_ ]?26\b|T?SOT[-_ ]?23[-_ ]?6|6[-_ ]?SOT[-_ ]?23", "SOT-23", 6),
    (r"T?SOT[-_ ]?23[-_ ]?8", "SOT-23", 8),
    (r"SOT[-_ ]?23[-_ ]?THIN[-_ ]?(?=\d)", "SOT-23 thin", None),
    (r"SOT[-_ ]?23(?:[-_ ]?3)?\b|TO[-_ ]?236", "SOT-23", 3),
    (r"US8\b|VFSOP[-_ ]?8|8[-_ ]?VFSOP", "VSSOP-2.3", 8),
    (r"8[-_ ]?TSSOP,\s*8[-_ ]?MSOP", "MSOP", 8),  # one name of two in distributors' lists; both mean 3.0 mm bodies
    (r"SOT[-_ ]?5x3\b", "SOT-5x3", None),
    (r"SOT[-_ ]?9x3\b", "SOT-9x3", None),
    (r"SSOP6-P-0\.95", "SOT-23", 6),
    (r"SSOP5-P-0\.95", "SOT-23", 5),
    (r"SSOP5-P-0\.65A?", "SC-70", 5),
    (r"SSOP6-P-0\.65A?", "SC-70", 6),
    (r"\bSM8\b|TSST8", "SSOP-8", 8),
    (
        r"SOT[-_ ]?(?:223|89|143|523|416)(?!\d)|SOD[-_ ]?\d+|TO[-_ ]?(?:92|220|252|263|247)|D[-_]?PAK|DO[-_ ]?\d+",
        "TO",
        None,
    ),
)
_STYLES: tuple[tuple[str, str], ...] = (
    (r"HTSSOP|TSSOP|TFSOP", "TSSOP"),
    (r"TVSOP", "TVSOP"),
    (r"QSOP", "QSOP"),
    (r"MSOP|uMAX|µMAX|MINI[-_ ]?SO", "MSOP"),
    (r"VSSOP", "VSSOP"),
    (r"BSSOP|SSOP", "SSOP"),
    (r"TSOP", "TSOP"),
    (r"SOL(?=[-_ ]?\d)", "SO wide"),
    (r"SOIC|SOP|SOJ|\bSO|SO(?=[-_]?\d)", "SO"),
    (r"CERDIP|CDIP|GDIP|CDIL", "CDIP"),
    (r"SP?DIP|SKDIP|P?DIP|DIL", "DIP"),
    (r"PLCC|LCC", "PLCC"),
    (r"(?:L|T|P|H|V)?QFP", "QFP"),
    (r"X2SON|XSON|USON|VSON|WSON|HWSON|U?SON", "SON"),
    (r"[A-Z]{0,2}DFN", "DFN"),
    (r"DHX?VQFN|[A-Z]{0,3}QFN|MLF|MLPQ?", "QFN"),
    (r"WL?CSP|DSBGA|WLBGA|CSP|WLP|NanoFree", "WLP"),
    (r"[A-Z]{0,3}BGA", "BGA"),
)
_ANY_STYLE = "|".join(pattern for pattern, _ in _STYLES)
_BEFORE = re.compile(
    rf"(?<![A-Za-z0-9.])(?P<n>[1-9]\d{{0,2}})[-_ ]?(?:(?:lead|pin|ld)s?)?[-_ ]*(?P<style>{_ANY_STYLE})(?![A-Za-z])",
    re.I,
)
_AFTER = re.compile(
    rf"(?<![A-Za-z])(?P<style>{_ANY_STYLE})(?P<wide>[-_ ]?W(?:ide)?)?[-_ ]*(?P<n>\d{{1,3}})(?P<w2>W\b)?(?![\d.]*\s*mm)",
    re.I,
)
_NUMBERED = re.compile(
    r"(?P<style>SOIC|SOP|SOTFL|SOT|[VWUX]?QFN|[VWUX]?SON|QFP|BGA|TSSOP|SSOP|DFN|DIP)(?P<pitch>\d{2,3})P(?P<size>\d{2,4})"
    r"X(?P<second>\d{2,4})(?:X(?P<height>\d{2,3}))?(?:-(?P<n>\d{1,3}))?(?!\d)",
    re.I,
)
_STANDARD = re.compile(
    r"\b[PCGX]?-?P?(?P<style>DSO|DIP|QCC|QFP|BGA|[VWUX]?QFN|[VWUX]?SON)-(?P<form>[A-Z])(?P<n>\d{1,3})(?!\d)", re.I
)
_STANDARD_STYLE = {"DSO": "SO", "DIP": "DIP", "QCC": "QFN", "QFP": "QFP", "BGA": "BGA", "QFN": "QFN", "SON": "SON"}
_CHIP = re.compile(r"(?<!\d)(01005|0201|0402|0603|0805|1206|1210|1812|2010|2220|2512|3216|7343)(?!\d)")
_PITCH = re.compile(
    r"(?:(?<![A-Za-z])P|pitch[-_ ]?|e=)(\d?\.\d+)\s*(?:mm)?|(?<![\d.x])(0\.\d+|1\.27|2\.54)\s*(?:mm)?\s*(?:pitch|P\b)",
    re.I,
)
_BODY = re.compile(r"(\d+(?:\.\d+)?)\s*[x×]\s*(\d+(?:\.\d+)?)\s*(?:mm|x|_|\b)", re.I)
_LONE_SIZE = re.compile(r"(?<![\dx.P_-])(\d\.\d{1,2})\s*mm", re.I)
_WIDE = re.compile(r"wide|7\.50?\s*(?:x|mm)|0\.295|300[-_ ]?mil", re.I)
_MEDIUM = re.compile(
    r"(?<![\d.])5\.[23]\d?\s*(?:x|×|mm)|x\s*5\.[23]\d?(?!\d)|20[89][-_ ]?mil|0\.20[89]|EIAJ|\bSOIJ\b|W5\.[23](?!\d)"
    r"|SOP\d{1,2}-P-300",  # the Japanese standard counts rows of lands, 0.3 in apart, not the body
    re.I,
)
_LARGE = re.compile(r"(?<!\d)(?:48|56)(?!\d)")
_DRILLED = re.compile(
    r"\b(through[- ]?hole|thru[- ]?hole|2\.54 ?mm|300[- ]mil|600[- ]mil|THT|bedrahtet|traversante?)\b|直插|挿入実装",
    re.I,
)


def read_package(text: str) -> PackageReading | None:
    """The package that a text names, or None.

    Examples
    --------
    >>> read_package("14-DIP").style, read_package("14-DIP").terminals
    ('DIP', 14)
    >>> reading = read_package("TSSOP20 4.4mm 0.65")
    >>> reading.style, reading.terminals
    ('TSSOP', 20)
    >>> read_package("Package_TO_SOT_SMD:SOT-23-5").terminals
    5
    """
    name = text.split(":", 1)[1] if re.match(r"[\w .-]+:\S", text) else text
    for pattern, style, terminals in _FIXED:
        match = re.search(rf"(?<![A-Za-z0-9])(?:{pattern})", name, re.I)
        if match:
            # `5x3` in the name of a style is no body size.
            return PackageReading(style, terminals, _pitch(name), _body(name.replace(match[0], "")), match[0])
    for reader in (_coded, _numbered, _standard, _usual, _bare):
        reading = reader(name)
        if reading:
            return reading
    match = _CHIP.search(name)
    if match:
        return PackageReading("chip", 2, None, None, match[0])
    return None


@cache
def outline_codes() -> Mapping[str, tuple[str, int]]:
    """Makers' names of single outlines: code to style (or catalogue name) and terminals.

    >>> outline_codes()["SOT402-1"]
    ('TSSOP', 14)
    """
    text = resources.files("landwise.fabdata").joinpath("data", "outline_codes.csv").read_text(encoding="utf-8")
    return {row["code"]: (row["style"], int(row["terminals"])) for row in csv.DictReader(text.splitlines())}


_CODE = re.compile(
    r"(?<![A-Za-z0-9])(?:SOT[-_ ]?(?P<number>\d{2,4}(?:-\d)?)|(?P<letters>[SUE][MS][V6]))(?![A-Za-z0-9])", re.I
)
# Letters of an order code, terminals in four digits and a revision: a drawing's number.
_WORD_OF_LETTERS = re.compile(r"(?<=_)(?P<code>[A-Z]{3})(?=_)")
_LAST_COUNT = re.compile(r"[-_]?[A-Z]?(\d{1,2})(?![\dx.])")
_DRAWING = re.compile(r"(?<![A-Za-z0-9])(?P<code>[A-Z]{1,3})(?P<n>0\d{3})[A-Z](?![A-Za-z0-9])")


def _coded(name: str) -> PackageReading | None:
    for match in _CODE.finditer(name):
        code = f"SOT{match['number']}" if match["number"] else match["letters"].upper()
        if code in outline_codes():
            style, terminals = outline_codes()[code]
            return PackageReading(style, terminals, _pitch(name), None, match[0])
    for match in _DRAWING.finditer(name):
        count = int(match["n"])
        style = _letters(match["code"], count)
        if style:
            return PackageReading(style, count, _pitch(name), None, match[0])
    for match in _WORD_OF_LETTERS.finditer(name):
        counted = _LAST_COUNT.search(name[match.end() :])
        style = _letters(match["code"], int(counted[1])) if counted else ""
        if style and counted:
            return PackageReading(style, int(counted[1]), _pitch(name), None, f"{match[0]} {counted[0]}")
    return None


def _letters(code: str, terminals: int) -> str:
    """The style that package letters of three or more name for so many terminals, or an empty text."""
    rows = [row for row in order_codes() if row.code == code.upper() and row.terminals in (None, terminals)]
    return max(rows, key=lambda row: (row.mark == "verified", row.terminals is not None)).style if rows else ""


_BARE = re.compile(
    r"(?<![A-Za-z0-9])(?P<style>SOIC|SOP|TSSOP|SSOP|TVSOP|VSSOP|MSOP|QSOP|S?P?DIP|DIL|CERDIP|CDIP|DHVQFN|V?QFN)"
    r"(?P<wide>[-_ ]?W(?:ide)?)?(?![A-Za-z0-9])",
    re.I,
)
# Two and three letters that words of several languages have too: in capitals, after a mark or alone (`74HC14/SO`).
_BARE_SHORT = re.compile(r"(?:^|(?<=[-/_(,;|]))\s*(?P<style>SOL?)(?P<wide>[-_ ]?W(?:IDE)?)?(?=[)\s,;|]|$)")


def _bare(name: str) -> PackageReading | None:
    """A style alone, whose terminals the function must tell."""
    match = _BARE.search(name) or _BARE_SHORT.search(name)
    if not match:
        return None
    style = "SO wide" if match["style"].upper() == "SOL" else _style(match["style"])
    style = _by_width(style, name, wide=bool(match["wide"]), nominal=match["style"])
    return PackageReading(style, None, _pitch(name), _body(name), match[0].strip())


def _by_width(style: str, name: str, *, wide: bool, nominal: str) -> str:
    """What the width beside a small-outline word makes of it.

    One trade word has several meanings here: `SSOP` of 4.4 mm and 0.65 mm pitch is the thin body's land pattern,
    of 3.9 mm and 0.635 mm the quarter-size one's; `SOP` of 5.3 mm and 1.27 mm is a body of its own.
    """
    if style in ("SO", "SO wide"):
        if style == "SO wide" or wide or _WIDE.search(name):
            return "SO wide"
        return "SO 5.3" if _MEDIUM.search(name) or (nominal.upper() == "SOJ" and "EIAJ" in name.upper()) else "SO"
    if style == "DIP":
        wide_rows, narrow_rows = _ROWS_600.search(name), _ROWS_300.search(name)
        return "DIP wide" if wide_rows and not narrow_rows else "DIP narrow" if narrow_rows and not wide_rows else style
    if style == "SSOP" and "QSOP" in name.upper():
        return "QSOP"
    if style == "SSOP":
        body, pitch = _body(name), _pitch(name)
        width = _width(name, body)
        if width is not None and abs(width - 4.4) <= 0.15 and pitch in (None, 0.65):
            return "TSSOP"
        if (width is not None and abs(width - 3.9) <= 0.15) or (pitch in (0.635, 0.64) and not _LARGE.search(name)):
            return "QSOP"
    return style


# Rows of drilled parts: 0.6 and 0.3 in.
_ROWS_600 = re.compile(r"(?<!\d)600[-_ ]?mil|15\.24|(?<![\d.])0?\.60?0?\s*(?:\"|''|in\b)", re.I)
_ROWS_300 = re.compile(
    r"(?<!\d)300[-_ ]?mil|(?<!\d)7\.62|(?<![\d.])0?\.30?0?\s*(?:\"|''|in\b)|skinny|SPDIP|SKDIP", re.I
)


def _width(name: str, body: tuple[float, float] | None) -> float | None:
    """A body's width by its text: of `4.4x6.5mm` the shorter for shrink bodies, or a lone `4.4 mm`."""
    if body:
        return min(body)
    lone = _LONE_SIZE.search(name)
    return float(lone[1]) if lone else None


LEAST_BODY_MM = 1.3  # no logic body that is named by two sizes is narrower; no height is greater


def _numbered(name: str) -> PackageReading | None:
    """Names of the land-pattern standard: pitch, span or body, height and, mostly, terminals, in hundredths of a mm."""
    match = _NUMBERED.search(name)
    if not match:
        return None
    size, second = int(match["size"]) / 100, int(match["second"]) / 100
    pitch, style = int(match["pitch"]) / 100, _style(match["style"])
    terminals = int(match["n"]) if match["n"] else None
    if style.startswith("SOT"):
        return PackageReading(_SOT_BY_PITCH.get(match["pitch"], style), terminals, pitch, None, match[0])
    if style in ("SO", "TSSOP", "SSOP", "DIP"):
        if style != "DIP":
            style = _by_span(pitch, size)
        return PackageReading(style, terminals, pitch, None, match[0])
    body = (size, second) if match["height"] or second > LEAST_BODY_MM else (size, size)
    if style in ("QFN", "SON", "DFN") and terminals and terminals % 2:
        terminals -= 1  # the pad in the middle is counted in such names
    return PackageReading(style, terminals, pitch, body, match[0])


# Hundredths of a mm: the small transistor bodies differ in pitch; eight leads at 0.65 mm are the larger body's.
_SOT_BY_PITCH = {"95": "SOT-23", "65": "SC-70", "50": "SOT-5x3", "35": "SOT-9x3"}


def _by_span(pitch: float, span: float) -> str:
    """Which small-outline style a pitch and a tip-to-tip span make. [mm]

    >>> _by_span(1.27, 6.0), _by_span(1.27, 7.8), _by_span(0.64, 6.0), _by_span(0.65, 6.4), _by_span(0.4, 6.4)
    ('SO', 'SO 5.3', 'QSOP', 'TSSOP', 'TVSOP')
    """
    if pitch > 1.0:
        return "SO wide" if span > 8.8 else "SO 5.3" if span > 7.0 else "SO"
    if pitch < 0.45:
        return "TVSOP"
    if 0.63 <= pitch <= 0.64 and span < 7.0:
        return "QSOP"
    if span < 5.5:
        return "MSOP" if pitch > 0.6 else "VSSOP"
    return "TSSOP" if span < 7.0 or pitch < 0.6 else "SSOP"


def _standard(name: str) -> PackageReading | None:
    match = _STANDARD.search(name)
    if not match:
        return None
    style = _STANDARD_STYLE[match["style"].upper()[-3:]]
    if style == "SO" and match["form"].upper() == "N":
        style = "SON"  # two rows without leads
    if style == "SO" and match["form"].upper() == "F" and int(match["n"]) <= 6:
        style = "SOT-5x3"  # two rows of flat leads
    return PackageReading(style, int(match["n"]), _pitch(name), _body(name), match[0].strip("-"))


def _usual(name: str) -> PackageReading | None:
    match = _first(_AFTER.search(name), _BEFORE.search(name))
    if not match:
        return None
    style = "SO wide" if match["style"].upper() == "SOL" else _style(match["style"])
    groups = match.groupdict()
    style = _by_width(style, name, wide=bool(groups.get("wide") or groups.get("w2")), nominal=match["style"])
    return PackageReading(style, int(match["n"]), _pitch(name), _body(name), match[0])


def _first(*matches: re.Match[str] | None) -> re.Match[str] | None:
    """Of `14-DIP` and `DIP-14` forms the one that begins first."""
    return min((match for match in matches if match), key=lambda match: match.start(), default=None)


def _style(word: str) -> str:
    for pattern, style in _STYLES:
        if re.fullmatch(pattern, word, re.I):
            return style
    return word.upper()


def _pitch(name: str) -> float | None:
    match = _PITCH.search(name)
    if not match:
        return None
    value = float(match[1] or match[2])
    return value if 0.3 <= value <= 2.6 else None


def _body(name: str) -> tuple[float, float] | None:
    for match in _BODY.finditer(re.sub(r"(?<!\d)EP_?[\d.]+x[\d.]+", "", name, flags=re.I)):
        size = (float(match[1]), float(match[2]))
        if all(0.4 <= one <= 60 for one in size):
            return size
    return None


def says_drilled(text: str) -> bool:
    """Whether a text speaks of drilled parts.

    >>> says_drilled("DIP-20, 300 mil socket")
    True
    """
    return bool(_DRILLED.search(text))
