"""Work every total of chosen boards again from its trail, and say whether the shown numbers come out.

    python tests/rebuild/replay_totals.py STUDY.toml BOM.csv FOLDER ...

Studies are read as they are; bills are started first; a folder stands for every bill inside it. Ends with 1 where a
total is not what its trail gives, or the cost not what the search minimised.
"""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory

from landwise.board.choice import choose_board
from landwise.board.result import BoardResult
from landwise.board.totals import board_figures
from landwise.evidence.trails import numbers, replay
from landwise.judging.bench import Bench
from landwise.judging.study import run_study
from landwise.memory import Memory
from landwise.study.file import Study, read_study


@dataclass(frozen=True)
class Replayed:
    """Totals of one board: how many, and those that did not come out as shown."""

    shown: int
    wrong: tuple[str, ...]


def chosen(study: Study) -> BoardResult:
    """The board's choice, without the reasons for it."""
    memory, made = Memory(), []
    return choose_board(
        run_study(study, bench=Bench.of(study, memory)),
        memory=memory,
        early=made.append,
        stop=lambda: bool(made),  # what is worked out after the choice is not wanted here
    )


def replayed(result: BoardResult) -> Replayed:
    """Every total worked again; the cost held to what the search minimised, too."""
    if result.choice is None:
        return Replayed(0, ())
    figures, known, wrong = board_figures(result.choice, result.parts), {}, []
    for one in figures:
        assert one.gives is not None
        low, value, high = numbers(replay(one.gives, known))
        if value != one.value or (one.low is not None and (low, high) != (one.low, one.high)):
            wrong.append(f"{one.key}: {one.value} shown, {value} worked")
    searched = result.choice.cost
    cost = next((one.value for one in figures if one.key == "cost"), None)
    if cost is not None and searched is not None and abs(cost - searched) > 1e-9 * max(1.0, abs(searched)):
        wrong.append(f"cost: {cost} shown, {searched} searched")
    return Replayed(len(figures), tuple(wrong))


def started(bill: Path, folder: Path) -> Path | None:
    """A study from a bill; None where it names no part that landwise chooses for."""
    path = folder / f"{bill.parent.name}-{bill.stem}.toml"
    words = ["start", "--bom", str(bill), "-o", str(path)]
    subprocess.run([sys.executable, "-m", "landwise", *words], capture_output=True, check=False)
    return path if path.exists() and "[[part]]" in path.read_text(encoding="utf-8") else None


def bills(folder: Path) -> Iterator[Path]:
    """Bills in a folder, by their names."""
    yield from sorted(path for path in folder.rglob("*.csv") if "bom" in path.name.lower())


def main(arguments: Sequence[str] | None = None) -> int:
    """Replay each; say what came out."""
    failed = False
    with TemporaryDirectory() as scratch:
        for name in sys.argv[1:] if arguments is None else arguments:
            for path in bills(Path(name)) if Path(name).is_dir() else [Path(name)]:
                study = path if path.suffix == ".toml" else started(path, Path(scratch))
                if study is None:
                    print(f"{path.parent.name}/{path.name}: no part to choose for")
                    continue
                found = replayed(chosen(read_study(study)))
                failed = failed or bool(found.wrong)
                print(f"{path.parent.name}/{path.name}: {found.shown} totals, {'; '.join(found.wrong) or 'as shown'}")
    return 1 if failed else 0


if __name__ == "__main__":
    raise SystemExit(main())
