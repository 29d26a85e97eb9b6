"""Parts put together by counting alone: NumPy's own random numbers, every joint and pair in turn, nothing integrated.

Sizes and mean deposits are those of the part's geometry; every formula is written out here from docs/assembly.md, and
no function of the limit states, of the sequences or of the method for rare defects is called.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np

from landwise.assembly.lines import preset
from landwise.assembly.pairmodel import Neighbours, pair_model
from landwise.assembly.partmodel import part_model
from landwise.assembly.rare import Rates, rates
from landwise.assembly.scatter import default_terms, scatter
from landwise.lands import land_pattern
from landwise.outlines import find
from landwise.printing import print_part

LINES = ("ordinary", "fine", "bench")
# A part, and by how much a line must be worse than it is for plain counting to see its bridges and opens: terms, and
# what the offsets are multiplied by. "two lands" are two flush terminals side by side.
LOOSE = {
    "TSSOP-14": (2.5, {"slump_share": 1.2, "coplanarity_share": 0.9, "lead_film": 20.0}),
    "two lands": (2.5, {"slump_share": 1.5, "remaining_spread": 0.3, "least_paste": 0.8, "take_back_spread": 0.6}),
    "QFN-16-2.5x3.5": (2.0, {"slump_share": 1.0, "flush_coplanarity_share": 0.8, "float_spread": 0.3}),
    "WLP-12-0.4": (2.0, {"slump_share": 1.0, "least_paste": 0.4, "take_back_spread": 0.5}),
    "SON-8-1.95x1.0": (2.0, {"slump_share": 1.5, "flush_coplanarity_share": 0.8, "tilt": 1.5, "take_back_spread": 0.6}),
}


@dataclass(frozen=True)
class Case:
    """One part on one shipped line, made worse."""

    part: str
    line: str

    @property
    def terms(self):
        """Values of all terms."""
        return {name: one.value for name, one in default_terms().items()} | LOOSE[self.part][1]

    @property
    def offsets_mm(self):
        """Of print and placement, that 99.7 % stay within."""
        line, times = preset(self.line), LOOSE[self.part][0]
        return times * line.print_offset_mm, times * line.placement_offset_mm

    def model(self):
        """The part as the rates' own method takes it."""
        line = preset(self.line)
        worse = scatter(*self.offsets_mm, _texts(LOOSE[self.part][1]))
        if self.part == "two lands":
            lands = Neighbours(0.5, (0.6, 0.28), (0.55, 0.25), (0.5, 0.25))
            return pair_model(lands, line.foil, worse, powder=line.powder)
        outline = find(self.part)
        pattern = land_pattern(outline)
        return part_model(outline, pattern, print_part(pattern, line.foil, line.powder, outline=outline), worse)

    def worked(self, asked=0.05, most=8192) -> Rates:
        """By the method for rare defects."""
        return rates(self.model(), asked=asked, most=most)

    def counted(self, assemblies, seed=1):
        """Bridges, opens and bad parts on one assembly, with the standard error of each."""
        # Numbers of its own for every case, so that comparisons don't err together.
        rng = np.random.default_rng([seed, list(LOOSE).index(self.part), LINES.index(self.line)])
        found = assembled(self.model().geometry, self.terms, self.offsets_mm, assemblies, rng)
        return {name: (row.mean(), row.std() / math.sqrt(assemblies)) for name, row in found.items()}


def _texts(terms):
    units = {name: one.unit for name, one in default_terms().items()}
    return {name: f"{value:g} {units[name]}".strip() for name, value in terms.items()}


def apart(case, assemblies, seed=1, **how):
    """How far the two ways are apart, in standard errors of both together, by what was counted; with both values."""
    worked, counted = case.worked(**how), case.counted(assemblies, seed)
    bad = 1 - worked.first_pass.value
    ours = {
        "bridges": (worked.bridges.value, (worked.bridges.high - worked.bridges.low) / 2 / 1.753),
        "opens": (worked.opens.value, (worked.opens.high - worked.opens.low) / 2 / 1.753),
        "bad parts": (bad, (worked.first_pass.high - worked.first_pass.low) / 2 / 1.753),
    }
    both = {name: math.hypot(error, counted[name][1]) for name, (_, error) in ours.items()}
    return {
        name: ((value - counted[name][0]) / both[name] if both[name] else 0.0, value, counted[name][0])
        for name, (value, _) in ours.items()
    }


