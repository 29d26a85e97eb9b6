"""A module stays under about 400 lines, or says at its top why it does not."""

from __future__ import annotations

import ast
import re
from pathlib import Path

SRC = Path(__file__).resolve().parents[1] / "src" / "landwise"
MOST_LINES = 400


def test_a_long_module_says_why():
    silent = []
    for path in sorted(SRC.rglob("*.py")):
        text = path.read_text(encoding="utf-8")
        if text.count("\n") > MOST_LINES and "Longer than other modules" not in (
            ast.get_docstring(ast.parse(text)) or ""
        ):
            silent.append(f"{path.relative_to(SRC)}: {text.count(chr(10))} lines")
    assert not silent, silent


# A command's parameters are the options that a user types; a figure's are the fields of the value that it makes,
# a measure's are the inputs that a row of cases names.
OF_MANY = {
    "cli/offers.py command": "one for each option of the command line",
    "cli/sweep.py command": "one for each option of the command line",
    "evidence/figures.py figure": "the fields of a Figure, each by keyword",
    "proving/measures/life.py bound": "a measure takes the inputs of its row by name",
}
MOST_PARAMETERS = 8


def parameters(function):
    given = function.args
    named = [one.arg for one in (*given.posonlyargs, *given.args, *given.kwonlyargs)]
    stars = [one.arg for one in (given.vararg, given.kwarg) if one]
    return [name for name in (*named, *stars) if name not in ("self", "cls")]


def long_functions(text):
    return {
        node.name: len(parameters(node))
        for node in ast.walk(ast.parse(text))
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef) and len(parameters(node)) > MOST_PARAMETERS
    }


def test_a_function_of_many_inputs_takes_a_value_object():
    found = {
        f"{path.relative_to(SRC).as_posix()} {name}"
        for path in SRC.rglob("*.py")
        for name in long_functions(path.read_text(encoding="utf-8"))
    }
    assert found == set(OF_MANY)


def test_the_reader_of_parameters_counts_every_kind():
    assert long_functions("def of(self, a, /, b, *c, d, e, f, g, h, **i): ...") == {"of": 9}
    assert long_functions("def of(self, a, b, c, d, e, f, g, h): ...") == {}


# Looking away from types (an `Any` without a reason): lower these when they fall, raise neither.
MOST_IGNORED = 26
MOST_ANY = 0
IGNORED = re.compile(r"#\s*type:\s*ignore(\[[\w-]+\])?")


def unexplained(lines):
    """Lines that look away without saying from what, or why, on the line or in a comment above it."""
    found = []
    for at, line in enumerate(lines):
        ignored = IGNORED.search(line)
        if ignored is None:
            continue
        behind = line[ignored.end() :].strip().startswith("#")
        above = at > 0 and lines[at - 1].strip().startswith("#")
        if ignored[1] is None or not (behind or above):
            found.append(f"{at + 1}: {line.strip()}")
    return found


def sources():
    return {path.relative_to(SRC).as_posix(): path.read_text(encoding="utf-8") for path in sorted(SRC.rglob("*.py"))}


def test_whoever_looks_away_from_types_says_from_what_and_why():
    silent = {name: unexplained(text.splitlines()) for name, text in sources().items()}
    assert not {name: lines for name, lines in silent.items() if lines}
    assert unexplained(["it()  # type: ignore"]) == ["1: it()  # type: ignore"]
    assert len(unexplained(["it()  # type: ignore[misc]"])) == 1
    assert unexplained(["# a reason", "it()  # type: ignore[misc]"]) == []


def test_untyped_places_do_not_grow():
    ignored = sum(len(IGNORED.findall(text)) for text in sources().values())
    assert ignored <= MOST_IGNORED
    anything = {name: found for name, text in sources().items() if (found := without_reason(text))}
    assert sum(map(len, anything.values())) <= MOST_ANY, anything


def without_reason(text):
    """Lines of each `Any` that has no comment: on its line, above it, or above the statement or function it is in."""
    lines = text.splitlines()

    def told(number):
        return "  # " in lines[number - 1] or (number > 1 and lines[number - 2].strip().startswith("# "))

    def found(node, above):
        number = getattr(node, "lineno", None)
        if isinstance(node, ast.stmt):
            # The head of a function or a statement of several lines is one place, its body is not.
            above = (node.lineno - len(getattr(node, "decorator_list", ())),)
        if isinstance(node, ast.Name) and node.id == "Any" and not any(told(one) for one in (number, *above)):
            yield number
        for one in ast.iter_child_nodes(node):
            yield from found(one, above)

    return list(found(ast.parse(text), ()))


def test_an_any_with_a_reason_is_not_counted():
    assert without_reason("x: Any = 1") == [1]
    assert without_reason("x: Any = 1  # a library without types") == []
    assert without_reason("# a library without types\nx: Any = 1") == []
    assert without_reason("# takes anything\ndef of(\n    x: Any,\n    y: Any,\n):\n    z: Any = x\n    return z") == [
        6
    ]
