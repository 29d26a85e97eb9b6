"""One case worked: a study with its values put in, chosen as a whole, told as one row."""

from __future__ import annotations

import tempfile
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from landwise.disk import version
from landwise.errors import InputError, LandwiseError
from landwise.memory import Memory, keep_in_cache_folder
from landwise.sweeping.axes import Axis, with_value
from landwise.sweeping.plan import Case, Source
from landwise.untyped import Fields, Table

if TYPE_CHECKING:
    from landwise.board.chosen import BoardChoice
    from landwise.board.result import BoardResult

Row = Fields
# Every row of a study, in this order; then the parts.
STUDY_COLUMNS = (
    "answer",
    "message",
    "shared",
    "foil_um",
    "cost",
    "today",
    "gap",
    "worth_knowing",
    "area_mm2",
    "hidden_joints",
    "defects",
    "first_pass",
    "outlines",
    "cautions",
    "no_option",
)
NUMBERS = frozenset(
    {
        "foil_um",
        "cost",
        "today",
        "gap",
        "worth_knowing",
        "area_mm2",
        "hidden_joints",
        "defects",
        "first_pass",
        "outlines",
    }
)
NO_CHOICE, NOT_VALID, FAULT = "no choice", "not valid", "fault"


@dataclass(frozen=True)
class Given:
    """What travels to whoever works cases.

    Parameters
    ----------
    kind : str
    sources : tuple of Source
    axes : tuple of Axis
    more : mapping
        What reviews are asked with.
    version : str
        Of landwise as it stands where the sweep was started.
    """

    kind: str
    sources: tuple[Source, ...]
    axes: tuple[Axis, ...]
    more: Table = field(default_factory=dict)
    version: str = field(default_factory=version)


class Worker:
    """Works cases one after the other and keeps geometry, joints and rates that they share.

    Raises
    ------
    InputError
        If this process holds another landwise than the one that started the sweep.
    """

    def __init__(self, given: Given) -> None:
        if given.version != version():
            raise InputError(
                "a worker holds another landwise",
                found=version(),
                expected=f"the one that started the sweep, {given.version}",
            )
        keep_in_cache_folder()
        self.given = given
        self._memory = Memory()
        self._folders: dict[int, tempfile.TemporaryDirectory[str]] = {}

    def work(self, cases: Sequence[Case]) -> list[tuple[int, Row]]:
        """The rows of cases, each with its number. What is wrong with a case stands in its row."""
        return [(case.number, self._one(case)) for case in cases]

    def _one(self, case: Case) -> Row:
        try:
            if self.given.kind == "review":
                from landwise.sweeping.reviewed import review_row

                return review_row(self.given.sources[case.source], self.given.more)
            return self._study(case)
        except LandwiseError as error:
            return {"answer": NOT_VALID, "message": str(error)}
        except Exception as error:  # one case must not end the others; it is told, and tried again next time
            return {"answer": FAULT, "message": f"{type(error).__name__}: {error}"}

    def _study(self, case: Case) -> Row:
        from landwise.board.choice import choose_board
        from landwise.board.model import board_bench
        from landwise.judging.study import run_study
        from landwise.study.file import study_from

        source = self.given.sources[case.source]
        data: dict[str, object] = dict(source.data)
        for axis, value in zip(self.given.axes, case.values, strict=True):
            data = with_value(data, axis, value, file=source.name)
        study = study_from(data, file=source.name, folder=self._folder(case.source))
        self._memory.take_up(study.board_key)
        judged = run_study(study, bench=board_bench(study, self._memory))
        return study_row(choose_board(judged, memory=self._memory, reasons=False))

    def _folder(self, source: int) -> Path:
        """Where the files lie that a study names: a folder of its own, wherever this worker runs."""
        beside = self.given.sources[source].beside
        if not beside:
            return Path()
        if source not in self._folders:
            made = self._folders[source] = tempfile.TemporaryDirectory(prefix="landwise-sweep-")
            for name, text in beside.items():
                path = Path(made.name) / name
                path.parent.mkdir(parents=True, exist_ok=True)
                path.write_text(text, encoding="utf-8")
        return Path(self._folders[source].name)


def study_row(result: BoardResult) -> Row:
    """A chosen board as one row of plain values; money in the study's unit per good board.

    A column `REF` holds the package of the part whose first place is REF, `REF answer` how sure it is, `REF equal` the
    packages that are equal within what is known or come near.
    """
    from landwise.results.told import board_cautions

    choice, after = result.choice, result.after
    row: Row = dict.fromkeys(STUDY_COLUMNS)
    row["cautions"] = "; ".join(board_cautions(result.parts, result.content))
    if choice is None or not choice.best.found or choice.answer is None:
        row["answer"] = NO_CHOICE
        row["message"] = result.notes[0] if choice is None and result.notes else _conflict(choice)
        return row
    best, model, answer = choice.best, choice.model, choice.answer
    row["answer"] = answer.kind
    row["message"] = "" if best.status == "optimal" else f"not proven best: {best.status}"
    row["shared"] = choice.decision
    row["foil_um"] = model.decisions[best.decision].foil_um
    row["cost"], row["today"], row["gap"] = choice.cost, choice.today, best.gap
    row["worth_knowing"] = answer.everything
    row["no_option"] = ", ".join(part.part.refs[0] for part in model.stuck)
    chosen = [(part.chosen, part.count) for part in result.parts if part.chosen and part.part.fitted]
    row["area_mm2"] = float(sum(option.area_mm2 * count for option, count in chosen))
    row["hidden_joints"] = sum(option.geometry.sights.not_at_all * count for option, count in chosen)
    row["outlines"] = len({option.name for option, _ in chosen})
    if after is not None:
        row["defects"], row["first_pass"] = after.defects, after.first_pass
    for part in result.parts:
        name = part.part.refs[0]
        own = answer.of(name)
        row[name] = part.chosen.name if part.chosen else ""
        row[f"{name} answer"] = own.kind if own else ""
        row[f"{name} equal"] = "; ".join(own.options[1:]) if own else ""
    return {key: float(value) if key in NUMBERS and value is not None else value for key, value in row.items()}


def _conflict(choice: BoardChoice | None) -> str:
    if choice is not None and choice.conflict:
        return f"no choice keeps every limit: {', '.join(choice.conflict)} conflict"
    return "no choice keeps every limit" if choice is None else str(choice.proof)
