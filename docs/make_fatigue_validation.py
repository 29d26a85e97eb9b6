"""Write `fatigue_validation.md` and its picture: predicted over measured life for every published result at hand.

Run from anywhere: `python docs/make_fatigue_validation.py`. `--check` only says whether the page is up to date.
"""

from __future__ import annotations

import math
import sys
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from landwise.joints.standing import ball_stand
from landwise.lands import land_pattern
from landwise.outlines import find
from landwise.printing import Foil, print_part
from landwise.proving.gathered import data
from landwise.service.attachment import Attachment, attachment
from landwise.service.bands import Band
from landwise.service.creep import crept_share
from landwise.service.damage import LEAST_MISMATCH_PPM_K
from landwise.service.environments import Cycles, Environment, environment
from landwise.service.handbook import Apart, handbook_rate
from landwise.service.lifeverdict import rounded
from landwise.service.lives import MODEL_SPREAD, life, parts_of
from landwise.service.materials import BOARD_PPM_K
from landwise.service.surroundings import Surroundings, thickness_factor
from landwise.service.thermal_cycling import (
    Repeated,
    acceleration_factor,
    fatigue_exponent,
    leaded_energy_term,
    leadless_strain,
    median_cycles,
    weibull_cycles,
)
from landwise.sheets.chart import Interval, interval_chart

HERE = Path(__file__).parent
PAGE = HERE / "fatigue_validation.md"
PICTURE = HERE / "fatigue_validation.svg"
TESTS = data("fatigue_tests")

HEAD = """# Fatigue life: predicted over measured

Written by `docs/make_fatigue_validation.py` from `proving/data/fatigue_tests.toml`; do not edit.

Every published test life that could be read is here, whatever it looks like. There are few: most laboratories print
curves behind paywalls. **Read the picture as the reason for the wide intervals of landwise's lives**, and for
using them to compare packages only.

![Predicted over measured](fatigue_validation.svg)
"""

CSP = """
## 1. The twelve-row chip-scale set

{source}. It has no geometry, so it tests the conversion between conditions: each set of constants predicts all
twelve lives from one free factor, chosen so that its errors balance. `csp-2007` was fitted to these very rows and
shows the scatter a perfect model of this form would leave; `snpb` was not.

| highest °C | swing K | rate | measured | {heads} |
|---|---|---|---|{dashes}
"""

BOUNDS = """
## 2. Results that bound a life

The sources print that few or none failed, or that most did. *Predicted* is the median method's cycles to that share,
with the 90 % interval landwise would state. *Agrees* if the interval reaches the right side of the bound.

| test | measured | predicted | agrees | assumed by us | source |
|---|---|---|---|---|---|
"""

TRENDS = """
## 3. What a change does

The ratio of lives, measured and by the strain method at 1 % strain, 50 °C, 10 min (tin-silver row for the dwells).

| change | measured | predicted | predicted over measured | source |
|---|---|---|---|---|
"""

