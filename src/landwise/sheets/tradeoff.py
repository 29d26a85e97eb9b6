"""The trade-off of a whole board as a plot: every choice that can't be bettered, today's board, and the choice."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from html import escape

from landwise.sheets.axis import Axis, fitted, number_text
from landwise.sheets.chartaxes import FIGURE_MM, WIDTH_MM, chart_svg
from landwise.sheets.lettering import line_mm, width_mm
from landwise.sheets.look import LIGHT, NARROW, SMALL, THIN, WIDE, Stroke, Theme
from landwise.sheets.scatterchart import place_labels
from landwise.sheets.svg import Disc, Mark, Picture, Text, line, number, rectangle

HEIGHT_MM = 80.0
DOT_MM = 1.0
FAR = 0.5  # of what the other boards span: beyond it today's board stands at the edge, with its values in words
TODAY = "today"
CHOICE = "choice"
OPENED = "opened"  # the one that a page shows in full
SPOT_MM = 1.9  # around a point, where it can be hit


@dataclass(frozen=True)
class Board:
    """One whole board in the plane; `label` empty where it needs none, `kind` point, other, choice, opened or today."""

    x: float
    y: float
    label: str
    kind: str


def tradeoff_chart(boards: Sequence[Board], x_title: str, y_title: str, *, prefix: str, theme: Theme = LIGHT) -> str:
    """Boards in the plane of two axes, both better towards the corner at the lower left.

    Filled discs can't be bettered in these two axes and are joined by a stair; open ones are better in a third.
    """
    picture = tradeoff_picture(boards, x_title, y_title)
    said = "; ".join(f"{b.label or b.kind}: {x_title} {b.x:.4g}, {y_title} {b.y:.4g}" for b in boards if b.label)
    return chart_svg(picture, "the trade-off", said, prefix, theme)


def linked_tradeoff(
    boards: Sequence[Board],
    x_title: str,
    y_title: str,
    links: Sequence[tuple[str, str]],
    *,
    prefix: str,
    theme: Theme = LIGHT,
) -> str:
    """The same chart for a page: each of the first boards leads to an address, its label said to who can't see it.

    Parameters
    ----------
    boards : sequence of Board
    x_title, y_title : str
    links : sequence of (str, str)
        Address and label of the first boards.
    """
    svg = tradeoff_chart(boards, x_title, y_title, prefix=prefix, theme=theme)
    flat, upright, _, _ = _axes(boards)
    spots = "\n".join(
        f'<a href="{escape(address)}" aria-label="{escape(label)}">'
        f'<circle cx="{number(flat.at(board.x))}" cy="{number(upright.at(board.y))}" r="{SPOT_MM}" fill="transparent">'
        f"<title>{escape(label)}</title></circle></a>"
        for board, (address, label) in zip(boards, links, strict=False)
    )
    # A picture may hold no links for a screen reader; a group may.
    return svg.replace('role="img"', 'role="group"', 1).replace("\n</svg>", f"\n{spots}\n</svg>")


def _axes(boards: Sequence[Board]) -> tuple[Axis, Axis, float, float]:
    """The flat and the upright axis, and where the field's left and upper edge stand."""
    top = line_mm(SMALL) + 2.0
    near = [b for b in boards if not _far(b, boards)]
    upright = fitted([b.y for b in near], top + HEIGHT_MM, top, zero=False)
    left = max(width_mm(number_text(tick, 4), SMALL) for tick in upright.ticks()) + 2.5
    return fitted([b.x for b in near], left, WIDTH_MM - 2.0, zero=False), upright, left, top


def _far(board: Board, boards: Sequence[Board]) -> bool:
    """Whether today's board lies so far off that it would squeeze all others into a corner."""
    others = [b for b in boards if b.kind != TODAY]
    if board.kind != TODAY or len(others) < 2:
        return False
    return any(
        max(low - value, value - high) > FAR * (high - low)
        for value, low, high in (
            (board.x, min(b.x for b in others), max(b.x for b in others)),
            (board.y, min(b.y for b in others), max(b.y for b in others)),
        )
        if high > low
    )


