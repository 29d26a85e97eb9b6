"""Faults planted in sound films of real or invented boards: what a review finds of them and what it mends.

Run for the table of docs/review.md: `python -m tests.review.planting FOLDER_OR_ZIP ... [--seed N]`.
"""

from __future__ import annotations

import sys
from collections import defaultdict
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import shapely
from tests.review.secondmodel import prints_unlike

from landwise.assembly.lines import preset
from landwise.errors import LandwiseError
from landwise.review.building import openings
from landwise.review.jobs import read_board
from landwise.review.model import BoardInput, SideInput
from landwise.review.reviews import Asked, review
from landwise.review.seating import moved, seat_of

LOCAL = ("oversized panes", "missing", "shifted row", "doubled", "reduced")
FILM = ("moved 0.15 mm", "moved 4 mm", "mirrored")
ROWS = ("gull-wing dual", "gull-wing quad", "leadless dual", "leadless quad", "row")
ALIKE = 0.25  # of an opening's area: what a mended one may differ by from the one before the fault
MARGIN_MM = 0.02  # a film moved back lies this near


@dataclass(frozen=True)
class Planted:
    """What became of one fault: pointed at; mended by what nobody would object to; mended by any proposal.

    `rises` is the most that any proposal of the side, for whatever part, adds to its parts' expected defects.
    """

    board: str
    fault: str
    kind: str
    found: bool
    safe: bool
    offered: bool
    rises: float = 0.0


def judged(one: SideInput, apply: str = "safe"):
    """One side under one foil."""
    return review(BoardInput("planted", (one,)), preset("ordinary"), Asked(foils_um=(100,), apply=apply)).sides[0]


def with_paste(one: SideInput, shapes, component, pin) -> SideInput:
    """The side with another film."""
    return replace(one, paste=openings(list(shapes), list(component), list(pin)))


def targets(side, fault):
    """Parts whose print is sound: one opening a land outside of the middle, near its land's size, nothing found."""
    given = side.given
    bad = {finding.component for finding in side.findings} | {name for one in side.proposals for name in one.parts}
    matched = given.matched
    for number, part in enumerate(given.parts):
        outer = [k for k in part.lands if k not in part.centre]
        if part.kind in ("odd", "single") or part.name in bad or not outer:
            continue
        if np.any(matched.printed[outer] != 1) or np.any(np.abs(matched.coverage[outer] - 0.95) > 0.2):
            continue
        if fault == "oversized panes":
            if len(part.centre) == 1 and 0.4 < matched.coverage[part.centre[0]] < 0.8:
                yield number
        elif fault != "shifted row" or (part.kind in ROWS and len(outer) >= 6):
            yield number


