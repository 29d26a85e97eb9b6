"""Change one number of a room at a time and see whether a published case or a physical relation notices.

`make mutants`, or `python tests/mutants/mutate.py --rooms lands,service --most 40 --seconds 900`. A number that stands
in a constant of a module, or in a data file of the room, is made larger by a tenth (whole numbers by one), and the
room's published cases (`landwise checks`) and then `tests/published` are worked with it. Tests that only hold our own
output or a table of constants fast are left out: they would notice, and show nothing.

Why no mutation tool of the registry: those that are well kept either leave module constants alone, since they switch
mutants inside functions, or start the whole interpreter, the imports and the collection anew for each mutant, 5 to
60 seconds here. This one forks from a process that has the heavy libraries loaded, so that a mutant costs what its
checks cost. Results are kept line by line in `results.jsonl` and taken up again; `--page` only writes docs/mutants.md
from them and from `reasons.toml`, which says why a survivor may survive.
"""

from __future__ import annotations

import argparse
import ast
import contextlib
import io
import json
import os
import random
import re
import shutil
import signal
import sys
import tempfile
import time
import tomllib
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

HERE = Path(__file__).resolve().parent
ROOT = HERE.parents[1]
SOURCE = ROOT / "src" / "landwise"
PUBLISHED = ROOT / "tests" / "published"
FACTOR, SEED, TIMEOUT_S = 1.1, 19, 180
# For each room: the groups of cases that hold it, and the files of tests/published.
ROOMS: dict[str, tuple[tuple[str, ...], tuple[str, ...]]] = {
    "lands": (("lands", "printing"), ("goals", "lands")),
    "printing": (("printing", "assembly", "book"), ("printing", "designing")),
    "joints": (("joints", "book", "life"), ("constants", "joints", "formulas")),
    "assembly": (("assembly", "book"), ("constants", "assembly")),
    "service": (
        ("service", "life", "book", "recalled"),
        ("spacing", "mission", "life", "leads", "shaking", "service", "thermal"),
    ),
    "costs": (("assembly", "book"), ("constants", "costs")),
}
# Notices slips of the hand, from no outside: counted apart.
OWN_WORD = "second typing:"
TOO_LONG = "time out"
OWN = PUBLISHED / "test_published_typed_twice.py"
# Computed tables, which their own scripts make and hold; texts that only name files.
LEFT_OUT = ("pad_table.toml", "known_draws.toml", "price_ratios.csv")
HEAVY = (
    "numpy",
    "scipy.stats",
    "scipy.optimize",
    "scipy.sparse.linalg",
    "scipy.integrate",
    "shapely",
    "skfem",
    "pytest",
)


@dataclass(frozen=True)
class Mutant:
    """One number: its file in the package, the name it stands under, its line and columns, its value."""

    file: str
    name: str
    line: int
    start: int
    end: int
    value: float

    @property
    def key(self) -> str:
        """What it is kept under."""
        return f"{self.file}:{self.name}:{self.line}:{self.start}:{self.value:g}"

    def text(self) -> str:
        """The file with the number changed."""
        lines = (SOURCE / self.file).read_text(encoding="utf-8").split("\n")
        raw = lines[self.line - 1].encode()
        value = self.value + 1 if isinstance(self.value, int) else self.value * FACTOR
        lines[self.line - 1] = (raw[: self.start] + repr(value).encode() + raw[self.end :]).decode()
        return "\n".join(lines)


def in_module(path: Path) -> Iterator[Mutant]:
    """Numbers in the upper-case constants of a module."""
    for node in ast.parse(path.read_text(encoding="utf-8")).body:
        if not isinstance(node, (ast.Assign, ast.AnnAssign)) or node.value is None:
            continue
        target = node.targets[0] if isinstance(node, ast.Assign) else node.target
        if not isinstance(target, ast.Name) or not target.id.strip("_").isupper():
            continue
        for inner in ast.walk(node.value):
            if isinstance(inner, ast.Constant) and type(inner.value) in (int, float) and inner.value:
                file = str(path.relative_to(SOURCE))
                yield Mutant(file, target.id, inner.lineno, inner.col_offset, inner.end_col_offset or 0, inner.value)


