"""Functions written in words: `quad 2-input NAND gate`, `IC GATE NAND 4CH 2-INP 14SOIC`, `V-LEVEL XLATR`."""

from __future__ import annotations

import re
from dataclasses import replace

from landwise.fabdata.functions import Function, LogicReading, functions
from landwise.fabdata.functiontongues import SCHMITT, in_english

_COUNT = {"single": 1, "dual": 2, "double": 2, "triple": 3, "quad": 4, "quadruple": 4, "hex": 6, "octal": 8}
_NAMES = {count: name for name, count in reversed(_COUNT.items())}
_GATE_WORDS = re.compile(
    r"(?P<count>single|dual|double|triple|quad(?:ruple)?|hex|octal)?[\s-]*(?P<inputs>\d|two|three|four)[\s-]*inp(?:ut)?s?"
    r"[\s-]*(?:positive[\s-]*)?(?P<gate>nand|nor|and|or|xor|exclusive[\s-]*or|xnor)\b",
    re.IGNORECASE,
)
_INVERTER_WORDS = re.compile(
    r"\b(?P<count>single|dual|triple|hex)[\s-]+(?:schmitt[\s-]*(?:trigger)?[\s-]*)?(?P<kind>inverter|buffer)s?\b", re.I
)
_OCTAL_WORDS = re.compile(
    r"\b(?P<count>octal|8[\s-]*bit|16[\s-]*bit|quad)[\s-]+(?:3[\s-]*state[\s-]+)?(?:non[\s-]*inverting[\s-]+)?"
    r"(?P<kind>bus transceiver|transceiver|buffer|line driver|d[\s-]*type latch|transparent latch|d[\s-]*type"
    r" flip[\s-]*flop)",
    re.I,
)
# The terse style of parts catalogues: "IC GATE NAND 4CH 2-INP 14SOIC".
_TERSE_GATE = re.compile(
    r"\bgate\s+(?P<gate>nand|nor|and|or|xor|xnor)\s+(?:schmitt\s+)?(?P<count>\d)ch\s+(?P<inputs>\d)-inp", re.I
)
_TERSE_INVERTER = re.compile(r"\binverter\s+(?:schmitt\s+|od\s+)?(?P<count>\d)ch\s+\d-inp", re.I)
_SWITCH_WORDS = re.compile(
    r"\banalog(?:ue)?\s+(?:switch(?:es)?|multiplexer|mux|demultiplexer)\b|\bswitch\s+(?:single|dual|triple|quad|octal)?\s*sp[sd]t\b"
    r"|\bsp[sd]t\s+(?:analog(?:ue)?\s+)?switch|\b(?:mux|multiplexer)/demux\b",
    re.I,
)
_NO_LOGIC_SWITCH = re.compile(
    r"\b(?:rf|ghz|antenna|power|load|usb\S*|hdmi\S*|ethernet|lan|video|audio|tactile|push|slide|dip|toggle|rocker|reed|rotary)\b",
    re.I,
)
_BUS_WORDS = re.compile(
    r"\b(?:(?:i2c|i\W?²?c|smbus|two[\s-]*wire|2[\s-]*wire)[\s-]*(?:bus)?[\s-]*(?P<i2c>buffer|repeater|extender|accelerator)"
    r"|bus[\s-]+(?P<bus>extender|repeater))\b",
    re.I,
)
_XLATR_WORDS = re.compile(
    r"\b(?:v(?:olt(?:age)?)?[\s-]*)?(?:level|lvl)[\s-]*(?:xlat\w*|xlt\w*|trnsl\w*|shift\w*|transl\w*)|\b(?:trnsltr|xlatr|xlator)\b"
    r"|\bvoltage[\s-]+(?:transl\w+|xlat\w*)",
    re.I,
)
_TERSE_OTHER = re.compile(
    r"\b(?P<kind>buffer|bus"
    r" transcvr|transceiver|transcvr|translator)\s+(?:bus\s+)?(?:non-invert|invert|tri-st|3-st|bidir|translation)"
    r"|\b(?P<flip>d-type)\s+(?:pos|neg)\s+trg|\b(?P<latch>d-type"
    r" transp)|\b(?P<other>(?:de)?multiplexer|decoder/demux|shift register|shift reg)\b",
    re.I,
)
_OTHER_WORDS = re.compile(
    r"\b(shift"
    r" register|flip[\s-]*flop|level[\s-]*(?:translator|shifter|translating)|voltage[\s-]*(?:level[\s-]*)?translator|"
    r"bus switch|binary counter|decade counter|line decoder|demultiplexer)\b",
    re.I,
)
_INPUTS = {"two": 2, "three": 3, "four": 4}
# Words beside which buffers, drivers, transceivers and counters are no logic of the kind judged here.
_ALONE, _END = "(?<![A-Za-z0-9])", "(?![A-Za-z0-9])"  # word ends that hold beside other scripts too
NO_LOGIC = re.compile(
    rf"{_ALONE}(?:rs[\s-]?(?:232|422|485)|can(?:[\s-]?fd)?[\s-]*(?:bus|transceiver|收发器|总线)|lin[\s-]*(?:bus|transceiver)|phy"
    r"|m?-?lvds|(?:lv)?p?ecl|op(?:erational)?[\s-]?amps?|rtc|[ad]ac|igbt|mosfet"
    rf"|(?:max|sp|st|adm|icl|isl|ltc|trs|gd)\d{{0,2}}2(?:02|32)[a-z]*){_END}"
    r"|ethernet|gate[\s-]*(?:driver|drv)|operational amp|operationsverst|amplificateur|运放|オペアンプ|real[\s-]*time"
    r"|opto|photo|光耦|フォトカプラ|fuel gauge|isolator|\bmotor|电机|モータ"
    r"|led驱动|led driver|video|视频|ビデオ|音频|オーディオ|稳压|レギュレータ|regler\b|régulateur",
    re.I,
)


