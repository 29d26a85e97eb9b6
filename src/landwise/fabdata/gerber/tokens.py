"""A Gerber file cut into statements, each with where it stands."""

from __future__ import annotations

import re
from bisect import bisect_right
from dataclasses import dataclass

from landwise.errors import FileError
from landwise.fabdata.gerber.model import Limits

# Runs of blanks and of empty statements are skipped in one go; a body begins with neither, so nothing is tried twice.
_STATEMENT = re.compile(r"[\s*]*(?:%([^%]*)%|([^*%\s][^*%]*)\*)")
_BLANKS = re.compile(r"[\r\n]+")


@dataclass(frozen=True)
class Cut:
    """All statements of a file: `(extended, text, start, end)`, and where lines begin."""

    text: str
    statements: tuple[tuple[bool, str, int, int], ...]
    line_starts: tuple[int, ...]

    def line(self, number: int) -> int:
        """The line, from 1, in which a statement begins."""
        start = self.statements[number][2]
        return bisect_right(self.line_starts, start)


def cut(data: bytes, file: str, limits: Limits) -> Cut:
    """Cut a file into statements.

    Raises
    ------
    FileError
        For files that are too long, not text, empty, or that end within a statement.

    Examples
    --------
    >>> [text for _, text, _, _ in cut(b"%MOMM*%\\nX1Y2D03*\\nM02*", "a.gbr", Limits()).statements]
    ['MOMM*', 'X1Y2D03', 'M02']
    """
    if len(data) > limits.bytes:
        raise FileError(
            "the file is too long", file=file, found=f"{len(data)} bytes", expected=f"at most {limits.bytes}"
        )
    if b"\0" in data[:100_000]:
        raise FileError("not a Gerber file: it holds binary data", file=file, expected="text such as %FSLAX46Y46*%")
    # A mark of byte order, which some editors put before plain text, is no statement.
    text = data.removeprefix(b"\xef\xbb\xbf").decode("latin-1")
    starts = [0, *(match.end() for match in re.finditer(r"\r\n|\n|\r", text))]
    found: list[tuple[bool, str, int, int]] = []
    at = 0
    while match := _STATEMENT.match(text, at):
        extended = match[1] is not None
        body = match[1] if extended else match[2]
        if "\n" in body or "\r" in body:
            body = _BLANKS.sub("", body)
        begin = match.start(1) - 1 if extended else match.start(2)
        found.append((extended, body.strip(), begin, match.end()))
        at = match.end()
        if len(found) > limits.statements:
            raise FileError("too many statements", file=file, expected=f"at most {limits.statements}")
    rest = text[at:].strip("\r\n\t\f\v *\x1a")
    if rest:
        line = bisect_right(starts, at + len(text[at:]) - len(text[at:].lstrip("\r\n\t\f\v *")))
        raise FileError(
            "the file ends within a statement" if found else "not a Gerber file",
            file=file,
            place=f"line {line}",
            found=repr(rest[:40]),
            expected="statements that end with *",
        )
    if not found:
        raise FileError("not a Gerber file: it is empty", file=file, expected="statements such as %FSLAX46Y46*%")
    return Cut(text, tuple(found), tuple(starts))