def plant(side, fault, number, rng):
    """Outlines of the film with one fault, which row each stems from, and the lands it sits on."""
    given = side.given
    part, land, paste = given.parts[number], given.matched.land, given.paste
    outer = np.array([k for k in part.lands if k not in part.centre])
    shapes = {row: paste.polygon[row] for row in range(len(paste))}
    if fault == "oversized panes":
        hit = np.array(part.centre)
        rows = np.flatnonzero(np.isin(land, hit))
        for row in rows[1:].tolist():
            del shapes[row]
        shapes[int(rows[0])] = given.lands.polygon[hit[0]]
    elif fault == "missing":
        hit = outer[[int(rng.integers(len(outer)))]]
        del shapes[int(np.flatnonzero(land == hit[0])[0])]
    else:
        along = (
            given.lands.x_mm if np.ptp(given.lands.x_mm[outer]) > np.ptp(given.lands.y_mm[outer]) else given.lands.y_mm
        )
        hit = outer
        if fault == "shifted row":
            hit = outer[np.abs(along[outer] - along[outer].min()) < 0.3]
        elif fault == "doubled":
            hit = outer[: max(1, len(outer) // 4)]
        turn, away = rng.uniform(0, 2 * np.pi), 0.6 * float(given.lands.width_mm[hit].min())
        for row in np.flatnonzero(np.isin(land, hit)).tolist():
            if fault == "shifted row":
                shapes[row] = shapely.affinity.translate(shapes[row], away * np.cos(turn), away * np.sin(turn))
            else:
                how = (1.6, 1.5) if fault == "doubled" else (0.62, 0.62)
                shapes[row] = shapely.affinity.scale(shapes[row], *how)
    return list(shapes.values()), list(shapes), hit


def after(side, changes, hit):
    """What is printed on each land once changes are made."""
    given = side.given
    gone = {change.aperture for change in changes if change.aperture >= 0}
    now = {int(k): [] for k in hit}
    for row, land in enumerate(given.matched.land.tolist()):
        if land in now and row not in gone:
            now[land].append(given.paste.polygon[row])
    for change in changes:
        land = int(given.matched.land[change.aperture]) if change.aperture >= 0 else change.unit
        if land not in now:
            land = next((k for k in now if any(given.lands.polygon[k].intersects(one) for one in change.after)), -1)
        if land >= 0:
            now[land] += change.after
    return now


def mended(side, changes, wanted):
    """Whether nine in ten of the lands have their print again."""
    now = after(side, changes, wanted)
    near = [shapely.union_all(now[k]).symmetric_difference(want).area < ALIKE * want.area for k, want in wanted.items()]
    return bool(np.mean(near) >= 0.9)


def rise(side) -> float:
    """The most that a proposal adds to the expected defects of its parts, beyond a fiftieth of what they were.

    Prints brought back onto their lands may bridge as their likes do: a tenth of the rejects saved, and one defect in a
    hundred parts, are left out of it.
    """
    most = 0.0
    for one in side.proposals:
        if one.defects_before is not None and one.defects_after is not None:
            its = [change for change in side.changes if change.proposal == one.number]
            cut = sum(change.area_after_mm2 for change in its) < 0.8 * sum(change.area_before_mm2 for change in its)
            back = one.rule == "unlike" or (one.rule == "to-land" and not cut)
            allowed = min(0.1 * (one.rejects_before - one.rejects_after), 0.01 * len(one.parts)) if back else 0.0
            most = max(most, one.defects_after - 1.02 * one.defects_before - max(allowed, 0.0))
    return most


def paned(side, changes, hit, good) -> bool:
    """Whether the panes on a centre pad print like those before the fault, by the second model."""
    its = int(hit[0])
    land = side.given.lands.polygon[its]
    return prints_unlike(after(side, changes, [its])[its], good, land, side.given.under.foil.thickness_um) == []


def local(board: str, one: SideInput, sound, fault: str, rng) -> Planted | None:
    """One fault in one part of a side; None where no part suits."""
    able = list(targets(sound, fault))
    if not able:
        return None
    kinds = sorted({sound.given.parts[number].kind for number in able})  # chips would be most of them otherwise
    kind = kinds[int(rng.integers(len(kinds)))]
    able = [number for number in able if sound.given.parts[number].kind == kind]
    number = able[int(rng.integers(len(able)))]
    shapes, rows, hit = plant(sound, fault, number, rng)
    paste = sound.given.paste
    side = judged(with_paste(one, shapes, paste.component[rows], paste.pin[rows]))
    on = sound.given.matched.land
    wanted = {int(k): shapely.union_all(paste.polygon[on == k]) for k in hit}
    names = {side.given.parts[p].name for p in side.given.part_of_land[hit].tolist() if p >= 0}
    found = any(f.component in names for f in side.findings) or any(set(p.parts) & names for p in side.proposals)
    if fault == "oversized panes":
        good = list(paste.polygon[on == hit[0]])
        ways = [paned(side, changes, hit, good) for changes in (side.written, side.changes)]
    else:
        ways = [mended(side, changes, wanted) for changes in (side.written, side.changes)]
    return Planted(board, fault, kind, found, *ways, rise(side))


def film(board: str, one: SideInput, _sound, fault: str, rng) -> Planted | None:
    """A film moved or mirrored as a whole, as the reader of films meets it."""
    if one.copper is None or one.mask is None or len(one.paste) < 20:
        return None
    turn = rng.uniform(0, 2 * np.pi)
    step = {"moved 0.15 mm": 0.15, "moved 4 mm": 4.0}.get(fault, 0.0) * np.array([np.cos(turn), np.sin(turn)])
    flip = np.array([-1.0, 1.0]) if fault == "mirrored" else np.ones(2)
    shapes = shapely.transform(one.paste.polygon, lambda xy: xy * flip + step)
    off = with_paste(one, shapes, one.paste.component, one.paste.pin)
    seat = seat_of(off.paste, one.copper, one.mask)
    if seat is not None:
        back = moved(off.paste, seat)
        away = float(np.median(np.hypot(back.x_mm - one.paste.x_mm, back.y_mm - one.paste.y_mm)))
        return Planted(board, fault, "film", True, away < MARGIN_MM, away < MARGIN_MM)
    side = judged(off)
    put = [change for change in side.changes if side.proposals[change.proposal].rule == "film"]
    away = [
        np.hypot(*(np.array(c.after[0].centroid.coords[0]) - one.paste.polygon[c.aperture].centroid.coords[0]))
        for c in put
    ]
    near = bool(len(away) and np.median(away) < MARGIN_MM)
    return Planted(board, fault, "film", bool(put), near and bool(side.written), near)


def plant_all(path: Path, seed: int, faults=LOCAL + FILM) -> list[Planted]:
    """One of each fault on each side of a board."""
    rng = np.random.default_rng(seed)
    made = []
    for one in read_board(path, {}).board.sides:
        if not len(one.paste) or one.copper is None:
            continue
        plain = replace(one, array=None, seat="")
        sound = judged(plain)
        for fault in faults:
            its = (local if fault in LOCAL else film)(path.name, plain, sound, fault, rng)
            made += [its] if its is not None else []
    return made


def main(words: list[str]) -> None:
    """Print the table."""
    seed = int(words[words.index("--seed") + 1]) if "--seed" in words else 18
    rows: dict[str, list[Planted]] = defaultdict(list)
    for word in (word for word in words if not word.startswith("--") and not word.isdigit()):
        try:
            for one in plant_all(Path(word), seed):
                rows[one.fault].append(one)
                print(one, file=sys.stderr, flush=True)
        except LandwiseError as error:
            print(word, error, file=sys.stderr)
    print("| fault | planted | found | mended, safe | mended, asked too |\n|---|---|---|---|---|")
    for fault, its in rows.items():
        counts = [len(its), sum(i.found for i in its), sum(i.safe for i in its), sum(i.offered for i in its)]
        print(f"| {fault} | {' | '.join(map(str, counts))} |")


if __name__ == "__main__":
    main(sys.argv[1:])
