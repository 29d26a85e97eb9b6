"""What `landwise review` says in the terminal."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING

from landwise.quantities import several

if TYPE_CHECKING:
    from landwise.cli.screen import Console, Text
    from landwise.evidence.figures import Verdict
    from landwise.review.model import Proposal
    from landwise.review.reviews import Review, SideReview
    from landwise.sheets.reviewreport import More, WrittenReview

MOST_COMPARED = 6  # parts that got better or worse against an older revision


def tell(result: Review, written: WrittenReview, more: More, out: Console) -> None:
    """The foils, causes and corrections of each side, what else was asked for, and the files written."""
    from landwise.cli.screen import Column, Table, Text
    from landwise.cli.terminal import verdict_text
    from landwise.review.checks import KEYS
    from landwise.review.foilchoice import counted_says
    from landwise.sheets.pdf import left_out
    from landwise.sheets.reviewcontent import expected, panel

    out.print(Text(result.board.name, style="bold").append(f": line {result.line.name!r}, {result.powder} powder"))
    for text in result.board.reading:
        out.print(f"  {text}", style="dim")
    if panel(result):
        out.print(panel(result))
    for side in result.sides:
        out.print()
        counts = f"{several(len(side.given.paste), 'aperture')}, {several(len(side.parts), 'part')}"
        out.print(f"{side.side}: {counts}; {side.choice.says}")
        names = ("foil", "openings hold", "marginal", "fail", "least area ratio", "defects a board", "corrected")
        table = Table([Column(name, "right") for name in names])
        for row in side.choice.rows:
            mark = " →" if row.foil_um == side.choice.best_um else " =" if row.foil_um in side.choice.equal_um else ""
            table.add_row(
                f"{row.foil_um:g} µm{mark}",
                *(str(count) for count in (row.holds, row.marginal, row.fails)),
                f"{row.least_ratio:.2f}",
                expected(row.defects, row.defects_low, row.defects_high),
                expected(row.after, row.after_low, row.after_high),
            )
        out.print(table)
        out.print(f"{counted_says(side.choice.best)}.", style="dim")
        _causes(side, out, KEYS, verdict_text)
        _proposals(side, out)
    _also(more, out)
    for note in result.notes:
        out.print(f"note: {note}", style="dim")
    out.print()
    out.print(f"report: {written.folder / 'report.html'}")
    out.print(f"        {', '.join(name for name in written.names if name != 'report.html')}", style="dim")
    if without := left_out(written.folder):
        out.print(without)


def _also(more: More, out: Console) -> None:
    """What was asked for beside the review: an older revision held against, a panel."""
    from landwise.sheets.reviewcontent import compared, small

    for side in more.compared:
        told = compared(side)
        out.print()
        out.print(f"{side.side} against the older revision: {told['says']} (compared.csv)")
        out.print(f"defects a board: {told['defects']}; {told['foils']}")
        for part in side.parts[:MOST_COMPARED]:
            way = "worse" if part.after > part.before else "better"
            out.print(f"  {part.name}: {way}, {small(part.before)} → {small(part.after)}")
    if more.array is not None:
        marks = "; ".join(f"{x:.2f}, {y:.2f}" for x, y in more.places)
        out.print()
        out.print(f"panel of {more.array.says()}; marks of 1.00 mm at {marks} mm (fiducials.gbr)")


def _causes(
    side: SideReview, out: Console, keys: Mapping[str, str], verdict_text: Callable[[Verdict], Text], most: int = 10
) -> None:
    from landwise.cli.screen import Column, Table, Text
    from landwise.review.causes import causes, named

    found = causes(side)
    if not found:
        out.print("nothing to mend")
        return
    table = Table([Column("", no_wrap=True), Column("", no_wrap=True), Column("", most=34), Column("")], heads=False)
    for cause in found[:most]:
        what = f"{cause.package or 'several kinds'}: {named(cause.parts, 3)}" if cause.parts else cause.package or "–"
        table.add_row(verdict_text(cause.level), keys[cause.key], Text(what), Text(cause.worst.says))
    out.print(table)
    if len(found) > most:
        out.print(f"and {len(found) - most} more causes; every finding stands in findings.csv", style="dim")


def _proposals(side: SideReview, out: Console, most: int = 12) -> None:
    """What is proposed, and what is asked about, the reason for asking once for all it holds for."""
    from landwise.review.decisions import fates

    decided = fates(side.changes)
    groups: dict[str, list[Proposal]] = {}
    for one in side.proposals[:most]:
        if fate := decided.get(one.number):
            head = "accepted by your decisions:" if fate == "accepted" else "refused by your decisions, left as it is:"
        elif one.asked:
            head = f"ask first, because {one.asked}:"
        else:
            # A film that lies elsewhere is not corrected: it must be written again first.
            how = "to be made once the film lies on its copper" if side.given.seat else "--apply safe writes them"
            head = f"proposed, and nobody is likely to mind ({how}):"
        groups.setdefault(head, []).append(one)
    for head in sorted(groups, key=lambda head: head.startswith("ask")):
        out.print(head)
        for one in groups[head]:
            out.print(f"  {proposal_line(one)}")
    if len(side.proposals) > most:
        out.print(f"and {len(side.proposals) - most} more corrections (report, changes.csv)", style="dim")
    if side.written:
        count = len(side.written)
        out.print(f"{several(count, 'opening')} changed in paste-{side.side}.gbr")


def proposal_line(one: Proposal) -> str:
    """A proposal in a line: whose opening, what, why, and what it does."""
    from landwise.review.causes import named
    from landwise.sheets.reviewcontent import small

    who = named(one.parts, 3) or one.package or "no part"
    does = ""
    if one.defects_before is not None and one.defects_after is not None and one.defects_before >= 5e-4:
        does = f"; defects {small(one.defects_before)} → {small(one.defects_after)} a board"
    elif one.rejects_before >= 5e-4:
        does = f"; prints rejected {small(one.rejects_before)} → {small(one.rejects_after)} a board"
    return f"{who}: {one.what} ({one.reason}){does}"
