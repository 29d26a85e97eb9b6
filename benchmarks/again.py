"""A board, and one part, again with one moved limit or price, against their first run: time of each, in one run.

Processor time counts all that a command starts; what a user waits for is told beside it, and says little on a machine
that others use.

The first begins with an empty cache folder, each other with what those before it left; modules are compiled, as they
lie with a user. Run with `make benchmark`.
"""

from __future__ import annotations

import os
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

EXAMPLE = Path(__file__).resolve().parent.parent / "examples" / "logger" / "board.toml"
LIMIT = 'max_height = "3 mm"', 'max_height = "2.9 mm"'
PRICE = '"SC-70-5", price = 0.030', '"SC-70-5", price = 0.029'


PART = ("compare", "--function", "2-input gate", "--terminals", "5", "--present", "SOT-23-5")


def taken(folder: Path, *asked: str) -> tuple[float, float]:
    """Processor time of one run of a command, with all it starts, and how long it took. [s]"""
    told = {**os.environ, "LANDWISE_CACHE": str(folder / "cache"), "PYTHONPYCACHEPREFIX": str(folder / "compiled")}
    told.pop("PYTHONDONTWRITEBYTECODE", None)
    command = (sys.executable, "-m", "landwise", *asked, "-o", str(folder / "out"))
    if not (folder / "compiled").exists():
        every = "import landwise.board.choice, landwise.cli.study, landwise.sheets.report, landwise.sheets.cards"
        subprocess.run((sys.executable, "-c", every), env=told, check=True)
    before, begun = resource.getrusage(resource.RUSAGE_CHILDREN), time.monotonic()
    subprocess.run(command, env=told, check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    waited, after = time.monotonic() - begun, resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime, waited


def main() -> None:
    """Print both and their ratio, of the board and of the part."""
    text = EXAMPLE.read_text()
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        files = {}
        for what, (stated, other) in {"limit": LIMIT, "price": PRICE}.items():
            if stated not in text:
                raise SystemExit(f"the example no longer states {stated}")
            files[what] = folder / f"{what}.toml"
            files[what].write_text(text.replace(stated, other))
        board = {f"with one moved {what}": ("study", str(file)) for what, file in files.items()}
        runs = {
            "board": (("study", str(EXAMPLE)), board),
            "part": (PART, {"with one moved limit": (*PART, "--max-height", "1.3 mm")}),
        }
        for what, (asked, others) in runs.items():
            first, waited = taken(folder / what, *asked)
            print(f"{what}: first run {first:.1f} s of processor, waited {waited:.1f} s")
            for how, again in others.items():
                second, short = taken(folder / what, *again)
                print(f"{what}: again {how} {second:.1f} s: {second / first:.0%} of the first; waited {short:.1f} s")
            kept = sum(path.stat().st_size for path in (folder / what / "cache").rglob("*") if path.is_file())
            print(f"{what}: {kept / 1e6:.0f} MB kept")


if __name__ == "__main__":
    main()