TAIL = """
The military handbook's own example (leadless plastic carrier, d 740 mil, h 5 mil; recalled, so no check) gives
{handbook:.0f} cycles; the strain method gives {strain:.0f} to the median for the same mismatch, {ratio:.2f} of it.

Board thickness and mirrored parts are not in the strain method; `service/surroundings.py` takes them from these very
rows, as a factor with a band. They agree by construction and prove nothing.

## 4. Leads

No readable row gives the level of a gull-wing joint: the bounds above are all there is, and memory is no row. So the
life of a copper-leaded part is printed as *doesn't limit* or *not shown*, never as failed, until a test of your own
(`[[use.tests]]`) says more.

**Order.** A handbook's base rates put a leadless quad some five times above a small outline of equal terminals. Ours is
the ratio of lives to 0.1 % under the hood, on common draws, copper leads, 100 µm foil.

| leaded over leadless | handbook | landwise | before |
|---|---|---|---|
{order}

*Before* is the method without creep and foot terms (shape 2, full relaxation): the order was the wrong way round.
Source: {order_source}.

**Directions.** Said of leads without a number that fits a method.

| said | landwise | source |
|---|---|---|
{directions}

**What makes the interval** of SO-16 with copper leads under the hood, one input drawn at a time (the last row: of all):

| input | decades |
|---|---|
{parts}

**Creep.** The shear that SO-16's lead makes is {stress} MPa at 60, 100 and 140 K; the faster of two recalled laws lets
{crept} of it go in the dwells, with a factor of ten either way. The older method took all of it.

## 5. What this says

- Conversions: {within} of 24 lives lie within a factor of 2, the worst is off by {worst:.1f}.
- Bounds: the interval of {agree} of {bounds} agrees. {disagree} So wide an interval agrees easily; of the middle
  values only {middle} of {bounds} do. Where they don't, the method is too pessimistic, not too kind.
- The spread that landwise gives the method itself is a factor of {spread:g} either way, before inputs are uncertain.
- Small leadless and ball parts of logic have no published life with enough geometry to test against. Nothing here
  proves their lives.
"""


def csp_predictions(name: str) -> list[float]:
    """Lives of the twelve rows by one set, balanced by one factor."""
    rows = TESTS["csp"]["rows"]
    base = rows[0]
    relative = [
        1 / acceleration_factor(Repeated(*(base[n] for n in (2, 3, 1))), Repeated(swing, rate, top), name)
        for _, top, swing, rate in rows
    ]
    factor = math.exp(np.mean([math.log(row[0] / one) for row, one in zip(rows, relative, strict=True)]))
    return [factor * one for one in relative]


def mounted_joint(name: str, metal: str = "copper", around: Surroundings | None = None) -> Attachment:
    """Outermost joint of a package of the catalogue on a 100 µm foil."""
    outline = find(name)
    pattern = land_pattern(outline)
    printed = print_part(pattern, Foil(100), outline=outline)
    stand = ball_stand(outline, pattern, printed)
    joint = attachment(outline, pattern, printed, stand, around=around or Surroundings(board_mm=1.575))
    return replace(joint, lead_metal=metal) if joint.kind == "leaded" else joint


def bound_joint(test: dict[str, Any]) -> Attachment:
    """The joint of a bounding test: a package of the catalogue, or sizes."""
    if "package" in test:
        return mounted_joint(test["package"], test["lead_metal"])
    return Attachment(test["kind"], 1, test["dnp_mm"], Band(*test["height_mm"]), Band(*test["expansion_ppm_k"]))


def full_relaxation_years(name: str) -> float:
    """Years to 0.1 % under the hood as the guides' method has it: all of the slip creeps, no foot, shape 2."""
    joint = mounted_joint(name)
    assert joint.stiffness_n_mm is not None
    assert joint.area_mm2 is not None
    rate = 0.0
    for line in environment("under-hood").cycles:
        mismatch = abs(BOARD_PPM_K.value - joint.expansion_ppm_k.value)
        term = leaded_energy_term(
            joint.stiffness_n_mm.value,
            joint.dnp_mm,
            max(mismatch, LEAST_MISMATCH_PPM_K),
            line.swing_k,
            joint.area_mm2.value,
            joint.height_mm.value,
        )
        rate += line.per_year / median_cycles(term, fatigue_exponent(line.mean_c, line.dwell_min))
    return weibull_cycles(1 / rate, 1e-3, 2.0)


