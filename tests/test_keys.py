"""Data is data, words are words: nothing in the package is found, cut or told apart by its English."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

SRC = Path(__file__).resolve().parents[1] / "src" / "landwise"
FINDERS = {"startswith", "endswith", "removeprefix", "removesuffix", "find", "rfind", "index", "rindex", "count"}
CUTTERS = {"split", "rsplit", "partition", "rpartition", "replace"}
# Rooms and modules that read what other people wrote: their words are data there.
READERS = ("fabdata/", "study/offers.py", "quantities.py", "outlines/reading.py")
# What our own classes hold of words made for a reader, by the usual names of such fields.
SPOKEN = {"says", "why", "message", "headline", "proof", "runner_up", "what"}
# Fields that hold headings: a reference is not cut out of one.
HEADINGS = {"name", "part", "title"}


def is_prose(node: ast.AST) -> bool:
    """A string of two words or more, as no key is written."""
    return isinstance(node, ast.Constant) and isinstance(node.value, str) and len(node.value.split()) > 1


def spoken(node: ast.AST) -> bool:
    """A field that holds words for a reader: `flip.what`, `error.message`."""
    return isinstance(node, ast.Attribute) and node.attr in SPOKEN


def declared(tree: ast.Module) -> Iterator[object]:
    """What a Literal or an enumeration declares: a key, also where it has a blank."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Subscript) and getattr(node.value, "id", "") == "Literal":
            yield from constants(node.slice)
        if isinstance(node, ast.ClassDef) and any(getattr(base, "id", "") == "StrEnum" for base in node.bases):
            yield from constants(node)


def constants(node: ast.AST) -> Iterator[object]:
    return (one.value for one in ast.walk(node) if isinstance(one, ast.Constant))


def by_comparing(node: ast.Compare, keys: set[object]) -> Iterator[str]:
    """Words that are compared, or looked for in a text."""
    sides = [node.left, *node.comparators]
    for op, left, right in zip(node.ops, sides, sides[1:], strict=False):
        if isinstance(op, (ast.In, ast.NotIn)):
            if is_prose(left) and left.value not in keys:
                yield f"{left.value!r} looked for"
            if spoken(right):
                yield f"something looked for in .{right.attr}"
        elif isinstance(op, (ast.Eq, ast.NotEq)):
            yield from (
                f"compared with {one.value!r}" for one in (left, right) if is_prose(one) and one.value not in keys
            )
            if spoken(left) or spoken(right):
                yield "words compared"


def by_calling(node: ast.Call) -> Iterator[str]:
    """Words that a method of text looks for, or cuts."""
    if not isinstance(node.func, ast.Attribute):
        return
    name, on = node.func.attr, node.func.value
    given = [*node.args, *(one for argument in node.args for one in getattr(argument, "elts", []))]
    if name in FINDERS | CUTTERS and spoken(on):
        yield f".{on.attr}.{name}()"
    if name in FINDERS and any(is_prose(one) for one in given):
        yield f".{name}() of several words"
    if name == "split" and not given and getattr(on, "attr", "") in HEADINGS:
        yield f".{on.attr} cut apart"


def finds(tree: ast.Module, keys: set[object]) -> Iterator[tuple[int, str]]:
    """Places where English decides: (line, what is done)."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Compare):
            yield from ((node.lineno, what) for what in by_comparing(node, keys))
        if isinstance(node, ast.Call):
            yield from ((node.lineno, what) for what in by_calling(node))


def test_nothing_is_found_by_its_english():
    read = {path.relative_to(SRC).as_posix(): ast.parse(path.read_text(encoding="utf-8")) for path in SRC.rglob("*.py")}
    keys = {key for tree in read.values() for key in declared(tree)}
    own = {name: tree for name, tree in read.items() if not name.startswith(READERS)}
    found = [f"{name}:{line}: {what}" for name, tree in own.items() for line, what in finds(tree, keys)]
    assert not found, "\n".join(found)


@pytest.mark.parametrize(
    "text",
    [
        'kept = [note for note in notes if "not yet chosen" not in note]',
        'if flip.what.startswith("paste transfer"): pass',
        'if "no such" in error.message: pass',
        "if hold.part.split()[0] in part.refs: pass",
        'if ban.name == "hidden joints": pass',
        'whole[whole.rindex(" Board area") :]',
        'own = name.startswith(("price of", "defects of"))',
    ],
)
def test_what_was_once_found_by_its_english_is_seen(text):
    assert list(finds(ast.parse(text), {"not known"}))


def test_a_key_with_a_blank_is_a_key_where_a_type_declares_it():
    tree = ast.parse('Kind = Literal["decided", "not decided"]\nif kind == "not decided": pass')
    assert not list(finds(tree, set(declared(tree))))
    assert list(finds(tree, set()))
