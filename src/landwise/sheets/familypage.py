"""The page of a family of boards: what changes, what it saves, the one stock."""

from __future__ import annotations

from landwise.board.family import FamilyResult
from landwise.quantities import significant
from landwise.results.family import hangs_say, member_cautions, pays_say, proof_says, stock, totals_say
from landwise.sheets.frontpage import WIDE_MM
from landwise.sheets.htmlpage import drawing, html_page
from landwise.sheets.lettering import width_mm
from landwise.sheets.look import TEXT
from landwise.sheets.trays import BETWEEN_MM, PX_PER_MM, Tray, items_of, trays_svg

MOST_TRAYS = 3  # boards drawn side by side; the table holds all


def family_html(result: FamilyResult) -> str:
    """The page; it loads nothing from outside."""
    picture = boards_svg(result)
    boards = [
        {
            "name": one.name,
            "run": one.run,
            "pays": pays_say(one, result.unit),
            "decision": one.model.says(one.together.decision),
            "cautions": member_cautions(one),
            "parts": [
                {
                    "refs": ", ".join(part.part.refs),
                    "function": part.part.function,
                    "present": part.present.name if part.present else "new",
                    "alone": before,
                    "together": option.name,
                    "moved": before != option.name,
                    "area": significant(option.area_mm2 * part.count),
                }
                for part, before, option in one.rows()
            ],
        }
        for one in result.members
    ]
    content = {
        "title": ", ".join(one.name for one in result.members),
        "says": totals_say(result),
        "hangs": hangs_say(result),
        "proof": proof_says(result),
        "told": result.told,
        "picture": drawing(picture[0] if picture else None),
        "scale": picture[1] if picture else "",
        "more_boards": max(0, len(result.members) - MOST_TRAYS),
        "boards": boards,
        "stock": stock(result),
        "names": [one.name for one in result.members],
    }
    return html_page("family.html.j2", content)


def boards_svg(result: FamilyResult) -> tuple[str, str] | None:
    """The chosen packages of the first boards side by side at one scale, and the scale in words."""
    trays, count = [], min(len(result.members), MOST_TRAYS)
    for one in result.members[:MOST_TRAYS]:
        taken = [(part, option) for part, _, option in one.rows()]
        items = items_of([(part.part.refs, option) for part, option in taken])
        area = f"{sum(part.count * option.area_mm2 for part, option in taken):.0f}\u2009mm²"
        trays.append(Tray(_fitting(one.name, area, count), area, 1.0, items))
    title = "Parts of each board, at one scale"
    return trays_svg(trays, WIDE_MM * PX_PER_MM, lambda _key, _part, make: make(), "family", title) if trays else None


def _fitting(name: str, area: str, count: int) -> str:
    """A board's name as far as it fits over its tray, beside its area."""
    room = (WIDE_MM - BETWEEN_MM * (count - 1)) / count - width_mm(area, TEXT) - 6.0
    if width_mm(name, TEXT, "bold") <= room:
        return name
    kept = name
    while kept and width_mm(f"{kept}…", TEXT, "bold") > room:
        kept = kept[:-1]
    return f"{kept.rstrip()}…"