def in_data(path: Path) -> Iterator[Mutant]:
    """Numbers behind the equals signs of a TOML file, comments and quoted texts left out."""
    table = ""
    for number, line in enumerate(path.read_text(encoding="utf-8").split("\n"), 1):
        if line.startswith("["):
            table = line.partition("#")[0].strip('[]" ')
            continue
        key, equals, _ = line.partition("=")
        bare = re.sub(r'"[^"]*"', lambda m: " " * len(m.group()), line)
        bare = bare.partition("#")[0]
        for found in re.finditer(r"(?<![\w.])-?\d+(\.\d+)?([eE]-?\d+)?(?![\w.-])", bare):
            if equals and found.start() < len(key):
                continue
            text = found.group()
            value = int(text) if re.fullmatch(r"-?\d+", text) else float(text)
            if value:
                start, end = (len(line[:at].encode()) for at in found.span())
                name = f"{table}.{key.strip()}" if equals else table
                yield Mutant(str(path.relative_to(SOURCE)), name, number, start, end, value)


def mutants(room: str) -> list[Mutant]:
    """Every number of a room."""
    found: list[Mutant] = []
    for path in sorted((SOURCE / room).rglob("*")):
        if path.name in LEFT_OUT:
            continue
        if path.suffix == ".py":
            found += in_module(path)
        elif path.suffix == ".toml":
            found += in_data(path)
    return found


def naming(file: str) -> list[str]:
    """Tests of tests/published that the room's cases don't already hold, those naming the module first."""
    room, stem = file.split("/")[0], Path(file).stem
    paths = [PUBLISHED / f"test_published_{name}.py" for name in ROOMS[room][1]]
    paths = [path for path in paths if path.exists()]
    return [str(path) for path in sorted(paths, key=lambda p: stem not in p.read_text(encoding="utf-8"))]


def noticed(file: str, outside: bool = True) -> str:
    """What notices the number, in the forked process: a case, a test, or an empty text."""
    said = from_outside(file) if outside else ""
    return said or failing([str(OWN)], OWN_WORD)


def from_outside(file: str) -> str:
    """What of the outside notices the number."""
    from landwise.proving import all_cases, group, work

    groups = ROOMS[file.split("/")[0]][0]
    for case in sorted((c for c in all_cases() if group(c) in groups), key=lambda c: groups.index(group(c))):
        if case.kind != "own arithmetic" and not case.known and work(case).verdict != "holds":
            return f"case {case.table}"
    tests = naming(file)
    return failing(tests, "test") if tests else ""


def failing(tests: list[str], word: str) -> str:
    """The first test that fails, behind a word; empty where none does."""
    import pytest

    class First:
        failed = ""

        def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
            if report.failed and not self.failed:
                self.failed = report.nodeid.rpartition("::")[2].partition("[")[0]

    first = First()
    quiet = ["-x", "-q", "-n", "0", "-p", "no:cacheprovider", "-k", "not cases_hold and not page and not up_to_date"]
    if pytest.main([*quiet, *tests], plugins=[first]) not in (0, 5):
        return f"{word} {first.failed or 'collection'}"
    return ""


def opened_into(target: Path, copy: Path) -> None:
    """From here on write down every data file of the copy that is opened: what no check opens can't fail one."""
    seen: set[str] = set()

    def note(event: str, arguments: tuple[Any, ...]) -> None:
        if event == "open" and str(arguments[0]).endswith(".toml") and str(arguments[0]).startswith(str(copy)):
            name = os.path.relpath(str(arguments[0]), copy / "landwise")
            if name not in seen:
                seen.add(name)
                with target.open("a", encoding="utf-8") as file:
                    file.write(name + "\n")

    sys.addaudithook(note)


