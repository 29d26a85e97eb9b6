"""Reading part numbers of logic: the one place that knows families, little and wide functions and makers' lead-ins."""

from __future__ import annotations

import re
from collections.abc import Iterator
from types import MappingProxyType

from landwise.fabdata.functions import Function, LogicReading, functions, is_little, known, other_logic

LONGEST_TEXT = 2000
FIRST_FAMILY = "TTL"  # what 7400 without letters is called here: an empty family is one that the text leaves open
# Lead-ins of the first family, which has no letters after the 74.
_TTL_MAKERS = frozenset(
    ["", "SN", "SNJ", "SNC", "DM", "MC", "HD", "N", "S", "U", "T", "M", "GD", "MH", "FJH", "IC", "XD", "K"]
)
FAMILIES = (
    *("AUP", "AUC", "AUCH", "AVC", "AVCH", "AVCB", "AXP", "AXC", "AXCH"),
    *("LVC", "LVCH", "LVCZ", "LVCE", "LVCR", "LVCHR", "LVT", "LVTH", "LV", "LCX", "LVX", "LVXC", "LVXT", "LVQ", "LXC"),
    *("VCX", "ALVC", "ALVCH", "ALVCHR", "ALVT", "ALVTH"),
    *("AHC", "AHCT", "AHCU", "AHCV", "VHC", "VHCT", "VHCU", "VHCV"),
    *("HC", "HCT", "HCU", "HCS", "HCTS", "AC", "ACT", "ACQ", "ACTQ", "FACT", "C"),
    *("ABT", "ABTH", "ABTE", "ABTR", "BCT", "FCT", "FCTH", "LPT", "F", "LS", "ALS", "AS", "S", "L", "H"),
    *("CBT", "CBTLV", "CB3Q", "CB3T", "CBTD", "CBTS", "QST", "FST", "TVC", "VMEH"),
    *("GTL", "GTLP", "GTLPH", "NLSV", "NX", "SSTU", "SSTV", "G", ""),
)
FOUR_THOUSAND = (
    "CD",
    "HEF",
    "HCF",
    "HCC",
    "MC1",
    "TC",
    "BU",
    "KK",
    "UTC",
    "HD1",
    "MM",
    "GD",
    "XD",
    "XL",
    "NLV1",
    "F",
    "RCD",
    "KCD",
    "KRCD",
)
_FAMILY = "|".join(sorted(FAMILIES, key=len, reverse=True))
# A maker's prefix of up to five letters, 54 or 74, family, then a little-logic or plain number.
_SERIES = re.compile(
    rf"(?<![A-Za-z0-9])(?P<maker>[A-Z]{{0,5}}?)(?P<series>54|74)(?P<family>{_FAMILY})"
    r"(?P<number>(?:16|20|32|[1-8])T\d{2,4}|[1-3]G[UXT]?\d{2,4}|U?\d{2,6})(?P<suffix>[A-Z0-9]*)(?![A-Za-z])"
    r"(?P<tail>[^\s;|]{0,12})",
    re.IGNORECASE,
)
# Little logic under makers' own lead-ins: one, two or three gates are letters here, the family a letter.
_MAKERS_LITTLE = re.compile(
    r"(?<![A-Za-z0-9])(?P<maker>NC7|TC7|SGM7|NL17|NL27|NL37|NL7)(?P<gates>S|W|N|P)?(?P<family>HU|ZU|GU|ET|E|T|Z|V|P|H|SZ|HB|B|A|L|G|U)?"
    r"(?P<number>U?(?:3157|3208|9306|\d{2,3}))(?P<suffix>[A-Z0-9]*)(?![A-Za-z])(?P<tail>[^\s;|]{0,12})",
    re.IGNORECASE,
)
_FOUR_THOUSAND = re.compile(
    r"(?<![A-Za-z0-9])(?P<maker>CD|HEF|HCF|HCC|MC1|TC|BU|KK|UTC|HD1|MM|GD|F|XD|XL|NLV1|K?R?CD)"
    r"(?P<number>40(?:1\d{2}|2\d{2})|4[05]\d{2}|4490|47(?:24|94))(?P<suffix>U?B?[A-Z0-9]*)(?![A-Za-z])(?P<tail>[^\s;|]{0,12})",
    re.IGNORECASE,
)
# How many gates a lead-in's letter means: one house calls a dual `W`, another its triple inverters too.
_GATES = MappingProxyType({"S": "1G", "W": "2G", "P": "2G", "N": "3G", "": "1G"})
_BY_DIGIT = MappingProxyType({"NL17": "1G", "NL27": "2G", "NL37": "3G"})
_GATES_WRITTEN = ("NLU", "NLX")  # lead-ins that keep 1G, 2G and 3G in the number
_ONE_INPUT = frozenset(["04", "U04", "05", "06", "07", "14", "16", "17", "34"])
# `74 HC 00`, `74-LS-245`, `74HC/HCT245`, `74HC(T)245`, `74xx245`: families left open or written apart.
_LOOSE = re.compile(
    r"(?<![A-Za-z0-9])(?:SN)?(?:54|74)[\s-]?(?P<family>[A-Z]{2,5}|X)(?:/[A-Z]{2,5}|\([A-Z]\))?[\s-]?(?P<number>\d{2,3})(?![\d.])",
    re.IGNORECASE,
)
# Families written without the 54 or 74 before them: `HC4066`, `LS138`, `FST3125`. Letters that are words or other
# makers' lead-ins too (AC, AS, F, S, LV, ACT, AXP) are not read so, and neither are radio modules and crystals.
_SHORT_FAMILIES = (
    *("HC", "HCT", "HCU", "AHC", "AHCT", "VHC", "VHCT", "LS", "ALS", "ABT", "FCT", "LCX", "ALVC", "LVT", "LVTH"),
    *("LVC", "AUP", "AVC", "CBT", "CBTLV", "CB3Q", "CB3T", "FST"),
)
_NO_LOGIC = frozenset(["HC05", "HC06", "HC12", "HC49"])
_SHORT = re.compile(
    rf"(?<![A-Za-z0-9])(?P<maker>NLV)?(?P<family>{'|'.join(sorted(_SHORT_FAMILIES, key=len, reverse=True))})"
    r"(?P<number>(?:16|20|32|[1-8])T\d{2,4}|[1-3]G[UXT]?\d{2,4}|U?\d{2,5})"
    r"(?P<suffix>(?:[A-Z]{1,4}(?:\d{1,2}[A-Z]{0,3})?)?)(?![A-Za-z0-9])(?P<tail>[^\s;|]{0,12})",
    re.IGNORECASE,
)
# Little logic under a house's own letters before the number of gates.
_LITTLE_ALONE = re.compile(
    r"(?<![A-Za-z0-9])(?P<maker>RS|NLU|NLX)(?P<number>[1-3]G[UT]?\d{2,3}|[12]T45)(?P<suffix>[A-Z0-9]*)(?![A-Za-z])",
    re.I,
)
# Lead-ins under which one kind of logic is sold; the table knows some by number, the package tells the others' count.
_SWITCHES = re.compile(r"ADG[1-9]\d{2,3}|DG[234]\d{2,3}|MAX4[567]\d{2}|TMUX\d{3,4}|TS[35]A\d{4,5}|NLASB?\d{3,5}")
SHORTEST_SWITCH = 5
_LOW_VOLTAGE_SHIFT = re.compile(r"([12468])T(\d{2,3})")


