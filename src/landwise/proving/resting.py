"""What rests on each source: formulas, outlines, defaults, checks, and the files of landwise that name it."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterator
from functools import cache
from importlib import resources
from importlib.resources.abc import Traversable

from landwise.evidence import all_formulas, all_sources
from landwise.outlines import catalogue
from landwise.proving.gathered import data
from landwise.proving.work import all_cases
from landwise.study.defaults import all_defaults

KINDS = ("formulas", "outlines", "defaults", "checks", "files")
# Where a name stands only because it is a source, a case or a list of them.
NOT_USE = ("evidence/sources/", "proving/cases/", "proving/data/")


@cache
def resting() -> dict[str, dict[str, tuple[str, ...]]]:
    """For each source, the formulas, outlines, defaults and checks that name it, and the package's files that do.

    Examples
    --------
    >>> "area-ratio" in resting()["area-ratio-makers"]["formulas"]
    True
    """
    found: dict[str, dict[str, dict[str, None]]] = defaultdict(lambda: {kind: {} for kind in KINDS})
    for entry in all_formulas().values():
        for key in entry.sources:
            found[key]["formulas"][entry.key] = None
    for outline in catalogue().values():
        for key in (*outline.sources, *(key for keys in outline.read.values() for key in keys)):
            found[key]["outlines"][outline.name] = None
    for item in all_defaults():
        key = item.source.partition(":")[0]
        if key:
            found[key]["defaults"][item.place] = None
    for key, table in _held_against():
        found[key]["checks"][table] = None
    for key, files in naming_files().items():
        found[key]["files"].update(dict.fromkeys(files))
    return {key: {kind: tuple(names) for kind, names in rows.items()} for key, rows in found.items()}


def _held_against() -> Iterator[tuple[str, str]]:
    """Sources of checks and of comparisons, each with the table it stands in."""
    yield from ((case.source, case.table) for case in all_cases() if case.source)
    yield from ((land["source"], "printed-lands") for land in data("lands_cases")["case"] if "source" in land)
    yield from ((key, "outline-drawings") for key in data("outline_drawings"))


def _files(folder: Traversable, inside: str = "") -> Iterator[tuple[str, Traversable]]:
    for one in sorted(folder.iterdir(), key=lambda item: item.name):
        name = f"{inside}{one.name}"
        if one.is_dir():
            yield from _files(one, f"{name}/")
        elif one.name.endswith((".py", ".toml", ".csv")):
            yield name, one


@cache
def naming_files() -> dict[str, tuple[str, ...]]:
    """For each source, the files of the package in which its key stands in quotes or as a cell."""
    keys = set(all_sources())
    found: dict[str, list[str]] = defaultdict(list)
    for name, file in _files(resources.files("landwise")):
        if name.startswith(NOT_USE):
            continue
        named = set(re.findall(r"[\w.-]+", file.read_text(encoding="utf-8"))) & keys
        for key in named:
            found[key].append(name)
    return {key: tuple(names) for key, names in found.items()}
