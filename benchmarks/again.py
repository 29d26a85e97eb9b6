"""The example board again with one moved limit, against its first run: processor time of both, in one run.

The first begins with an empty cache folder, the second with what the first one left. Run with `make benchmark`.
"""

from __future__ import annotations

import os
import resource
import subprocess
import sys
import tempfile
from pathlib import Path

EXAMPLE = Path(__file__).resolve().parent.parent / "examples" / "logger" / "board.toml"
STATED, MOVED = 'max_height = "3 mm"', 'max_height = "2.9 mm"'


def processor_s(study: Path, folder: Path) -> float:
    """Processor time of one run of the command, with all it starts. [s]"""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    told = {**os.environ, "LANDWISE_CACHE": str(folder / "cache")}
    command = (sys.executable, "-m", "landwise", "study", str(study), "-o", str(folder / "out"))
    subprocess.run(command, env=told, check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def main() -> None:
    """Print both and their ratio."""
    with tempfile.TemporaryDirectory() as name:
        folder, text = Path(name), EXAMPLE.read_text()
        if STATED not in text:
            raise SystemExit(f"the example no longer states {STATED}")
        moved = folder / "board.toml"
        moved.write_text(text.replace(STATED, MOVED))
        first, second = processor_s(EXAMPLE, folder), processor_s(moved, folder)
        kept = sum(path.stat().st_size for path in (folder / "cache").rglob("*") if path.is_file())
        print(
            f"first run {first:.1f} s of processor, again with one moved limit {second:.1f} s: {second / first:.0%}"
            f" of the first; {kept / 1e6:.0f} MB kept"
        )


if __name__ == "__main__":
    main()