def tried(mutant: Mutant | None, room_file: str, copy: Path) -> str:
    """Fork, work the room's checks in a copy of the package, and say what noticed."""
    if mutant is not None:
        (copy / "landwise" / mutant.file).write_text(mutant.text(), encoding="utf-8")
    opened = copy / f"opened-{room_file.split('/')[0]}.txt"
    read, write = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(read)
        signal.alarm(TIMEOUT_S)
        sys.path.insert(0, str(copy))
        os.environ["PYTHONPATH"] = str(copy)
        os.environ["XDG_CACHE_HOME"] = str(copy / "cache")
        said = ""
        if mutant is None:
            opened_into(opened, copy)
        outside = mutant is None or not mutant.file.endswith(".toml")
        outside = outside or mutant.file in opened.read_text(encoding="utf-8").split("\n")
        try:
            with contextlib.redirect_stdout(io.StringIO()), contextlib.redirect_stderr(io.StringIO()):
                said = noticed(room_file, outside)
        except BaseException as error:  # a module that no longer loads has been noticed
            said = f"error {type(error).__name__}"
        os.write(write, said.encode())
        os._exit(0)
    os.close(write)
    with os.fdopen(read, "rb") as pipe:
        said = pipe.read().decode()
    _, status = os.waitpid(child, 0)
    if mutant is not None:
        shutil.copy(SOURCE / mutant.file, copy / "landwise" / mutant.file)
    return said if status == 0 else TOO_LONG


def sample(found: list[Mutant], most: int, seed: int = SEED) -> list[Mutant]:
    """At most so many, the same each time for a seed, spread over the files."""
    shuffled = random.Random(seed).sample(found, len(found))
    return shuffled[:most]


def reason_of(key: str) -> dict[str, str] | None:
    """The reason that fits a survivor."""
    file, name, _, _, value = key.rsplit(":", 4)
    reasons = tomllib.loads((HERE / "reasons.toml").read_text(encoding="utf-8"))["reason"]
    return next((one for one in reasons if re.search(one["match"], f"{file} {name} {value}")), None)


HEAD = """# Changed numbers, and what notices them

Written by `tests/mutants/mutate.py --page` from a bounded run of `make mutants`; do not edit.

A number of a room, in a module's constants or in a data file, is made larger by a tenth (whole numbers by one). It is
*noticed* where a published case or a physical relation of `tests/published` fails, or the package no longer loads. What
only holds our own output fast is left out. Most of what is not noticed has no published source at all: landwise says
so where the number stands, and draws it over an interval. Such numbers stand a second time beside where they come from
(`test_published_typed_twice.py`): a changed one is noticed there *by its reason*, where the reason works out to the
number, or *by a second typing*. That shows a slip of the hand and is no evidence from outside. The last column counts
what is noticed from outside among those that a source could hold.

| room | numbers | changed | noticed from outside | by its reason | by a second typing | by nothing | could be held |
|---|---|---|---|---|---|---|---|
"""
TITLES = {
    "no-source": "No source: recalled, common practice or assumed",
    "numerical": "Settings of a method",
    "unread": "Typed once from their source",
    "reach": "Not reached by a published case",
}


WAYS = ("outside", "reason", "second typing", "nothing")


def way(row: dict[str, Any]) -> str:
    """What noticed a number, as one of `WAYS`."""
    said = row["noticed"]
    if not said:
        return "nothing"
    if not said.startswith(OWN_WORD):
        return "outside"
    return "reason" if "test_reason" in said else "second typing"


