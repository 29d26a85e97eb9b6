"""The glossary at the word: a trade word on a page opens its definition there, without a script.

The words live in one place, the documentation's glossary; an installed package carries that page.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from functools import cache
from html import escape
from importlib import resources
from pathlib import Path

from landwise.errors import FileError

CHECKOUT = Path(__file__).resolve().parents[3]
# Words that pages also use in their plain sense, where a definition would only be in the way.
PLAIN = frozenset({"line", "option", "side", "opening", "how firm", "bridge", "trail", "verdict", "outline"})
# What holds no running text: drawings, what is already a link or a control, and titles of pages and sections.
CLOSED = frozenset(
    [
        *("svg", "style", "script", "title", "a", "button", "code", "pre", "h1", "h2"),
        *("label", "select", "textarea", "summary", "nav", "legend", "datalist"),
    ]
)
ENTRY = re.compile(
    r"\*\*(?P<name>[^*]+)\*\*(?P<more>[^:]*): (?P<says>.*?)(?: \*Ours:\* (?P<ours>.*?)\.?)?(?=\n\n|\Z)", re.S
)
# Comments, whole drawings that hold no other, tags. Most of a page are drawings, and nothing in one is running text.
PIECE = re.compile(r"(<!--.*?-->|<svg\b[^<>]*[^<>/]>[^<]*+(?:<(?!/?svg\b)[^<]*+)*+</svg>|<[^>]*>)", re.S)
TAG = re.compile(r"<(/?)([a-zA-Z0-9]+)")
MARK = re.compile(r'popovertarget="w-([a-z0-9-]+)"')


@dataclass(frozen=True)
class Word:
    """One entry: its key in a page, the trade's word, the words by which it is found, what it means."""

    key: str
    name: str
    found_by: tuple[str, ...]
    says: str


@cache
def words() -> tuple[Word, ...]:
    """Every entry of the glossary, in its order.

    Raises
    ------
    FileError
        Where neither the package nor the checkout has the page.

    Examples
    --------
    >>> next(one for one in words() if one.key == "area-ratio").says
    "area of an aperture's opening over the area of its walls. Below about 0.66 paste tends to stay in the aperture."
    """
    inside = resources.files("landwise.sheets").joinpath("glossary.md")
    path = inside if inside.is_file() else CHECKOUT / "docs" / "glossary.md"
    if not path.is_file():
        raise FileError("the glossary is not installed", file="glossary.md", expected="a whole package")
    return read_words(path.read_text(encoding="utf-8"))


def read_words(text: str) -> tuple[Word, ...]:
    """The entries of a glossary page.

    >>> read_words("**land**, pad: copper that a terminal\\nis soldered to. *Ours:* spot.")[0]
    Word(key='land', name='land', found_by=('land', 'pad', 'spot'), says='copper that a terminal is soldered to.')
    """
    made = []
    for entry in ENTRY.finditer(text):
        name = entry["name"]
        others = [one.strip() for one in re.sub(r"\(.*?\)", "", entry["more"]).split(",") if one.strip()]
        ours = [entry["ours"].split(",")[0]] if entry["ours"] else []
        key = re.sub(r"[^a-z0-9]+", "-", name.lower()).strip("-")
        made.append(Word(key, name, tuple(dict.fromkeys([name, *others, *ours])), " ".join(entry["says"].split())))
    return tuple(made)


@cache
def _by_name() -> dict[str, Word]:
    return {name.lower(): one for one in words() for name in one.found_by if name.lower() not in PLAIN}


@cache
def _pattern() -> re.Pattern[str]:
    names = sorted(_by_name(), key=len, reverse=True)
    return re.compile(rf"(?<![\w-])({'|'.join(re.escape(escape(one)) for one in names)})(s?)(?![\w-])", re.IGNORECASE)


RUN = re.compile(r"[\w-]+")