def assembled(part, term, offsets_mm, count, rng):
    """What goes wrong on each assembly: bridges, opens, and whether anything is."""

    def number():
        return rng.standard_normal(count)

    def place():
        return offsets_mm[1] / 3 * number()

    kind, foil = part.rest.kind, part.foil_um
    share, own = term["volume_common"], math.sqrt(1 - term["volume_common"] ** 2)
    seen = [one for one in part.joints if one.counts]
    sigma = math.hypot(offsets_mm[0] / 3, term["print_stretch"] / 1000)
    off, put, turn = (sigma * number(), sigma * number()), (place(), place()), math.radians(term["placement_turn"])
    turned = turn * number()
    slump = term["slump_share"] * np.exp(term["slump_between"] * number())
    stroke, copper, bow = number(), term["edge"] / 1000 * number(), term["warpage"] * part.diagonal_mm * number()
    wet = foil * sum(math.sqrt(one.deposit.transfer) for one in seen) / len(seen)
    left = np.clip(term["remaining_share"] + term["remaining_spread"] * number(), 0.05, 1.0) * wet
    left *= np.sqrt(np.maximum(0.0, 1 + part.joints[0].deposit.cv * share * stroke))
    left = np.maximum(left, max(1.0, min(part.least_um, wet)))
    rests = {
        "lead": term["lead_film"],
        "ball": part.rest.height_um,
        "film": part.rest.height_um,
        "float": min(part.rest.height_um / (1 - term["void_share"]), part.rest.unspread_um),
    }[kind]
    seat = rests * (1 + part.rest.cv * share * stroke)
    if kind == "float":
        seat = seat * np.exp(term["float_spread"] * number())
    uneven = part.rest.coplanarity_um * term["coplanarity_share" if kind == "lead" else "flush_coplanarity_share"] / 6
    # Leads stand on the lowest of them: Blom's place of the least of n normal numbers.
    lowest = -NormalDist().inv_cdf(0.625 / (len(part.joints) + 0.25)) if kind == "lead" else 0.0

    def tears(joint, volume):
        return term["tear_factor"] * joint.deposit.metal_mm3 * volume / joint.foot.held_mm2 * 1000

    up = np.zeros(count, dtype=bool)
    if kind == "float":
        up = seat > tears(seen[0], np.maximum(0.0, 1 + seen[0].deposit.cv * share * stroke))
    opens, edges, volumes = np.zeros(count), [], []
    for joint in part.joints:
        paste, foot = joint.deposit, joint.foot
        volume = np.maximum(0.0, 1 + paste.cv * (share * stroke + own * number()))
        high = foil * np.sqrt(paste.transfer * volume)
        area, around = foot.pressed_mm2, foot.pressed_edge_mm
        if foot.ball_radius_mm:
            dip = foil / 1000 * math.sqrt(paste.transfer) * (1 - term["remaining_share"])
            rim = math.sqrt(2 * foot.ball_radius_mm * dip - dip**2)
            area, around = math.pi * rim**2 / 2, 2 * math.pi * rim
        out = area * np.maximum(0.0, high / left - 1)  # around·s + pi·s² holds it
        strip = (np.sqrt(around**2 + 4 * math.pi * out) - around) / (2 * math.pi)
        noise = max(paste.slump_mm * math.sqrt(paste.transfer) * term["slump_share"] * term["slump_within"], 1e-4)
        edges.append(paste.slump_mm * slump * np.sqrt(paste.transfer * volume) + strip + noise * number())
        volumes.append(volume)
        if not joint.counts:
            continue
        lifted = uneven * (lowest + number()) + bow * foot.bow
        touches, dome = high - left, paste.dome_um * volume
        if kind == "ball":
            reach = np.maximum(touches, seat + dome)
        else:
            torn = tears(joint, volume)
            reach = np.maximum(np.minimum(touches, torn - seat), np.minimum(dome, torn) - seat)
        opens += ((lifted > reach) | (volume * paste.transfer < term["least_paste"])) & ~up
    bridges = np.zeros(count)
    for pair in part.pairs:
        bridges += _bridged(part, pair, term, rests, volumes, edges, (off, put, turned, copper), number())
    bad = up | (opens > 0) | (bridges > 0) | _skewed(part, term, put, turned)
    if all(part.sides):
        rows = [sum(volumes[k] for k in side) / len(side) for side in part.sides]
        bad |= rests * np.abs(rows[0] - rows[1]) > math.tan(math.radians(term["tilt"])) * part.span_mm * 1000
    return {"bridges": bridges, "opens": opens, "bad parts": bad.astype(float)}


def _bridged(part, pair, term, rests, volumes, edges, shared, score):
    """Whether two deposits meet and their solder stays together."""
    off, put, turned, copper = shared
    ends = (part.joints[pair.first], part.joints[pair.second])
    moved = off[0] * pair.nx + off[1] * pair.ny
    metal = []
    for joint, sign, terminal, land in zip(ends, (1, -1), pair.terminal_beyond, pair.land_beyond, strict=True):
        # A turn moves a terminal across its distance from the middle.
        x, y = put[0] - turned * joint.y_mm, put[1] + turned * joint.x_mm
        metal.append(np.maximum(terminal + sign * (x * pair.nx + y * pair.ny), land + copper))
    first, second = edges[pair.first], edges[pair.second]
    room = pair.gap_mm - first - second
    room = np.minimum(room, pair.gap_mm - (first + moved) - metal[1])
    room = np.minimum(room, pair.gap_mm - metal[0] - (second - moved))
    wetting = math.sqrt(1 - math.cos(math.radians(term["mask_angle"])))
    holds = sum(
        one.fixed_mm3
        + wetting * one.section_mm2 * one.bare_mm
        + max(0.0, wetting * one.section_mm2 - one.lead_mm2) * one.foot_mm
        for one in pair.holds
    )
    solder = 0.0
    for joint, volume in zip(ends, (volumes[pair.first], volumes[pair.second]), strict=True):
        if joint.counts:
            flush = part.rest.kind in ("film", "float")
            film = joint.foot.held_mm2 * min(rests, joint.deposit.height_um) / 1000 if flush else 0.0
            solder = solder + np.maximum(0.0, joint.deposit.metal_mm3 * volume + joint.foot.ball_mm3 - film)
    return (room <= 0) & (solder > holds * np.exp(term["take_back_spread"] * score))


def _skewed(part, term, put, turned):
    """Whether a terminal overhangs its land too far: rows along y slide along y, rows along x along x."""
    found = np.zeros(len(turned), dtype=bool)
    for row, moved in zip(part.skew, (put[1], put[0]), strict=True):
        if row is None:
            continue
        limit = term["overhang"] * row.terminal_mm + max(0.0, (row.land_mm - row.terminal_mm) / 2)
        if part.rest.kind == "ball":
            limit = row.land_mm / 2
        elif part.rest.kind != "lead":
            limit /= 1 - term["self_centring"]
        found |= np.abs(moved) + np.abs(turned) * row.lever_mm > limit
    return found