def read_number(text: str) -> LogicReading | None:
    """The first generic logic number in a text; one whose function is known goes before one that is not.

    Examples
    --------
    >>> reading = read_number("SN74LVC1G08DCKR")
    >>> reading.family, reading.number, reading.suffix
    ('LVC', '1G08', 'DCKR')
    >>> read_number("74F573 Octal D-Type Latch").function.terminals
    20
    >>> read_number("74AHCT132D,118").number, read_number("SN7406DR").family, read_number("NC7SZ08P5X").family
    ('132', 'TTL', 'NC7SZ')
    >>> read_number("74AVC32T245").little, read_number("RC0402FR-074K7L") is None
    (False, True)
    """
    text = text[:LONGEST_TEXT]
    first: LogicReading | None = None
    for reader in (_series, _makers_little, _four_thousand, _other, _little_alone, _loose, _short):
        for reading in reader(text):
            if reading.function:
                return reading
            first = first or reading
    return first


def _series(text: str) -> Iterator[LogicReading]:
    for match in _SERIES.finditer(text):
        family, number = match["family"].upper(), match["number"].upper()
        lone = not family and not match["maker"]
        if not family and match["maker"].upper() not in _TTL_MAKERS:
            continue  # AD7414 and TPS74401 are no logic: 74 without a family's letters is so only under its makers'
        family, number = _settled(family, number)
        found = known(number, family)
        if found is None and lone:
            continue  # "7412" in a free text is any number; "74HC12" is not
        yield LogicReading(
            number,
            family or FIRST_FAMILY,
            found,
            match["suffix"].upper(),
            match[0].removesuffix(match["tail"]),
            is_little(number),
            "number",
            match["maker"].upper(),
            match["tail"],
        )


