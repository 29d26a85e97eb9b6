"""Text of nested lists in brackets (S-expressions) as plain lists of strings.

No general reader of them is both kept up and safe against nesting without end, so this one works token by token
without calling itself, and refuses what is deeper, longer or of more tokens than any board.
"""

from __future__ import annotations

import re
from typing import Any

from landwise.errors import InputError

MOST_BYTES = 60_000_000
MOST_TOKENS = 6_000_000  # the largest board files known to us stay below a tenth; a token takes some 100 bytes
DEEPEST = 60
_TOKEN = re.compile(r'\s*(?:([()])|"((?:[^"\\]|\\.)*)"|([^\s()"]+))', re.S)
_ESCAPED = re.compile(r"\\(.)", re.S)
_ESCAPES = {"n": "\n", "r": "\r", "t": "\t"}

Expression = list[Any]  # of strings and further expressions


def read_expression(data: bytes, file: str) -> Expression:
    """The one list that a file holds.

    Raises
    ------
    InputError
        For what is no such text, ends within a list, holds more than one, or passes a limit; with its line.

    Examples
    --------
    >>> read_expression(b'(board (at 1 2.5) (name "a \\\\"b\\\\" c"))', "b")
    ['board', ['at', '1', '2.5'], ['name', 'a "b" c']]
    """
    if len(data) > MOST_BYTES:
        raise InputError(
            "the file is too long", file=file, found=f"{len(data)} bytes", expected=f"at most {MOST_BYTES}"
        )
    return _Words(data.decode("utf-8-sig", errors="replace"), file).read()


class _Words:
    """The text, worked from its start to its end."""

    def __init__(self, text: str, file: str) -> None:
        self.text, self.file = text, file
        self.top: Expression = []
        self.stack: list[Expression] = [self.top]

    def read(self) -> Expression:
        at = count = 0
        while match := _TOKEN.match(self.text, at):
            at, count = match.end(), count + 1
            if count > MOST_TOKENS:
                raise self.refuse("more words than any board", at, f"over {MOST_TOKENS}", f"at most {MOST_TOKENS}")
            bracket, quoted, plain = match.groups()
            if bracket:
                self.bracket(bracket, at)
            elif quoted is None:
                self.stack[-1].append(plain)
            else:
                told = _ESCAPED.sub(lambda m: _ESCAPES.get(m[1], m[1]), quoted) if "\\" in quoted else quoted
                self.stack[-1].append(told)
        rest = self.text[at : at + 1000].strip()
        if rest:
            raise self.refuse("the text can't be understood", at, repr(rest[:30]), "lists in brackets")
        if len(self.stack) > 1:
            found = f"{len(self.stack) - 1} open"
            raise self.refuse("the file ends within a list", len(self.text), found, "every bracket closed")
        if len(self.top) != 1 or not isinstance(self.top[0], list):
            raise self.refuse("not one list in brackets", 0, f"{len(self.top)} of them", "one")
        found_: Expression = self.top[0]
        return found_

    def bracket(self, bracket: str, at: int) -> None:
        """Begin or end a list."""
        if bracket == ")":
            if len(self.stack) == 1:
                raise self.refuse("a bracket closes that none opened", at, ")", "brackets in pairs")
            self.stack.pop()
            return
        if len(self.stack) > DEEPEST:
            raise self.refuse("lists are nested too deep", at, f"more than {DEEPEST}", f"at most {DEEPEST}")
        inner: Expression = []
        self.stack[-1].append(inner)
        self.stack.append(inner)

    def refuse(self, message: str, at: int, found: str, expected: str) -> InputError:
        """The error, with its line."""
        line = self.text.count("\n", 0, at) + 1
        return InputError(message, file=self.file, place=f"line {line}", found=found, expected=expected)


def head(item: object) -> str:
    """A list's first word; empty for what is none."""
    return item[0] if isinstance(item, list) and item and isinstance(item[0], str) else ""


def every(item: Expression, *names: str) -> list[Expression]:
    """The lists within that begin with one of the words."""
    return [one for one in item[1:] if head(one) in names]


def first(item: Expression, name: str) -> Expression | None:
    """The first of them, if any."""
    return next((one for one in item[1:] if head(one) == name), None)


def words(item: Expression | None) -> list[str]:
    """The plain words of a list after its first."""
    return [] if item is None else [one for one in item[1:] if isinstance(one, str)]
