"""Functions in the words of German, French, Spanish, Italian, Chinese and Japanese bills, said in English.

The words are the trade's own (common practice, no source). A gate is taken only where its count and its inputs are
told: anything less leaves open how many terminals it has.
"""

from __future__ import annotations

import re

_COUNTS = (
    ("single", r"einfach|einzel|\b1[- ]?fach|\bsimple|[单單]路?|\b1\s*(?:回路|路)"),
    ("dual", r"zweifach|\b2[- ]?fach|doppel|\bdouble|[双雙二两]路?|\b2\s*(?:回路|路)"),
    ("triple", r"dreifach|\b3[- ]?fach|\btriple|三路?|\b3\s*(?:回路|路)"),
    ("quad", r"vierfach|\b4[- ]?fach|\b(?:quadrupl[aeo]|cu[áa]druple)|四路?|\b4\s*(?:回路|路)"),
    ("hex", r"sechsfach|\b6[- ]?fach|\bsextuple|六路?|\b6\s*(?:回路|路)"),
    ("octal", r"achtfach|\b8[- ]?fach|\boctuple|八路?|\b8\s*(?:回路|路|位|ビット)|\b8[- ]?bit"),
)
_INPUTS = re.compile(
    r"(?P<n>[2-8]|zwei|drei|vier|deux|trois|quatre|[二两三四])[\s-]*(?:fach[\s-]*)?"
    r"(?:eing(?:ä|ae)ng\w*|entr(?:é|e)es?|entradas?|ingressi|输入|輸入|入力)",
    re.I,
)
_FIGURES = {"zwei": 2, "deux": 2, "二": 2, "两": 2, "drei": 3, "trois": 3, "三": 3, "vier": 4, "quatre": 4, "四": 4}
# `und`, `et` and `ou` are words of every sentence: as gates they stand in capitals or beside a word for gate.
_GATES = (
    ("XNOR", r"(?<![A-Za-z])X-?NOR|同或|exklusiv-?nor"),
    ("XOR", r"(?<![A-Za-z])(?:EX-?|X)OR|exklusiv-?oder|ou[ -]exclusif|[异異]或|排他的論理和"),
    ("NAND", r"(?<![A-Za-z])NAND|nicht-?und|\bNON[ -]ET\b|(?-i:[与與]非)|否定論理積"),
    ("NOR", r"(?-i:(?<![A-Za-z])NOR)|nicht-?oder|\bNON[ -]OU\b|或非|否定論理和"),
    ("AND", r"(?-i:\bUND\b|(?<![A-Za-z])AND|\bET\b)|und-(?:gatter|glied)|porte et\b|[与與][门門]|論理積"),
    ("OR", r"(?-i:\bODER\b|(?<![A-Za-z])OR|\bOU\b)|oder-(?:gatter|glied)|porte ou\b|或[门門]|論理和"),
)
_COUNTED = (
    ("inverter", r"inverter|negator|inverseur|inversor|invertitore|反相器|インバータ"),
    ("buffer", r"puffer|tampon|[缓緩][冲衝]器|バッファ"),
)
_WHOLE = (
    ("octal bus transceiver", r"(?:octal|8).*(?:总线收发器|バストランシーバ)"),
    ("shift register", r"schieberegister|registre à décalage|移位寄存器|シフトレジスタ"),
    (
        "level translator",
        r"pegel(?:wandler|umsetzer)|(?:convertisseur|translateur) de niveau|[电電]平[转轉][换換]|レベル(?:変換|シフタ)",
    ),
    (
        "analog switch",
        r"analog(?:ue)?(?:schalter|multiplexer)|(?:commutateur|multiplexeur) analogique|模[拟擬][开開][关關]"
        r"|アナログ(?:スイッチ|マルチプレクサ)",
    ),
    ("D-type flip-flop", r"D[- ]?flip-?flop|bascule d\b|D型?触发器|(?:D型?)?フリップフロップ"),
    ("line decoder", r"(?:leitungs)?de[kc]oder \d|décodeur \d|译码器|デコーダ"),
    ("decade counter", r"dezimalz(?:ä|ae)hler|compteur décimal"),
    ("binary counter", r"bin(?:ä|ae)rz(?:ä|ae)hler|compteur binaire|二进制计数器|バイナリカウンタ"),
)
_TONGUES = re.compile(
    r"fach|einzel|doppel|eing(?:ä|ae)ng|schalter|wandler|umsetzer|schiebe|z(?:ä|ae)hler|negator|puffer|gatter|[éèàç]|porte"
    r"|entrees|uple|simple|double|bascule|niveau|inverseur|tampon|puerta|entradas|ingressi|cu[áa]druple|quadrupla|inversor|invertitore|analogique|[\u3040-\u30ff\u4e00-\u9fff]",
    re.I,
)


SCHMITT = re.compile(r"schmitt|施密特|シュミット", re.I)


def in_english(text: str) -> str:
    """A function's words in English, or an empty text where none of the other tongues names one.

    Examples
    --------
    >>> in_english("4-fach NAND, 2 Eingänge"), in_english("Quadruple porte OU 2 entrées"), in_english("四路2输入与非门")
    ('quad 2-input NAND gate', 'quad 2-input OR gate', 'quad 2-input NAND gate')
    >>> in_english("2入力ANDゲート 1回路"), in_english("Sextuple inverseur"), in_english("Widerstand und Kondensator")
    ('single 2-input AND gate', 'hex inverter', '')
    >>> in_english("6-fach Schmitt-Trigger-Inverter")
    'hex inverter Schmitt trigger'
    """
    if not _TONGUES.search(text):
        return ""
    count, inputs = _first(_COUNTS, text), _INPUTS.search(text)
    gate = _first(_GATES, text)
    schmitt = " Schmitt trigger" if SCHMITT.search(text) else ""
    if gate and inputs:
        said = inputs["n"].lower()
        return f"{count or 'single'} {_FIGURES.get(said) or said}-input {gate} gate{schmitt}"
    kind = _first(_COUNTED, text)
    if kind and count:
        return f"{count} {kind}{schmitt}"
    return _first(_WHOLE, text)


def _first(words: tuple[tuple[str, str], ...], text: str) -> str:
    return next((name for name, pattern in words if re.search(pattern, text, re.I)), "")