def _settled(family: str, number: str) -> tuple[str, str]:
    """Family and number where letters between them belong to the family.

    >>> _settled("LV", "1T08"), _settled("VHC", "1GT04"), _settled("HC", "U04"), _settled("LVC", "1T45")
    (('LV1T', '1G08'), ('VHCT', '1G04'), ('HCU', '04'), ('LVC', '1T45'))
    """
    shift = _LOW_VOLTAGE_SHIFT.fullmatch(number) if family == "LV" else None
    if shift:  # shifting gates of one supply: LV1T is a family of single gates, LV2T to LV8T of whole ones
        return f"LV{shift[1]}T", f"1G{shift[2]}" if shift[1] == "1" else shift[2]
    if family == "VHC" and re.fullmatch(r"9\d{3}", number) and number not in functions():
        return family, number[1:] if number[1:] in functions() else number
    ttl = re.fullmatch(r"([1-3]G)T(\d+)", number)
    if ttl and family == "LV":
        return family, f"{ttl[1]}{ttl[2]}"  # LVT is another family
    if ttl and not family.endswith("T"):
        return f"{family}T", f"{ttl[1]}{ttl[2]}"
    if number.startswith("U"):
        return (family if family.endswith("U") else f"{family}U"), number[1:]
    return family, number


def _makers_little(text: str) -> Iterator[LogicReading]:
    for match in _MAKERS_LITTLE.finditer(text):
        maker, gates, letters = match["maker"].upper(), (match["gates"] or "").upper(), (match["family"] or "").upper()
        number = match["number"].upper()
        units = _BY_DIGIT.get(maker) or _GATES[gates]
        if maker == "TC7" and gates == "W" and number in _ONE_INPUT:
            units = "3G"  # recalled: this house's eight-terminal inverters and buffers are triple
        if letters.endswith("U") and not number.startswith("U"):
            letters, number = letters[:-1], f"U{number}"
        found = known(f"{units}{number}")
        if number == "9306":
            found = other_logic().get("PCA9306")
        yield LogicReading(
            f"{units}{number}",
            f"{maker}{gates}{letters}",
            found,
            match["suffix"].upper(),
            match[0].removesuffix(match["tail"]),
            True,
            "number",
            maker,
            match["tail"],
        )


def _four_thousand(text: str) -> Iterator[LogicReading]:
    for match in _FOUR_THOUSAND.finditer(text):
        number, maker = match["number"], match["maker"].upper()
        if number not in functions() and maker not in ("CD", "HEF", "HCF", "MC1"):
            continue  # other makers give such numbers to other parts too
        yield LogicReading(
            number,
            maker,
            functions().get(number),
            match["suffix"].upper(),
            match[0].removesuffix(match["tail"]),
            False,
            "number",
            maker,
            match["tail"],
        )


def _short(text: str) -> Iterator[LogicReading]:
    """Families without their 54 or 74, where the table knows the function.

    >>> reading = next(_short("HC4066"))
    >>> reading.family, reading.number, reading.by, list(_short("HC49/U crystal"))
    ('HC', '4066', 'short number', [])
    """
    for match in _SHORT.finditer(text):
        family, number = match["family"].upper(), match["number"].upper()
        found = known(*reversed(_settled(family, number)))
        if found is None or f"{family}{number}" in _NO_LOGIC:
            continue
        family, number = _settled(family, number)
        yield LogicReading(
            number,
            family,
            found,
            match["suffix"].upper(),
            match[0].removesuffix(match["tail"]),
            is_little(number),
            "number" if family == "FST" or match["maker"] else "short number",
            (match["maker"] or "").upper(),
            match["tail"],
        )


def _little_alone(text: str) -> Iterator[LogicReading]:
    for match in _LITTLE_ALONE.finditer(text):
        number, maker = match["number"].upper(), match["maker"].upper()
        if found := known(number):
            family = maker if maker in _GATES_WRITTEN else ""
            by = "number" if family else "loose number"
            yield LogicReading(number, family, found, match["suffix"].upper(), match[0], True, by, maker)


def _loose(text: str) -> Iterator[LogicReading]:
    for match in _LOOSE.finditer(text):
        family = match["family"].upper()
        open_family = set(family) <= {"X"}
        found = functions().get(match["number"])
        if found and (open_family or family in FAMILIES):
            yield LogicReading(
                match["number"], "" if open_family else family, found, "", match[0], False, "loose number"
            )