def lead_section() -> dict[str, str]:
    """Tables of section 4."""
    place, wanted = environment("under-hood"), 1e-3
    order = []
    for pair in TESTS["order"]["pairs"]:
        one, other = (life(mounted_joint(pair[key]), place, BOARD_PPM_K) for key in ("leaded", "leadless"))
        before = full_relaxation_years(pair["leaded"]) / other.years_to(wanted).value
        handbook = math.exp(pair["leaded_a"] - pair["leadless_a"])
        name = f"{pair['leaded']} over {pair['leadless']}"
        order.append(f"| {name} | {handbook:.1f} | {rounded(one.over(other, wanted))} | {before:.2g} |")
    base = mounted_joint("SO-16")
    area = base.area_mm2
    assert area is not None
    changed = {
        "alloy 42": replace(base, lead_metal="alloy 42"),
        "area": replace(base, area_mm2=area.times(0.75)),
        "coat": mounted_joint("SO-16", around=Surroundings(board_mm=1.575, coat="acrylic")),
    }
    ordinary = life(base, place, BOARD_PPM_K)
    directions = [
        f"| {row['says']} | × {life(changed[row['change']], place, BOARD_PPM_K).over(ordinary, wanted).value:.2g} "
        f"| {row['printed_by']} |"
        for row in TESTS["direction"]
    ]
    band = ordinary.years_to(wanted)
    parts = [f"| {name} | {width:.1f} |" for name, width in parts_of(base, place, BOARD_PPM_K, wanted).items()]
    parts.append(f"| all | {math.log10(band.high / band.low):.1f} |")
    assert base.stiffness_n_mm is not None
    stiffness, height = base.stiffness_n_mm.value, base.height_mm.value
    mismatch = max(abs(BOARD_PPM_K.value - base.expansion_ppm_k.value), LEAST_MISMATCH_PPM_K)
    stresses, shares = [], []
    for line in place.cycles:
        stress = stiffness * base.dnp_mm * mismatch * 1e-6 * line.swing_k / area.value
        ends = (line.top_c - line.swing_k, line.top_c)
        share = crept_share(stress, stiffness * height / area.value, ends, line.dwell_min * 60)
        stresses.append(f"{stress:.2f}")
        shares.append(f"{100 * float(share):.2g} %")
    return {
        "order": "\n".join(order),
        "order_source": TESTS["order"]["printed_by"],
        "directions": "\n".join(directions),
        "parts": "\n".join(parts),
        "stress": ", ".join(stresses),
        "crept": ", ".join(shares),
    }


def bound_prediction(test: dict[str, Any]) -> Band:
    """Cycles to the share of a bounding test, with the interval."""
    joint = bound_joint(test)
    line = Cycles(test["high_c"] - test["low_c"], test["dwell_min"], 1000, test["high_c"])
    place = Environment("chamber", "chamber", (line,), 1, test["share"])
    return life(joint, place, BOARD_PPM_K).years_to(test["share"]).times(1000)


def trend_prediction(change: dict[str, float]) -> float:
    """Ratio of lives after one input has changed."""
    if "board_mm" in change:
        return thickness_factor(change["board_mm"]).value
    if "mirrored" in change:
        return Surroundings(board_mm=1.575, mirrored=True).life_factor("ball").value
    alloy = "snag-2008" if "dwell" in change else "snpb"
    strain = leadless_strain(1.0, 10.0, 100.0, 0.1)
    before = median_cycles(strain, fatigue_exponent(50, 10, alloy), alloy)
    moved = strain * change.get("mismatch", 1.0) / change.get("height", 1.0)
    return median_cycles(moved, fatigue_exponent(50, 10 * change.get("dwell", 1.0), alloy), alloy) / before


def agrees(test: dict[str, Any], predicted: Band) -> bool:
    """Whether the interval reaches the right side of the bound."""
    return predicted.high >= test["at_least"] if "at_least" in test else predicted.low <= test["at_most"]


def main(argv: list[str]) -> int:
    """Write page and picture, or compare the page."""
    page, picture = _made()
    if "--check" in argv:
        same = PAGE.is_file() and PAGE.read_text(encoding="utf-8") == page
        print("up to date" if same else "fatigue_validation.md is stale: run docs/make_fatigue_validation.py")
        return 0 if same else 1
    PAGE.write_text(page, encoding="utf-8")
    PICTURE.write_text(picture, encoding="utf-8")
    return 0