def read_words(text: str) -> LogicReading | None:
    """A function written in words, with the terminals that follow from it.

    Gates have one output and two supplies: terminals = units × (inputs + 1) + 2.

    >>> read_words("quad 2-input NAND gate").function.terminals
    14
    >>> read_words("SINGLE 2-INPUT POSITIVE-AND GATE").function.terminals
    5
    >>> read_words("6-fach Inverter").function.words, read_words("LVDS quad line driver")
    ('hex inverter', None)
    """
    if NO_LOGIC.search(text):
        return None
    said = in_english(text)
    if said == "analog switch" and _NO_LOGIC_SWITCH.search(text):
        return None
    found = _read_english(said) if said else None
    found = replace(found, text=text[:LONGEST_SAID]) if found else _read_english(text)
    if found and found.function and found.function.number == "" and SCHMITT.search(text):
        return replace(found, function=_with_schmitt(found.function))
    return found


LONGEST_SAID = 60


def _with_schmitt(function: Function) -> Function:
    """With Schmitt-trigger inputs, where the table knows that as a function of its own; elsewhere they are a detail."""
    known = {one.words for one in functions().values()}
    words = (f"{function.words.removesuffix(' gate')} Schmitt trigger", f"{function.words} Schmitt trigger")
    return next((replace(function, words=one) for one in words if one in known), function)


def _read_english(text: str) -> LogicReading | None:
    match = _GATE_WORDS.search(text)
    if match:
        count = _COUNT.get((match["count"] or "single").lower(), 1)
        inputs = int(_INPUTS.get(match["inputs"].lower(), 0) or match["inputs"])
        gate = "XOR" if match["gate"].lower().startswith("exclusive") else match["gate"].upper()
        name = next(word for word, number in _COUNT.items() if number == count)
        function = Function("", f"{name} {inputs}-input {gate} gate", count * (inputs + 1) + 2, count)
        return LogicReading("", "", function, "", match[0], count <= 3 and function.terminals <= 8, "words")
    match = _INVERTER_WORDS.search(text)
    if match:
        count = _COUNT[match["count"].lower()]
        terminals = 5 if count == 1 else 2 * count + 2
        function = Function("", f"{match['count'].lower()} {match['kind'].lower()}", terminals, count)
        return LogicReading("", "", function, "", match[0], count <= 3, "words")
    match = _OCTAL_WORDS.search(text)
    if match:
        bits = {"octal": 8, "quad": 4}.get(match["count"].lower()) or int("".join(re.findall(r"^\d+", match["count"])))
        terminals = {4: 14, 8: 20, 16: 48}[bits]
        function = Function("", f"{match['count'].lower()} {match['kind'].lower()}", terminals, bits)
        return LogicReading("", "", function, "", match[0], False, "words")
    match = _TERSE_GATE.search(text)
    if match:
        count, inputs = int(match["count"]), int(match["inputs"])
        words = f"{_NAMES.get(count, str(count))} {inputs}-input {match['gate'].upper()} gate"
        return LogicReading(
            "", "", Function("", words, count * (inputs + 1) + 2, count), "", match[0], count <= 3, "words"
        )
    match = _TERSE_INVERTER.search(text)
    if match:
        count = int(match["count"])
        function = Function("", f"{_NAMES.get(count, str(count))} inverter", 5 if count == 1 else 2 * count + 2, count)
        return LogicReading("", "", function, "", match[0], count <= 3, "words")
    return _terse_other(text)


def _terse_other(text: str) -> LogicReading | None:
    """Functions whose terminals only the package tells."""
    match = _TERSE_OTHER.search(text)
    if match:
        names = {
            "kind": match["kind"],
            "flip": "D-type flip-flop",
            "latch": "transparent latch",
            "other": match["other"],
        }
        words = next(names[group] for group in names if match[group])
        return LogicReading(
            "", "", Function("", words.lower() if words == match["kind"] else words, 0, 1), "", match[0], False, "words"
        )
    for words, pattern in (
        ("level translator", _XLATR_WORDS),
        ("two-wire bus buffer", _BUS_WORDS),
        ("analog switch", _SWITCH_WORDS),
    ):
        match = pattern.search(text)
        if match and not (words == "analog switch" and _NO_LOGIC_SWITCH.search(text)):
            return LogicReading("", "", Function("", words, 0, 1), "", match[0], False, "words")
    match = _OTHER_WORDS.search(text)
    if match:
        return LogicReading("", "", Function("", match[0].lower(), 0, 1), "", match[0], False, "words")
    return None