_OWN_NAME = re.compile(
    r"(?<![A-Za-z0-9])(?P<maker>SN|IDT|ID)?(?:74)?(?P<word>(?:[A-Z]{2,5}|P(?=82B))[A-Z0-9]{3,14})"
    r"(?P<tail>[^\s;|]{0,12})",
    re.IGNORECASE,
)


def _other(text: str) -> Iterator[LogicReading]:
    """Level translators, bus and analog switches, extenders and drivers under names of their own."""
    for match in _OWN_NAME.finditer(text):
        upper = match["word"].upper()
        start = next((start for start in other_logic() if upper.startswith(start)), None)
        # Five signs alone name terminal blocks too (DG301): only a number of the table is read from so few.
        switch = _SWITCHES.match(upper) if start is None and len(upper) > SHORTEST_SWITCH else None
        if switch:
            letters = re.match(r"[A-Z]+", upper)
            yield LogicReading(
                switch[0],
                letters[0] if letters else "",
                Function(switch[0], "analog switch", 0, 1),
                upper.removeprefix(switch[0]),
                match["word"],
                False,
                "number",
                letters[0] if letters else "",
                match["tail"],
            )
        if start:
            letters = re.match(r"[A-Z]+", start)
            suffix = upper.removeprefix(start)
            # One revision letter may follow the number before the package letters.
            yield LogicReading(
                start,
                letters[0] if letters else "",
                other_logic()[start],
                "" if suffix == "E" else suffix,  # a mark of these parts' own, no drilled package
                match["word"],
                False,
                "number",
                (match["maker"] or (letters[0] if letters else "")).upper(),
                match["tail"],
            )


def read_bare_number(text: str) -> LogicReading | None:
    """A number of the 4000 series that stands alone, as on the sheets of small boards: `4017`, `40106BE`.

    >>> read_bare_number("4017").function.words
    'decade counter with decoded outputs'
    """
    match = re.fullmatch(r"(?P<number>4\d{3,4})(?P<suffix>[A-Z]{0,4})", text.strip(), re.IGNORECASE)
    found = functions().get(match["number"]) if match else None
    if match is None or found is None:
        return None
    return LogicReading(match["number"], "", found, match["suffix"].upper(), match[0], False, "bare number")


_BARE_LITTLE = re.compile(r"(?P<number>[1-3]G[UT]?\d{2,3}|[12]T\d{2})(?P<suffix>[A-Z]{0,4})", re.I)
# Letters that begin other makers' names too, so that a fitting package must speak for them.
_BARE_FAMILY = re.compile(r"(?P<family>ACT?|F|LVX?|AS|S|AXP|AXC|VCX)(?P<number>U?\d{2,4})(?P<suffix>[A-Z]{0,3})", re.I)


def read_named_by_its_package(text: str) -> LogicReading | None:
    """`1G04`, `ACT04`, `LV245A`: what means a logic part only beside a package of as many terminals.

    >>> read_named_by_its_package("1G04").function.terminals, read_named_by_its_package("LV245A").family
    (5, 'LV')
    """
    little = _BARE_LITTLE.fullmatch(text.strip())
    if little and (found := known(little["number"].upper())):
        suffix = little["suffix"].upper()
        return LogicReading(little["number"].upper(), "", found, suffix, little[0], True, "bare number")
    match = _BARE_FAMILY.fullmatch(text.strip())
    found = known(match["number"].upper(), match["family"].upper()) if match else None
    if match is None or found is None:
        return None
    family, number = _settled(match["family"].upper(), match["number"].upper())
    return LogicReading(number, family, found, match["suffix"].upper(), match[0], False, "short number")


def written_number(family: str, number: str) -> str:
    """A function's number as the trade writes it, or an empty text where none is known.

    >>> written_number("LVC", "1G08"), written_number("CD", "4017"), written_number("TXS", "TXS0104")
    ('74LVC1G08', 'CD4017', 'TXS0104')
    >>> written_number("NC7SZ", "1G08"), written_number("TTL", "00"), written_number("", "245")
    ('NC7SZ08', '7400', '74245')
    """
    if not number[:1].isdigit():
        return number
    if family in FOUR_THOUSAND or family == "4000":
        return number if family == "4000" else f"{family}{number}"
    if family in _GATES_WRITTEN:
        return f"{family}{number}"
    if family.startswith(("NC7", "TC7", "SGM7", "NL")):
        return f"{family}{re.sub(r'^[1-3]G', '', number)}"
    if family == FIRST_FAMILY:
        return f"74{number}"
    return f"74{family}{number}"