def _place(board: Board, flat: Axis, upright: Axis) -> tuple[float, float]:
    """Where a board stands on paper; one beyond the axes at their edge."""
    x, y = (min(max(value, axis.low), axis.high) for value, axis in ((board.x, flat), (board.y, upright)))
    return min(flat.at(x), flat.end - 2 * DOT_MM), max(upright.at(y), upright.end + 2 * DOT_MM)


def tradeoff_picture(boards: Sequence[Board], x_title: str, y_title: str) -> Picture:
    """The marks of `tradeoff_chart`."""
    flat, upright, left, top = _axes(boards)
    marks = _frame(flat, upright, left, top, x_title, y_title)
    front = sorted((b for b in boards if b.kind in ("point", CHOICE, OPENED)), key=lambda b: (b.x, -b.y))
    stair: list[tuple[float, float]] = []
    for board in front:
        here = flat.at(board.x), upright.at(board.y)
        if stair:
            stair.append((here[0], stair[-1][1]))
        stair.append(here)
    if len(stair) > 1:
        marks.append(line(stair, Stroke("sea", NARROW)))
    pairs = []
    for board in boards:
        if _far(board, boards):
            said = replace(board, label=f"today, off this plot: {board.x:.3g}, {board.y:.3g}")
            pairs.append((said, _place(board, flat, upright)))
        else:
            pairs.append((board, (flat.at(board.x), upright.at(board.y))))
    for board, (x, y) in sorted(pairs, key=lambda pair: pair[0].kind != "other"):  # what can't be bettered on top
        marks += _dot(board.kind, x, y)
    named = [pair for pair in pairs if pair[0].label]
    named.sort(key=lambda pair: pair[0].kind not in (CHOICE, TODAY))  # these two get the nearest places
    field = (left + 0.5, top + 0.5, WIDTH_MM - 0.5, top + HEIGHT_MM - 0.5)
    dots = [(x - DOT_MM, y - DOT_MM, x + DOT_MM, y + DOT_MM) for board, (x, y) in pairs if not board.label]
    labels = place_labels(
        [board.label for board, _ in named], [place for _, place in named], field, reach=2.4, keep_clear=dots
    )
    return Picture((*marks, *labels))


def _dot(kind: str, x: float, y: float) -> list[Mark]:
    if kind == TODAY:
        return [rectangle((x - DOT_MM, y - DOT_MM, x + DOT_MM, y + DOT_MM), "brick")]
    if kind == "other":
        return [Disc(x, y, 0.8 * DOT_MM, "", THIN)]
    if kind == OPENED:
        return [Disc(x, y, 1.4 * DOT_MM, "plum"), Disc(x, y, 2.4 * DOT_MM, "", Stroke("plum", WIDE))]
    marks: list[Mark] = [Disc(x, y, DOT_MM, "sea")]
    if kind == CHOICE:
        marks.append(Disc(x, y, 2.0 * DOT_MM, "", Stroke("ink", WIDE)))
    return marks


def _frame(flat: Axis, upright: Axis, left: float, top: float, x_title: str, y_title: str) -> list[Mark]:
    bottom = top + HEIGHT_MM
    marks: list[Mark] = [line([(left, top), (left, bottom), (flat.end, bottom)], THIN)]
    for tick in upright.ticks():
        y = upright.at(tick)
        marks.append(line([(left - 1.2, y), (left, y)], THIN))
        marks.append(Text(left - 1.8, y + 0.36 * FIGURE_MM, number_text(tick, 4), colour="graphite", anchor="end"))
    for tick in flat.ticks():
        x = flat.at(tick)
        marks.append(line([(x, bottom), (x, bottom + 1.2)], THIN))
        marks.append(Text(x, bottom + 1.8 + FIGURE_MM, number_text(tick, 4), colour="graphite", anchor="middle"))
    marks.append(Text(0.0, line_mm(SMALL) - 1.0, y_title, colour="graphite"))
    marks.append(Text(flat.end, bottom + 2.4 + 2 * line_mm(SMALL), x_title, colour="graphite", anchor="end"))
    return marks
