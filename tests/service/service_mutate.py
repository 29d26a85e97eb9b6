"""Change each constant of the service room by a tenth and see a test fail; run by hand, bounded in number and time.

`python tests/service/service_mutate.py --most 20 --seconds 600 [--only creep]` works on a copy of the package and runs,
for each number, the module's doctests and the tests that name its module or one that takes the constant over. It says
which changes failed a test and which survived; its exit code is 1 where one survived. The table of constants
(`service_constants.toml`) is left out, so that only tests with a meaning count.
"""

from __future__ import annotations

import argparse
import ast
import os
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
ROOM = ROOT / "src" / "landwise" / "service"
FOLDERS = ("published", "service", "judging")
LEFT_OUT = "test_service_constants.py"
FACTOR = 1.1


def numbers(path: Path) -> list[tuple[str, ast.Constant]]:
    """Numbers in the module's constants, each with the constant's name."""
    found = []
    for node in ast.parse(path.read_text(encoding="utf-8")).body:
        if not isinstance(node, (ast.Assign, ast.AnnAssign)) or node.value is None:
            continue
        target = node.targets[0] if isinstance(node, ast.Assign) else node.target
        if not isinstance(target, ast.Name) or not target.id.isupper():
            continue
        inner = [n for n in ast.walk(node.value) if isinstance(n, ast.Constant) and type(n.value) in (int, float)]
        found += [(target.id, n) for n in inner if n.value]
    return found


def mutated(path: Path, number: ast.Constant) -> str:
    """The module's text with one number larger by a tenth, whole numbers by one."""
    lines = path.read_text(encoding="utf-8").split("\n")
    raw = lines[number.lineno - 1].encode()
    value = number.value + 1 if isinstance(number.value, int) else number.value * FACTOR
    lines[number.lineno - 1] = (raw[: number.col_offset] + repr(value).encode() + raw[number.end_col_offset :]).decode()
    return "\n".join(lines)


def tests_of(path: Path, name: str) -> list[str]:
    """Test files that name the constant's module, or a module of the room that takes the constant over."""
    takers = {path.stem}
    takers |= {other.stem for other in ROOM.glob("*.py") if name in other.read_text(encoding="utf-8")}
    found = []
    for folder in FOLDERS:
        for test in sorted((ROOT / "tests" / folder).glob("test_*.py")):
            text = test.read_text(encoding="utf-8")
            if test.name != LEFT_OUT and any(f"service.{stem} " in text or f" {stem}" in text for stem in takers):
                found.append(str(test))
    return found


def main() -> int:
    """Mutate and report."""
    words = argparse.ArgumentParser(description=__doc__)
    words.add_argument("--most", type=int, default=20)
    words.add_argument("--seconds", type=float, default=600.0)
    words.add_argument("--only", default="")
    asked = words.parse_args()
    places = [(p, name, n) for p in sorted(ROOM.glob("*.py")) if asked.only in p.stem for name, n in numbers(p)]
    step = max(1, len(places) // asked.most)
    chosen, survived, tried, began = places[::step][: asked.most], [], 0, time.monotonic()
    with tempfile.TemporaryDirectory() as folder:
        copy = Path(folder) / "landwise"
        shutil.copytree(ROOT / "src" / "landwise", copy)
        for path, name, number in chosen:
            if time.monotonic() - began > asked.seconds:
                print("out of time")
                break
            place = copy / "service" / path.name
            place.write_text(mutated(path, number), encoding="utf-8")
            call = [
                sys.executable,
                "-m",
                "pytest",
                "-x",
                "-q",
                "-n",
                "0",
                "-p",
                "no:cacheprovider",
                "--doctest-modules",
            ]
            done = subprocess.run(
                [*call, str(place), *tests_of(path, name)],
                cwd=ROOT,
                env={**os.environ, "PYTHONPATH": folder},
                capture_output=True,
                timeout=900,
                check=False,
            )
            tried, killed = tried + 1, done.returncode != 0
            print(f"{'failed a test' if killed else 'SURVIVED'}: {path.stem}.{name} {number.value}", flush=True)
            survived += [] if killed else [f"{path.stem}.{name} {number.value}"]
            shutil.copy(path, place)
    print(f"{tried} of {len(places)} numbers tried, {len(survived)} survived")
    return int(bool(survived))


if __name__ == "__main__":
    raise SystemExit(main())
