"""Texts that are not Unicode: which of the old encodings of West, Russia, Japan and China one is written in.

Told by what bytes each encoding uses (the standards' own tables): the lead bytes of JIS X 0208 under Shift JIS, the two
high bytes of GB 2312, the first level of Big5, runs of Cyrillic letters in Windows 1251. What fits none is Western.
"""

from __future__ import annotations

import re

SAMPLE_BYTES = 200_000
LEAST_PAIRS = 4  # different ones; fewer tell nothing: a bill with a hundred µ is Western
LEAST_LEADS = 8  # different lead bytes of Big5, whose second byte may be a plain letter
MOST_SHARE = 0.7
CYRILLIC_SHARE = 0.9
_HIGH = re.compile(rb"[\x80-\xff]")
_JIS_PAIR = re.compile(rb"[\x81-\x84\x88-\x9f\xe0-\xea][\x40-\x7e\x80-\xfc]")
_JIS_FIRST_LEVEL = re.compile(rb"[\x81-\x84\x88-\x97][\x40-\x7e\x80-\xfc]")
_GB_PAIR = re.compile(rb"[\xa1-\xf7][\xa1-\xfe]")
_GB_FIRST_LEVEL = re.compile(rb"[\xa1-\xa3\xb0-\xd7][\xa1-\xfe]")
_BIG5_PAIR = re.compile(rb"[\xa1-\xf9][\x40-\x7e\xa1-\xfe]")
_BIG5_FIRST_LEVEL = re.compile(rb"[\xa1-\xc6][\x40-\x7e\xa1-\xfe]")
_CYRILLIC_RUN = re.compile(rb"[\xa8\xb8\xc0-\xff]{3,}")


def decoded_8bit(raw: bytes) -> tuple[str, str]:
    """The text of bytes that are no Unicode, and the name of the encoding found.

    Examples
    --------
    >>> decoded_8bit("部品番号,型番,ロジックIC".encode("shift_jis"))
    ('部品番号,型番,ロジックIC', 'Shift JIS')
    >>> decoded_8bit("位号,型号,封装,缓冲器".encode("gb18030"))[1], decoded_8bit("Gehäuse, 100 µF".encode("cp1252"))[1]
    ('GB 18030', 'Western 8-bit (cp1252)')
    >>> decoded_8bit("Поз. обозначение".encode("cp1251"))[1]
    'Windows 1251'
    """
    sample = raw[:SAMPLE_BYTES]
    for name, codec, fits in (
        ("Shift JIS", "cp932", _is_jis),
        ("Windows 1251", "cp1251", _is_cyrillic),
        ("GB 18030", "gb18030", _is_gb),
        ("Big5", "cp950", _is_big5),
    ):
        if fits(sample):
            try:
                return raw.decode(codec), name
            except UnicodeDecodeError:
                continue
    text = raw.decode("cp1252", errors="replace")
    lost = text.count("\ufffd")
    return text, "Western 8-bit (cp1252)" + (f", {lost} characters lost" if lost else "")


def _is_jis(sample: bytes) -> bool:
    """Kana and the first level of kanji lead with bytes that Western texts hardly have."""
    pairs = _JIS_PAIR.findall(sample)
    low = sum(0x81 <= byte <= 0x9F for byte in sample)
    return (
        len(set(pairs)) >= LEAST_PAIRS
        and len(_JIS_FIRST_LEVEL.findall(sample)) >= MOST_SHARE * len(pairs)
        and low >= 0.3 * len(_HIGH.findall(sample))
    )


def _is_cyrillic(sample: bytes) -> bool:
    high = len(_HIGH.findall(sample))
    return high >= 2 * LEAST_PAIRS and sum(map(len, _CYRILLIC_RUN.findall(sample))) >= CYRILLIC_SHARE * high


def _is_gb(sample: bytes) -> bool:
    """Both bytes are high, so that high bytes stand in even runs."""
    pairs = _GB_PAIR.findall(sample)
    return (
        len(set(pairs)) >= LEAST_PAIRS
        and 2 * len(pairs) >= CYRILLIC_SHARE * len(_HIGH.findall(sample))
        and len(_GB_FIRST_LEVEL.findall(sample)) >= MOST_SHARE * len(pairs)
    )


def _is_big5(sample: bytes) -> bool:
    pairs = _BIG5_PAIR.findall(sample)
    return (
        len(pairs) >= LEAST_PAIRS
        and len({pair[:1] for pair in pairs}) >= LEAST_LEADS
        and len(_BIG5_FIRST_LEVEL.findall(sample)) >= MOST_SHARE * len(pairs)
    )
