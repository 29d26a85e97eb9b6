"""Write every output that a rebuild must leave alone, for compare_outputs.py.

    python tests/rebuild/make_outputs.py OUT [--boards FOLDER]

The example board is studied whole and part by part, one part is compared, the lists are printed; where the example has
fabrication files they are reviewed. Each folder or zip inside `--boards` is reviewed, and each bill in it (a CSV whose
name says so) started and studied. A command that ends with an error leaves its words in its text file and is no reason
to stop: the next version is to say the same.
"""

from __future__ import annotations

import argparse
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path

EXAMPLE = Path(__file__).resolve().parents[2] / "examples" / "logger"


def run(out: Path, name: str, *words: str | Path, suffix: str = ".txt") -> bool:
    """Run one command of the landwise that is imported here; its words go into OUT/name.txt."""
    made = subprocess.run(
        [sys.executable, "-m", "landwise", *map(str, words)],
        capture_output=True,
        text=True,
        encoding="utf-8",
        check=False,
    )
    (out / f"{name}{suffix}").write_text(made.stdout + made.stderr, encoding="utf-8")
    return made.returncode == 0


def example_outputs(out: Path) -> None:
    """Every command on the example board."""
    run(out, "study", "study", EXAMPLE / "board.toml", "-o", out / "study")
    run(out, "each", "study", EXAMPLE / "board.toml", "--each", "-o", out / "each")
    run(out, "start", "start", "--bom", EXAMPLE / "bom.csv", "-o", out / "start.toml")
    part = ("--number", "74LVC1G08", "--present", "SOT-23-5")
    run(out, "compare", "compare", *part, "--json", "-o", out / "card", suffix=".json")
    if (EXAMPLE / "fabrication").is_dir():
        run(out, "review", "review", EXAMPLE / "fabrication", "-o", out / "review")
    for listed in ("calc", "outlines", "defaults"):
        run(out, listed, listed)


def board_outputs(out: Path, boards: Path) -> None:
    """Review and study of every board of a folder."""
    for board in sorted(path for path in boards.iterdir() if path.is_dir()):
        run(out, f"review-{board.name}", "review", board, "-o", out / f"review-{board.name}")
        for n, archive in enumerate(sorted(board.glob("*.zip"))):
            run(out, f"review-{board.name}-{n}", "review", archive, "-o", out / f"review-{board.name}-{n}")
        for n, bill in enumerate(sorted(path for path in board.glob("*.csv") if "bom" in path.name.lower())):
            name = f"study-{board.name}-{n}"
            if run(out, f"{name}-start", "start", "--bom", bill, "-o", out / f"{name}.toml"):
                run(out, name, "study", out / f"{name}.toml", "-o", out / name)


def main(arguments: Sequence[str] | None = None) -> None:
    """Write all outputs into a new or empty folder."""
    reader = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    reader.add_argument("out", type=Path)
    reader.add_argument("--boards", type=Path)
    asked = reader.parse_args(arguments)
    asked.out.mkdir(parents=True, exist_ok=True)
    example_outputs(asked.out)
    if asked.boards is not None:
        board_outputs(asked.out, asked.boards)


if __name__ == "__main__":
    main()
