"""Every constant of the room stands in a table: none changes by accident, none is added without a line there.

`tests/mutants/mutate.py` changes them one at a time and sees other tests fail; this table catches what those miss.
"""

from __future__ import annotations

import importlib
import tomllib
from collections.abc import Mapping
from pathlib import Path

import pytest

from landwise.service.bands import Band

HERE = Path(__file__).parent
ROOM = HERE.parents[1] / "src" / "landwise" / "service"
TABLE = tomllib.loads((HERE / "service_constants.toml").read_text(encoding="utf-8"))


def flat(value: object) -> list[float]:
    """All numbers of a constant, in order."""
    if isinstance(value, bool) or value is None or isinstance(value, str):
        return []
    if isinstance(value, (int, float)):
        return [float(value)]
    if isinstance(value, Band):
        return [value.low, value.value, value.high]
    if isinstance(value, Mapping):
        return [n for key, one in value.items() for n in (*flat(key), *flat(one))]
    if isinstance(value, (tuple, list)):
        return [n for one in value for n in flat(one)]
    fields = getattr(value, "__dataclass_fields__", None)
    return [n for name in fields for n in flat(getattr(value, name))] if fields and not isinstance(value, type) else []


def constants() -> dict[str, dict[str, list[float]]]:
    """Numbers of every constant of every module, as they are."""
    found: dict[str, dict[str, list[float]]] = {}
    for path in sorted(ROOM.glob("*.py")):
        module = importlib.import_module(f"landwise.service.{path.stem}")
        text = path.read_text(encoding="utf-8")
        for name, value in vars(module).items():
            stands_here = f"\n{name} = " in text or f"\n{name}: " in text
            if name.isupper() and stands_here and (numbers := flat(value)):
                found.setdefault(path.stem, {})[name] = numbers
    return found


FOUND = constants()


def test_the_table_has_every_constant_and_no_other():
    assert {m: sorted(c) for m, c in FOUND.items()} == {m: sorted(c) for m, c in TABLE.items()}


@pytest.mark.parametrize("module", FOUND)
def test_constants_are_those_of_the_table(module):
    for name, numbers in FOUND[module].items():
        assert numbers == pytest.approx(TABLE[module][name], rel=1e-9), name


def test_a_changed_constant_is_seen():
    changed = [n * 1.1 for n in FOUND["creep"]["MARGIN"]]
    assert changed != pytest.approx(TABLE["creep"]["MARGIN"], rel=1e-9)