@cache
def _begins() -> frozenset[str]:
    """The first run of letters of every name, and of a name of one run its plural: what a word on a page begins with.

    Raises
    ------
    ValueError
        For a name that begins with no letter, which would never be found.
    """
    runs = {name: RUN.match(name) for name in map(escape, _by_name())}
    if wrong := [name for name, run in runs.items() if run is None]:
        raise ValueError(f"words of the glossary that begin with no letter: {', '.join(wrong)}")
    firsts = {run[0] for run in runs.values() if run is not None}
    return frozenset([*firsts, *(f"{first}s" for first in firsts)])


def _met(text: str) -> Iterator[re.Match[str]]:
    """Every word of the glossary in an escaped text, in its order: what `_pattern().finditer` gives, in a fifth of its
    time, since most runs of letters begin no word."""
    begins, pattern, after = _begins(), _pattern(), 0
    for run in RUN.finditer(text):
        if run[0].lower() in begins and run.start() >= after:
            found = pattern.match(text, run.start())
            if found is not None:
                after = found.end()
                yield found


def _word(found: re.Match[str]) -> Word | None:
    from html import unescape

    whole = unescape(found[0]).lower()
    return _by_name().get(whole) or _by_name().get(whole.removesuffix("s"))


def marked(page: str) -> str:
    """A page, or a piece of one, in which the first of each trade word opens its definition.

    Words that the page marks already stay marked where they are; `definitions` gives what they open.

    Examples
    --------
    >>> marked("<p>Lands, and a land.</p>")
    '<p><button type="button" class="word" popovertarget="w-land">Lands</button>, and a land.</p>'
    >>> marked("<svg>land</svg><p class=land>the boardland</p>")
    '<svg>land</svg><p class=land>the boardland</p>'
    """
    seen = set(MARK.findall(page))

    def opened(found: re.Match[str]) -> str:
        one = _word(found)
        if one is None or one.key in seen:
            return found[0]
        seen.add(one.key)
        return f'<button type="button" class="word" popovertarget="w-{one.key}">{found[0]}</button>'

    def changed(text: str) -> str:
        made, after = list[str](), 0
        for found in _met(text):
            made += (text[after : found.start()], opened(found))
            after = found.end()
        return "".join((*made, text[after:])) if made else text

    return _in_text(page, changed)


def _in_text(page: str, change: Callable[[str], str]) -> str:
    """A page with a change made to its running text alone."""
    made, closed = [], list[str]()
    begun = "<body" not in page
    for piece in PIECE.split(page):
        tag = TAG.match(piece)
        if tag is None:
            made.append(change(piece) if begun and not closed and piece.strip() else piece)
            continue
        made.append(piece)
        if piece.endswith("</svg>") and not tag[1]:
            continue  # a whole drawing
        name = tag[2].lower()
        begun = begun or name == "body"
        if name not in CLOSED or piece.endswith("/>"):
            continue
        if not tag[1]:
            closed.append(name)
        elif name in closed:
            del closed[len(closed) - 1 - closed[::-1].index(name) :]
    return "".join(made)


def opened_in(page: str) -> tuple[Word, ...]:
    """The words that a marked page opens, in the glossary's order."""
    keys = set(MARK.findall(page))
    return tuple(one for one in words() if one.key in keys)


def used_in(text: str) -> tuple[Word, ...]:
    """The words that a plain text uses, in the glossary's order.

    Examples
    --------
    >>> [one.key for one in used_in("The foil's apertures release")]
    ['aperture', 'foil']
    """
    found = {one.key for each in _met(escape(text, quote=True)) if (one := _word(each)) is not None}
    return tuple(one for one in words() if one.key in found)


def definitions(found: Iterable[Word]) -> str:
    """What marked words open, to stand at the end of a page."""
    return "".join(
        f'<div popover id="w-{one.key}" class="word-said" role="note">'
        f"<b>{escape(one.name)}</b>: {escape(one.says)}</div>\n"
        for one in found
    )
