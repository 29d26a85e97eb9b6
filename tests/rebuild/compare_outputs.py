"""Compare what two versions of landwise wrote from the same input: identical, or the first difference in each file.

    python tests/rebuild/make_outputs.py before/          # on the version that is to be rebuilt
    python tests/rebuild/make_outputs.py after/           # on the rebuilt one
    python tests/rebuild/compare_outputs.py before/ after/

Compared are JSON, SVG, Gerber, CSV and TOML. A rebuild may add: keys of an object, columns of a table and whole files
are no difference. Versions and dates are dropped. Everything else counts, to the last digit and in its order.
PDF, PNG and HTML are drawn from the same data and are not compared; schemas may grow and are not compared either.
"""

from __future__ import annotations

import argparse
import csv
import itertools
import json
import re
import sys
import tomllib
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import Any

DROPPED_KEYS = frozenset({"version", "landwise", "date", "data_date", "written"})
# Gerber X2: who wrote the file and when (Gerber layer format specification, section 5.6).
_GERBER_STAMP = re.compile(r"%TF\.(?:GenerationSoftware|CreationDate|ProjectId)[^%]*%\s*|G04[^*]*landwise[^*]*\*\s*")
_SPOKEN_VERSION = re.compile(r"\blandwise,? \d+\.\d+(?:\.\w+)*")
_MISSING = object()


def difference(old: Any, new: Any, at: str = "") -> str | None:
    """First difference between two values as JSON or TOML holds them, with its place; None where there is none.

    >>> difference({"a": 1, "version": "1"}, {"a": 1, "version": "2", "b": 3})
    >>> difference({"a": [1, 2]}, {"a": [1, 2.5]})
    'a[1]: 2 became 2.5'
    >>> difference({"a": 1, "b": 2}, {"a": 1})
    'b: 2 is gone'
    """
    if isinstance(old, dict) and isinstance(new, dict):
        kept = (key for key in old if key not in DROPPED_KEYS)
        return _first(_of_key(old[key], new.get(key, _MISSING), f"{at}.{key}".lstrip(".")) for key in kept)
    if isinstance(old, list) and isinstance(new, list):
        found = _first(
            difference(one, other, f"{at}[{i}]") for i, (one, other) in enumerate(zip(old, new, strict=False))
        )
        return found or (None if len(old) == len(new) else f"{at}: {len(old)} entries became {len(new)}")
    # True equals 1 in Python, but not in a result.
    same = old == new and isinstance(old, bool) == isinstance(new, bool)
    return None if same else f"{at or 'value'}: {_shown(old)} became {_shown(new)}"


def _of_key(old: Any, new: Any, at: str) -> str | None:
    return f"{at}: {_shown(old)} is gone" if new is _MISSING else difference(old, new, at)


def _first(found: Iterator[str | None]) -> str | None:
    return next((one for one in found if one is not None), None)


def _shown(value: Any) -> str:
    text = json.dumps(value, ensure_ascii=False, default=str)
    return text if len(text) <= 120 else f"{text[:117]}..."


def lines_difference(old: str, new: str) -> str | None:
    """First line in which two texts differ.

    >>> lines_difference("M02*\\n", "M03*\\n")
    'line 1: "M02*" became "M03*"'
    """
    pairs = itertools.zip_longest(old.splitlines(), new.splitlines())
    return _first(
        f"line {n}: {_shown(one)} became {_shown(other)}" if one != other else None
        for n, (one, other) in enumerate(pairs, 1)
    )


def gerber_difference(old: str, new: str) -> str | None:
    """First line in which two Gerber files differ, who wrote them and when left out."""
    return lines_difference(_GERBER_STAMP.sub("", old), _GERBER_STAMP.sub("", new))


def picture_difference(old: str, new: str) -> str | None:
    """First line in which two SVG pictures differ, the spoken version left out."""
    return lines_difference(_SPOKEN_VERSION.sub("landwise", old), _SPOKEN_VERSION.sub("landwise", new))


def table_difference(old: str, new: str) -> str | None:
    """First cell in which two tables differ; columns are found by their heads, new ones are no difference.

    >>> table_difference("ref,mm\\nU1,2\\n", "ref,seen,mm\\nU1,yes,3\\n")
    'row 2, mm: "2" became "3"'
    """
    rows, others = list(csv.reader(old.splitlines())), list(csv.reader(new.splitlines()))
    if not rows or not others:
        return lines_difference(old, new)
    gone = [head for head in rows[0] if head not in others[0]]
    if gone:
        return f"column {gone[0]} is gone"
    places = [others[0].index(head) for head in rows[0]]
    for n, (row, other) in enumerate(zip(rows[1:], others[1:], strict=False), 2):
        for head, cell, place in zip(rows[0], row, places, strict=False):
            beside = other[place] if place < len(other) else ""
            if cell != beside:
                return f"row {n}, {head}: {_shown(cell)} became {_shown(beside)}"
    return None if len(rows) == len(others) else f"{len(rows) - 1} rows became {len(others) - 1}"


COMPARED: dict[str, Callable[[str, str], str | None]] = {
    ".json": lambda old, new: difference(json.loads(old), json.loads(new)),
    ".toml": lambda old, new: difference(tomllib.loads(old), tomllib.loads(new)),
    ".svg": picture_difference,
    ".gbr": gerber_difference,
    ".csv": table_difference,
}


def compared_files(folder: Path) -> list[str]:
    """The files of a folder that are compared, as paths inside it, in order."""
    files = (path for path in folder.rglob("*") if path.suffix in COMPARED and not path.name.endswith(".schema.json"))
    return sorted(path.relative_to(folder).as_posix() for path in files)


def folder_differences(old: Path, new: Path, files: Sequence[str]) -> list[str]:
    """One line for each file of the old folder that is not the same in the new one, with its first difference."""
    found = []
    for name in files:
        if not (new / name).is_file():
            found.append(f"{name}: was not written")
            continue
        texts = [(folder / name).read_text(encoding="utf-8-sig") for folder in (old, new)]
        said = COMPARED[Path(name).suffix](*texts)
        if said is not None:
            found.append(f"{name}: {said}")
    return found


def main(arguments: Sequence[str] | None = None) -> int:
    """0 if the outputs are identical, 1 if not, 2 if there is nothing to compare."""
    reader = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    reader.add_argument("old", type=Path)
    reader.add_argument("new", type=Path)
    asked = reader.parse_args(arguments)
    files = compared_files(asked.old)
    if not files:
        print(f"{asked.old}: holds no file that is compared", file=sys.stderr)
        return 2
    found = folder_differences(asked.old, asked.new, files)
    for line in found:
        print(line)
    added = len(set(compared_files(asked.new)) - set(files))
    print(
        f"{len(files) - len(found)} of {len(files)} files identical, {added} new"
        if found
        else f"identical: {len(files)} files, {added} new"
    )
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main())