def page(rows: list[dict[str, Any]]) -> str:
    """The page of what was noticed and what was not, each survivor with its reason."""
    lines, survivors = [HEAD.rstrip("\n")], [row for row in rows if way(row) in ("second typing", "nothing")]
    for room in ROOMS:
        of = [row for row in rows if row["room"] == room]
        if not of:
            continue
        ways = Counter(way(row) for row in of)
        seen = ways["outside"]
        kinds = [(reason_of(row["key"]) or {"kind": "none"})["kind"] for row in of if way(row) != "outside"]
        could = seen + sum(kind in ("unread", "reach", "none") for kind in kinds)
        share = f"{seen} of {could}" if could else "none"
        told = " | ".join(str(ways[name]) for name in WAYS)
        lines.append(f"| {room} | {of[-1]['numbers']} | {len(of)} | {told} | {share} |")
    for kind, title in TITLES.items():
        lines += ["", f"## {title}", "", "| number | noticed by | why no source notices |", "|---|---|---|"]
        for row in survivors:
            reason = reason_of(row["key"])
            if reason is not None and reason["kind"] == kind:
                file, name, line, _, value = row["key"].rsplit(":", 4)
                lines.append(f"| `{file}` line {line}, {name}: {value} | {way(row)} | {reason['says']} |")
    return "\n".join(lines) + "\n"


def main() -> int:
    """Mutate and report; ends with 1 where a survivor has no reason in `reasons.toml`."""
    words = argparse.ArgumentParser(description=__doc__)
    words.add_argument("--rooms", default=",".join(ROOMS))
    words.add_argument("--most", type=int, default=40, help="numbers a room")
    words.add_argument("--seed", type=int, default=SEED, help="another one draws a fresh sample")
    words.add_argument("--seconds", type=float, default=1800.0)
    words.add_argument("--only", default="", help="files or names that hold this text")
    words.add_argument("--out", type=Path, default=HERE / "results.jsonl")
    words.add_argument("--page", action="store_true", help="change nothing, write docs/mutants.md")
    asked = words.parse_args()
    if asked.page:
        rows = [json.loads(line) for line in asked.out.read_text(encoding="utf-8").splitlines()]
        (ROOT / "docs" / "mutants.md").write_text(page(rows), encoding="utf-8")
        return int(any(not row["noticed"] and reason_of(row["key"]) is None for row in rows))
    for name in HEAVY:
        __import__(name)
    kept = {}
    if asked.out.exists():
        kept = {row["key"]: row for row in map(json.loads, asked.out.read_text(encoding="utf-8").splitlines())}
    asked.out.parent.mkdir(parents=True, exist_ok=True)
    began, worked, survived = time.monotonic(), 0, []
    with tempfile.TemporaryDirectory() as folder:
        copy = Path(folder)
        shutil.copytree(SOURCE, copy / "landwise", ignore=shutil.ignore_patterns("__pycache__"))
        for room in asked.rooms.split(","):
            found = mutants(room)
            whole = tried(None, f"{room}/none.py", copy)
            if whole:
                print(f"{room}: without any change {whole} fails; nothing can be said")
                return 2
            for mutant in sample([m for m in found if asked.only in f"{m.file} {m.name}"], asked.most, asked.seed):
                if mutant.key in kept:
                    continue
                if time.monotonic() - began > asked.seconds:
                    break
                said = tried(mutant, mutant.file, copy)
                if said == TOO_LONG:  # on a busy machine: nothing was shown, so nothing is kept
                    print(f"not measured, {said}: {mutant.file} {mutant.name}", flush=True)
                    continue
                worked += 1
                survived += [] if said else [mutant.key]
                row = {"key": mutant.key, "room": room, "numbers": len(found), "noticed": said}
                with asked.out.open("a", encoding="utf-8") as file:
                    file.write(json.dumps(row) + "\n")
                print(f"{said or 'SURVIVED'}: {mutant.file} {mutant.name} {mutant.value:g}", flush=True)
    print(f"{worked} numbers changed, {len(survived)} survived")
    return int(bool(survived))


if __name__ == "__main__":
    raise SystemExit(main())
