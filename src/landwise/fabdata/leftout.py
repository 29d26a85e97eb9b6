"""What a bill's row says of being left out: marks, remarks in several tongues, columns of yes and no.

The words are the trade's own (common practice, no source).
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping

from landwise.fabdata.grids import plain
from landwise.fabdata.references import expand

_LEFT_OUT = re.compile(
    r"\b(dnp|dni|dnf|dns|nopop|no[\s-]?(?:pop|stuff|load|fit|mount)|nostuff|(?:not|do not|don'?t)[\s-]*(?:be )?"
    r"(?:populated?|fit(?:ted)?|place[d]?|mount(?:ed)?|stuff(?:ed)?|install(?:ed)?|assembled?)|unpopulated|unbest(?:ü|ue)ckt|"
    r"nicht[\s-](?:best(?:ü|ue)ck(?:t|en)|montier(?:t|en))|entf(?:ä|ae)llt|(?:non|ne pas|à ne pas|no|não|niet)[\s-]"
    r"(?:mont(?:er|[ée]e?s?|ar|ado|ato|are)|(?:é|e)quip(?:é|e)e?s?|câblée?s?|plaatsen))(?!\w)"
    r"|(?:nie|ej) mont\w+|monteras (?:ej|inte)|미실장|미삽|不上件"
    r"|未実装|実装(?:なし|無し|しない|不要)|不(?:实装|實裝|実装)|[不空未](?:贴|貼|焊|装|裝)|不(?:安|组)装"
    r"|не (?:устанавливать|монтировать)",
    re.I,
)
_SOME_LEFT_OUT = re.compile(r"\b(?:NF|DNP|DNI|DNF)\s*\(([^)]*)\)", re.I)
_YES = frozenset(
    ["1", "y", "yes", "true", "x", "✓", "✔", "ja", "oui", "si", "sí", "sim", "tak", "nf", "是", "有", "да"]
)
_NO = frozenset(
    [
        "0",
        "n",
        "no",
        "none",
        "false",
        "nein",
        "non",
        "nicht",
        "não",
        "nao",
        "nie",
        "nej",
        "-",
        "否",
        "不",
        "无",
        "無",
        "なし",
        "×",
        "нет",
    ]
)
# Headings under which a "yes" means that the part is left out.
_HEADINGS_OF_LEAVING_OUT = frozenset(
    ["dnp", "dni", "dnf", "dns", "nostuff", "donotpopulate", "notfitted", "donotfit", "donotplace", "nopop", "nf"]
)
_WHOLE_VALUES_LEFT_OUT = frozenset(["DNP", "DNI", "DNF", "DNS", "NF", "NP", "NC", "NOPOP", "N.B.", "N/B"])


def left_out(
    cells: Mapping[str, str], references: tuple[str, ...], heading: str, *, is_text: Callable[[str], bool]
) -> tuple[str, ...]:
    """The references of a row that are not fitted: all, those named in brackets, or none.

    Parameters
    ----------
    cells : mapping of str to str
        Field, or `+ heading` of a column kept aside, to its text.
    references : tuple of str
    heading : str
        Of the column that says what is fitted: under some, yes means left out.
    is_text : callable
        Whether a column kept aside says something of this board; those of variants don't.

    Examples
    --------
    >>> left_out({"description": "Puffer, nicht bestückt"}, ("U1",), "", is_text=bool)
    ('U1',)
    >>> [left_out({"fitted": "yes"}, ("U1",), heading, is_text=bool) for heading in ("DNP", "Fitted")]
    [('U1',), ()]
    """
    flag = cells.get("fitted", "")
    some = _SOME_LEFT_OUT.search(flag)
    if some:
        named = set(expand(some[1]))
        return tuple(ref for ref in references if ref in named)
    word = flag.strip().lower()
    said_no = _YES if plain(heading) in _HEADINGS_OF_LEAVING_OUT else _NO
    if word in said_no or (word and _LEFT_OUT.search(flag)) or flag.strip() in ("NF", "NP"):
        return references
    for name in ("value", "part_number", "description"):
        text = cells.get(name, "")
        if text.strip().upper() in _WHOLE_VALUES_LEFT_OUT or _LEFT_OUT.search(text):
            return references
    if any(_LEFT_OUT.search(text) for name, text in cells.items() if is_text(name)):
        return references
    return ()
