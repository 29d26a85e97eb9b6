"""A module stays under about 400 lines, or says at its top why it does not."""

from __future__ import annotations

import ast
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
