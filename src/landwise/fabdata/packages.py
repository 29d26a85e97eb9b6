"""Reading package texts: `SOIC-14`, `14-DIP`, `TSSOP20 4.4mm 0.65`, footprint names, standard designators."""

from __future__ import annotations

import csv
import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib import resources

from landwise.errors import UnknownNameError
from landwise.fabdata.logic import order_codes
from landwise.outlines import Outline, catalogue, find


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
    (r"HTSSOP|TSSOP", "TSSOP"),
    (r"TVSOP", "TVSOP"),
    (r"QSOP", "QSOP"),
    (r"MSOP|uMAX|µMAX|MINI[-_ ]?SO", "MSOP"),
    (r"VSSOP", "VSSOP"),
    (r"SSOP", "SSOP"),
    (r"TSOP", "TSOP"),
    (r"SOIC|SOP|SOJ|\bSO|SO(?=[-_]?\d)", "SO"),
    (r"C?P?DIP|CERDIP|DIL", "DIP"),
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
    rf"(?<![A-Za-z0-9.])(?P<n>\d{{1,3}})[-_ ]?(?:lead|pin|ld)?s?[-_ ]*(?P<style>{_ANY_STYLE})(?![A-Za-z])", re.I
)
_AFTER = re.compile(
    rf"(?<![A-Za-z])(?P<style>{_ANY_STYLE})(?P<wide>[-_ ]?W(?:ide)?)?[-_ ]*(?P<n>\d{{1,3}})(?P<w2>W\b)?(?![\d.]*\s*mm)",
    re.I,
)
_NUMBERED = re.compile(
    r"(?P<style>SOIC|SOP|QFN|SON|QFP|BGA|TSSOP|SSOP|DFN|DIP)(?P<pitch>\d{2,3})P(?P<size>\d{2,4})X(?P<height>\d{2,4})-(?P<n>\d{1,3})",
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
_DRILLED = re.compile(r"\b(through[- ]?hole|thru[- ]?hole|2\.54 ?mm|300[- ]mil|600[- ]mil)\b", re.I)


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
_DRAWING = re.compile(r"(?<![A-Za-z0-9])(?P<code>[A-Z]{1,3})(?P<n>0\d{3})[A-Z](?![A-Za-z0-9])")


def _coded(name: str) -> PackageReading | None:
    for match in _CODE.finditer(name):
        code = f"SOT{match['number']}" if match["number"] else match["letters"].upper()
        if code in outline_codes():
            style, terminals = outline_codes()[code]
            return PackageReading(style, terminals, _pitch(name), None, match[0])
    for match in _DRAWING.finditer(name):
        row = next((row for row in order_codes() if row.code == match["code"]), None)
        if row and row.terminals in (None, int(match["n"])):
            return PackageReading(row.style, int(match["n"]), _pitch(name), None, match[0])
    return None


_BARE = re.compile(
    r"(?<![A-Za-z0-9])(?P<style>SOIC|SOP|TSSOP|SSOP|TVSOP|VSSOP|MSOP|QSOP|P?DIP|DIL|DHVQFN|V?QFN)(?P<wide>[-_"
    r" ]?W(?:ide)?)?(?![A-Za-z0-9])",
    re.I,
)


def _bare(name: str) -> PackageReading | None:
    """A style alone, whose terminals the function must tell."""
    match = _BARE.search(name)
    if not match:
        return None
    style = _style(match["style"])
    if style == "SO" and (match["wide"] or _WIDE.search(name)):
        style = "SO wide"
    return PackageReading(style, None, _pitch(name), _body(name), match[0])


def _numbered(name: str) -> PackageReading | None:
    match = _NUMBERED.search(name)
    if not match:
        return None
    size = int(match["size"]) / 100
    style = _style(match["style"])
    if style == "SO":
        style = _by_span(int(match["pitch"]) / 100, size)
    body = None if style.startswith(("SO", "TSSOP", "SSOP", "DIP")) else (size, size)
    return PackageReading(style, int(match["n"]), int(match["pitch"]) / 100, body, match[0])


def _by_span(pitch: float, span: float) -> str:
    """Which small-outline style a pitch and a tip-to-tip span make."""
    if pitch > 1.0:
        return "SO wide" if span > 8.5 else "SO"
    return "TSSOP" if span < 7.0 else "SSOP"


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
    style = _style(match["style"])
    groups = match.groupdict()
    if style == "SO" and (groups.get("wide") or groups.get("w2") or _WIDE.search(name)):
        style = "SO wide"
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


_DEFAULT_WIDE = 20  # small-outline parts of so many leads and more come in the wide body


def outline_for(reading: PackageReading, terminals: int | None = None) -> tuple[Outline | None, str]:
    """The catalogue's outline that a reading means, and what had to be assumed.

    Parameters
    ----------
    reading : PackageReading
    terminals : int, optional
        From the function, where the package text names none.

    Examples
    --------
    >>> outline, assumed = outline_for(read_package("SOIC-14"))
    >>> outline.name, assumed
    ('SO-14', '')
    """
    count = reading.terminals or terminals
    if count is None:
        return None, ""
    if reading.style in catalogue() and catalogue()[reading.style].terminals == count:
        return catalogue()[reading.style], ""
    if reading.body_mm is None and re.search(r"\d", reading.text):
        try:
            named = find(reading.text)
        except UnknownNameError:
            named = None
        if named is not None and named.terminals == count and _is_style(named, reading.style):
            return named, ""
    fitting = [
        outline
        for outline in catalogue().values()
        if outline.terminals == count and _is_style(outline, reading.style) and _told_variant(outline, reading)
    ]
    # A centre pad is counted in some texts: QFN-24 with pad as 25 terminals.
    if not fitting and reading.style in ("QFN", "DFN", "SON"):
        fitting = [
            o
            for o in catalogue().values()
            if o.terminals == count - 1 and _is_style(o, reading.style) and o.has_exposed_pad
        ]
    if not fitting:
        return None, ""
    ranked = sorted(fitting, key=lambda outline: (_distance(outline, reading), outline.body_area_mm2))
    best = ranked[0]
    told = reading.pitch_mm is not None or reading.body_mm is not None
    assumed = ""
    if len(fitting) > 1 and not told:
        others = ", ".join(outline.name for outline in ranked[1:4])
        assumed = f"{best.name} taken; the text fits {others} too"
    elif reading.body_mm and _distance(best, reading) > 0.6:
        assumed = (
            f"{best.name} is the nearest known outline; the text says {reading.body_mm[0]:g} ×"
            f" {reading.body_mm[1]:g} mm"
        )
    return best, assumed


def _told_variant(outline: Outline, reading: PackageReading) -> bool:
    """Whether a plain style may mean this outline: variants are meant only where the text tells them."""
    if outline.wettable_flank and outline.name.endswith("-WF"):
        return bool(re.search(r"WF|wettable", reading.text, re.I))
    if "THIN" in outline.name:
        return bool(re.search(r"thin|TSOT", reading.text, re.I))
    return not outline.name.endswith("-5.3") or reading.body_mm is not None


def _is_style(outline: Outline, style: str) -> bool:
    name = outline.name
    if style == "SO wide":
        return name.startswith("SO-") and name.endswith("W")
    if style == "SO":
        narrow = name.startswith("SO-") and not name.endswith("W")
        return narrow or (name.startswith("SO-") and outline.terminals >= _DEFAULT_WIDE)
    if style == "VSSOP-2.3":
        return name == "VSSOP-8"
    if style == "VSSOP":
        return name.startswith(("VSSOP-", "MSOP-"))
    if style == "QFN wide body":
        return name.startswith("QFN-") and "-3.5x" in name
    if style == "SON":
        return name.startswith(("SON-", "DFN-"))
    if style == "DFN":
        return name.startswith(("DFN-", "SON-"))
    return name.startswith(f"{style}-")


def _distance(outline: Outline, reading: PackageReading) -> float:
    """How far an outline is from what a text says, in mm of body plus ten times the pitch error."""
    distance = 0.0
    if reading.pitch_mm is not None:
        distance += 10 * abs(outline.pitch_mm - reading.pitch_mm)
    if reading.body_mm is not None:
        ours = sorted((outline.body_length_mm.nom, outline.body_width_mm.nom))
        span = sorted((outline.body_length_mm.nom, (outline.span_mm or outline.body_width_mm).nom))
        theirs = sorted(reading.body_mm)
        distance += min(sum(abs(a - b) for a, b in zip(size, theirs, strict=True)) for size in (ours, span))
    # Where the text tells nothing, logic in a leadless quad comes in the oblong bodies, whose numbers start on top.
    return distance + (0.0 if outline.start == "top" else 0.01) + (0.001 if outline.mark == "from memory" else 0.0)
