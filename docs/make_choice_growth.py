"""Measure how the time to choose a whole board grows, draw it, and print the table of `choosing.md`.

Run from anywhere: `python docs/make_choice_growth.py`; it takes some minutes. Processor time is measured, so that
other work on the machine disturbs little.
"""

from __future__ import annotations

import statistics
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "benchmarks"))

from choice import DIRECT_SIZES, SEEDS, SIZES, Timed, directly, growth, ready

from landwise.sheets.axis import Axis, fitted, number_text
from landwise.sheets.chartaxes import FIGURE_MM, WIDTH_MM, chart_svg
from landwise.sheets.lettering import line_mm
from landwise.sheets.look import GRID, NARROW, SMALL, THIN, WIDE, Stroke
from landwise.sheets.svg import Disc, Mark, Picture, Text, line, rectangle

PICTURE = Path(__file__).parent / "pictures" / "choice_growth.svg"
HEIGHT_MM = 78.0
LEFT_MM = 14.0
LIMIT_S = 600.0


def picture(ours: dict[int, list[Timed]], direct: dict[int, Timed]) -> Picture:
    """Processor seconds against parts, both logarithmic."""
    seconds = [one.work for runs in ours.values() for one in runs] + [one.work for one in direct.values()]
    top = line_mm(SMALL) + 2.0
    upright = fitted(seconds, top + HEIGHT_MM, top, log=True)
    flat = fitted([float(parts) for parts in (*ours, *direct)], LEFT_MM, WIDTH_MM - 34.0, log=True)
    marks = _frame(flat, upright, top)
    middles = [(flat.at(parts), upright.at(_middle(runs))) for parts, runs in ours.items()]
    marks.append(line(middles, Stroke("sea", WIDE)))
    for (x, y), runs in zip(middles, ours.values(), strict=True):
        low, high = (upright.at(pick(one.work for one in runs)) for pick in (min, max))
        marks += [line([(x, low), (x, high)], Stroke("sea", NARROW)), Disc(x, y, 1.0, "sea")]
    others = [(flat.at(parts), upright.at(one.work)) for parts, one in direct.items()]
    marks.append(line(others, Stroke("brick", NARROW, (2.0, 0.8))))
    marks += [rectangle((x - 1.0, y - 1.0, x + 1.0, y + 1.0), "brick") for x, y in others]
    for (x, y), text, colour in ((middles[-1], "landwise", "sea"), (others[-1], "direct model, same solver", "brick")):
        marks.append(Text(x + 2.5, y - 0.8, text, SMALL, colour))
    return Picture(tuple(marks))


def _middle(runs: list[Timed]) -> float:
    return statistics.median(one.work for one in runs)


def _frame(flat: Axis, upright: Axis, top: float) -> list[Mark]:
    bottom = top + HEIGHT_MM
    marks: list[Mark] = []
    for tick in upright.ticks():
        y = upright.at(tick)
        marks.append(line([(flat.start, y), (flat.end, y)], GRID))
        marks.append(Text(flat.start - 1.8, y + 0.36 * FIGURE_MM, number_text(tick), SMALL, "graphite", anchor="end"))
    for parts in SIZES:
        x = flat.at(parts)
        marks.append(line([(x, bottom), (x, bottom + 1.2)], THIN))
        marks.append(Text(x, bottom + 1.8 + FIGURE_MM, number_text(parts), SMALL, "graphite", anchor="middle"))
    marks.append(line([(flat.start, top), (flat.start, bottom), (flat.end, bottom)], THIN))
    marks.append(Text(0.0, line_mm(SMALL) - 1.0, "seconds of one processor, to the proven optimum", SMALL, "graphite"))
    title = "parts, each with 25 options, under 60 shared decisions"
    marks.append(Text(flat.end, bottom + 2.4 + 2 * line_mm(SMALL), title, SMALL, "graphite", anchor="end"))
    return marks


def main() -> None:
    """Measure, draw, print."""
    ready()
    ours: dict[int, list[Timed]] = {}
    direct: dict[int, Timed] = {}
    print(f"| parts | median of {SEEDS} boards, s | slowest, s | largest gap | direct model, s | ratio |")
    print("|---|---|---|---|---|---|")
    for parts in SIZES:
        ours[parts] = growth(parts)
        text, ratio = "–", "–"
        if parts in DIRECT_SIZES:
            direct[parts] = directly(parts, LIMIT_S)
            done = direct[parts].found.status == "optimal"
            text = f"{direct[parts].work:.1f}" + ("" if done else ", not finished")
            ratio = f"{direct[parts].work / ours[parts][0].work:.0f}"
        slow, gap = max(one.work for one in ours[parts]), max(one.found.gap for one in ours[parts])
        print(f"| {parts} | {_middle(ours[parts]):.3f} | {slow:.3f} | {gap:.0e} | {text} | {ratio} |", flush=True)
    said = "; ".join(f"{parts} parts {_middle(runs):.3g} s" for parts, runs in ours.items())
    said += "; direct model: " + "; ".join(f"{parts} parts {one.work:.3g} s" for parts, one in direct.items())
    svg = chart_svg(picture(ours, direct), "time to choose a whole board", said, "growth")
    PICTURE.write_text(svg, encoding="utf-8")


if __name__ == "__main__":
    main()
