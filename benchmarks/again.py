"""A board, and one part, again with one moved limit, against their first run: time of both, in one run.

Processor time counts all that a command starts; what a user waits for is told beside it, and says little on a machine
that others use.

The first begins with an empty cache folder, the second with what the first one left; modules are compiled, as they lie
with a user. Run with `make benchmark`.
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
STATED, MOVED = 'max_height = "3 mm"', 'max_height = "2.9 mm"'


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
    if STATED not in text:
        raise SystemExit(f"the example no longer states {STATED}")
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        moved = folder / "board.toml"
        moved.write_text(text.replace(STATED, MOVED))
        runs = {
            "board": (("study", str(EXAMPLE)), ("study", str(moved))),
            "part": (PART, (*PART, "--max-height", "1.3 mm")),
        }
        for what, (asked, again) in runs.items():
            (first, waited), (second, short) = taken(folder / what, *asked), taken(folder / what, *again)
            kept = sum(path.stat().st_size for path in (folder / what / "cache").rglob("*") if path.is_file())
            print(
                f"{what}: first run {first:.1f} s of processor, again with one moved limit {second:.1f} s:"
                f" {second / first:.0%} of the first; waited {waited:.1f} s and {short:.1f} s; {kept / 1e6:.0f} MB kept"
            )


if __name__ == "__main__":
    main()