def _made() -> tuple[str, str]:
    sets = ("snpb", "csp-2007")
    rows: list[Interval] = []
    source = TESTS["csp"]["printed_by"]
    lines = [
        HEAD,
        CSP.format(source=source, heads=" | ".join(f"{s}, over measured" for s in sets), dashes="---|" * 2).rstrip(
            "\n"
        ),
    ]
    predicted = {name: csp_predictions(name) for name in sets}
    ratios = []
    for number, (measured, top, swing, rate) in enumerate(TESTS["csp"]["rows"]):
        cells = []
        for name in sets:
            ratio = predicted[name][number] / measured
            ratios.append(ratio)
            cells.append(f"{predicted[name][number]:.0f}, × {ratio:.2f}")
            verdict = "holds" if 0.5 <= ratio <= 2 else "marginal" if 0.25 <= ratio <= 4 else "fails"
            rows.append(Interval(f"{swing} K, {top} °C, rate {rate}: {name}", ratio, ratio, ratio, verdict))
        lines.append(f"| {top} | {swing} | {rate} | {measured} | {' | '.join(cells)} |")
    lines.append(BOUNDS.rstrip("\n"))
    good, middle, bad = 0, 0, []
    for test in TESTS["bound"]:
        band = bound_prediction(test)
        limit = test.get("at_least", test.get("at_most"))
        sign = "≥" if "at_least" in test else "≤"
        ok = agrees(test, band)
        good += ok
        middle += (band.value >= limit) == (sign == "≥")
        if not ok:
            bad.append(test["name"])
        rows.append(
            Interval(
                f"{test['name'].split(',')[0]} ({sign})",
                band.value / limit,
                band.low / limit,
                band.high / limit,
                "holds" if (band.value >= limit) == (sign == "≥") else "marginal" if ok else "fails",
            )
        )
        lines.append(
            f"| {test['name']} | {sign} {limit} to {test['share']:.0%} "
            f"| {band.value:.0f} ({band.low:.0f}…{band.high:.0f}) | {'yes' if ok else '**no**'} "
            f"| {test['assumed']} | {test['printed_by']} |"
        )
    lines.append(TRENDS.rstrip("\n"))
    for trend in TESTS["trend"]:
        ratio = trend_prediction(trend["change"])
        over = ratio / trend["measured"]
        rows.append(
            Interval(trend["name"], over, over, over, "holds" if trend["change"] and 0.5 <= over <= 2 else "marginal")
        )
        taken = "board_mm" in trend["change"] or "mirrored" in trend["change"]
        shown = f"{ratio:.2f}{' (taken from it)' if taken else ''}"
        lines.append(f"| {trend['name']} | × {trend['measured']:g} | × {shown} | {over:.2f} | {trend['printed_by']} |")
    book = handbook_rate(740 * 0.0254, 5 * 0.0254, Apart(15, 7, 21, 10), 0.03, 20).cycles
    # The same slip, 15·21 − 7·31 ppm, as one mismatch over the board's swing.
    slip = leadless_strain(740 * 0.0254, (15 * 21 - 7 * 31) / 21, 21, 5 * 0.0254)
    ours = median_cycles(slip, fatigue_exponent(40, 720))
    within = sum(0.5 <= ratio <= 2 for ratio in ratios)
    worst = max(max(ratio, 1 / ratio) for ratio in ratios)
    disagree = f"Not: {', '.join(bad)}." if bad else "None contradicts."
    lines.append(
        TAIL.format(
            handbook=book,
            strain=ours,
            ratio=ours / book,
            within=within,
            worst=worst,
            agree=good,
            middle=middle,
            bounds=len(TESTS["bound"]),
            disagree=disagree,
            spread=MODEL_SPREAD,
            **lead_section(),
        )
    )
    picture = interval_chart(
        rows, "predicted over measured", limit=1.0, limit_text="as measured", log=True, prefix="fatigue"
    )
    return "\n".join(lines), picture


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
