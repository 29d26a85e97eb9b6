"""One finished board's review as one row."""

from __future__ import annotations

from pathlib import Path

from landwise.sweeping.plan import Source
from landwise.untyped import Table

REVIEW_COLUMNS = (
    "answer",
    "message",
    "openings",
    "parts",
    "fails",
    "marginal",
    "first_cause",
    "foil_top_um",
    "foil_bottom_um",
    "defects",
    "defects_low",
    "defects_high",
    "proposals",
    "notes",
)
REVIEW_NUMBERS = frozenset(
    {
        "openings",
        "parts",
        "fails",
        "marginal",
        "foil_top_um",
        "foil_bottom_um",
        "defects",
        "defects_low",
        "defects_high",
        "proposals",
    }
)


def review_row(source: Source, more: Table) -> dict[str, object]:
    """A board's review: its verdict, what was found, the foil that serves best, defects expected on one board.

    `answer` is the worst verdict on it; `defects` are those with the foil that serves best, as the films stand.

    Raises
    ------
    LandwiseError
        For a board that can't be read.
    """
    from landwise.judging.namedline import named_line
    from landwise.review.causes import causes, named
    from landwise.review.jobs import read_board
    from landwise.review.reviews import Asked, review

    line = named_line(str(more.get("line", "ordinary")))
    read = read_board(Path(str(source.data["board"])), {}, int(more.get("most_openings", 200_000)))
    result = review(read.board, line, Asked(run=int(more.get("run", 500))))
    row: dict[str, object] = dict.fromkeys(REVIEW_COLUMNS)
    found = [cause for side in result.sides for cause in causes(side)]
    levels = [finding.level for finding in result.findings]
    row["answer"] = result.verdict
    row["message"] = ""
    row["openings"] = float(sum(len(side.given.paste) for side in result.sides))
    row["parts"] = float(sum(len(side.parts) for side in result.sides))
    row["fails"], row["marginal"] = float(levels.count("fails")), float(levels.count("marginal"))
    row["proposals"] = float(sum(len(side.proposals) for side in result.sides))
    row["notes"] = "; ".join(result.notes)
    if found:
        worst = found[0]
        who = f"{worst.package}: {named(worst.parts, 3)}" if worst.parts else worst.package
        row["first_cause"] = f"{worst.key}: {who}: {worst.worst.says}"
    best = []
    for side in result.sides:
        row[f"foil_{side.side}_um"] = float(side.choice.best_um)
        best += [one for one in side.choice.rows if one.foil_um == side.choice.best_um]
    if best:
        row["defects"] = float(sum(one.defects for one in best))
        row["defects_low"] = float(sum(one.defects_low for one in best))
        row["defects_high"] = float(sum(one.defects_high for one in best))
    return row
