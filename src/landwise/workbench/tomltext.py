"""Plain data as TOML: what the workbench keeps is a study file that the command line reads as it is."""

from __future__ import annotations

import json
import re
import tomllib
from collections.abc import Mapping
from datetime import date

from landwise.errors import InputError

_BARE = re.compile(r"[A-Za-z0-9_-]+")


def toml_text(data: Mapping[str, object]) -> str:
    """The data as a TOML text: simple values, then tables, then lists of tables.

    Examples
    --------
    >>> print(toml_text({"landwise": 1, "line": {"foil": "80 um"}, "part": [{"refs": ["U1"], "locked": True}]}))
    landwise = 1
    <BLANKLINE>
    [line]
    foil = "80 um"
    <BLANKLINE>
    [[part]]
    refs = ["U1"]
    locked = true
    <BLANKLINE>
    """
    lines: list[str] = []
    _table(data, (), lines)
    return "\n".join(lines).lstrip("\n") + "\n"


def _table(data: Mapping[str, object], path: tuple[str, ...], lines: list[str]) -> None:
    later = []
    for name, value in data.items():
        if value is None:
            continue
        if isinstance(value, Mapping) or (
            value and isinstance(value, list) and isinstance(value[0], Mapping) and not path
        ):
            later.append((name, value))
        else:
            lines.append(f"{key_text(name)} = {value_text(value)}")
    for name, value in later:
        head = ".".join(key_text(step) for step in (*path, name))
        for one in [value] if isinstance(value, Mapping) else value:
            lines += ["", f"[{head}]" if isinstance(value, Mapping) else f"[[{head}]]"]
            # Within a list of tables what is nested stands in line: a header would need its own order.
            if isinstance(value, Mapping):
                _table(one, (*path, name), lines)
            else:
                lines += [f"{key_text(inner)} = {value_text(said)}" for inner, said in one.items() if said is not None]


def value_text(value: object) -> str:
    """One value as TOML writes it.

    >>> value_text([{"outline": "SO-14", "price": 0.1}])
    '[{ outline = "SO-14", price = 0.1 }]'
    """
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, (int, float)):
        return repr(value)
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, str):
        # A JSON string is a TOML basic string, but for the one character that JSON leaves bare.
        return json.dumps(value, ensure_ascii=False).replace("\u007f", "\\u007f")
    if isinstance(value, list):
        return f"[{', '.join(value_text(one) for one in value)}]"
    if isinstance(value, Mapping):
        pairs = (f"{key_text(name)} = {value_text(said)}" for name, said in value.items() if said is not None)
        return f"{{ {', '.join(pairs)} }}"
    raise InputError("can't be written as TOML", found=type(value).__name__)


def key_text(name: str) -> str:
    """One key as TOML writes it.

    >>> key_text("max_height"), key_text("two words")
    ('max_height', '"two words"')
    """
    return name if _BARE.fullmatch(name) else json.dumps(name, ensure_ascii=False)


DEEPEST = 24  # tables and lists within each other; a study needs five
_STRINGS = re.compile(r'"""(?:\\.|[^\\])*?"""|\'\'\'.*?\'\'\'|"(?:\\.|[^"\\\n])*"|\'[^\'\n]*\'|#[^\n]*', re.DOTALL)
_LONG_KEY = re.compile(r"(?:\.[^.,\n=\[\]{}]{0,60}){24}")  # as many steps in one dotted key


def read_toml(text: str) -> dict[str, object]:
    """The data of a TOML text from outside; how deep it nests is looked at before any of it is read.

    Raises
    ------
    InputError
        If it nests too deep.
    tomllib.TOMLDecodeError
        If it is no TOML.

    Examples
    --------
    >>> read_toml("a = [[1]]")
    {'a': [[1]]}
    """
    bare = _STRINGS.sub("s", text)
    deep = deepest = 0
    for mark in re.findall(r"[\[\]{}]", bare):
        deep = deep + 1 if mark in "[{" else max(0, deep - 1)
        deepest = max(deepest, deep)
    if deepest > DEEPEST or _LONG_KEY.search(bare):
        raise InputError("nested too deep", found=f"more than {DEEPEST} levels", expected="a study file")
    return tomllib.loads(text)
