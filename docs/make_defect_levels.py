"""Works the default defect levels from a published line's counts and the model, and writes page and draws.

Run with `python docs/make_defect_levels.py` after any change to the limit states, the terms of the scatter or the
anchors: it writes `src/landwise/assembly/known_draws.toml` (what every rate is drawn from) and the tables of
`docs/defect_levels.md` (how it was reached). Three minutes of processor.
"""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
from representative_draws import chosen, matched, targets

from landwise.assembly.anchors import ANCHORS, CONFIRMED, Anchor
from landwise.assembly.drawn import drawn_rates, names, prior_scores
from landwise.assembly.knowledge import LINE_SPREAD, standing
from landwise.assembly.partmodel import PartModel, part_model
from landwise.assembly.scatter import scatter
from landwise.lands import land_pattern
from landwise.outlines import find
from landwise.printing import Foil, print_part
from landwise.printing.apertures import ApertureRules
from landwise.quantities import significant

ROOT = Path(__file__).resolve().parent.parent
DATA = ROOT / "src" / "landwise" / "assembly" / "known_draws.toml"
PAGE = ROOT / "docs" / "defect_levels.md"
TERMS, SETS, KEPT = 45_000, 20, 200
POOL = 8192  # draws after the counts that those kept stand for
# Packages whose rates the kept draws have the means of, under each foil; reduction in mm, None as `print_part` does.
PANEL = (
    *("TSSOP-16", "TVSOP-16", "SSOP-20", "MSOP-10", "QFP-64", "TQFP-44", "SO-16", "SOT-23-6", "SC-70-5", "SOT-5x3-6"),
    *("VSSOP-8", "QFN-20-3.5x4.5", "QFN-32-4x4", "QFN-16-1.8x2.6", "SON-6-0.9x1.0", "SON-8-1.95x1.0", "SON-5-0.8x0.8"),
    *("DFN-8-2x2", "WLP-8-0.5", "WLP-8-0.4", "WLP-6-0.35", "BGA-49-0.4", "BGA-64-0.5", "QFN-14-2.5x3"),
)
# Kept out of the choice: how near the kept draws come to all of them is told of these.
APART = (
    *("TSSOP-14", "TVSOP-14", "QFN-16-2.5x3.5", "SON-6-1.0x1.0", "SOT-5x3-5", "QFP-48", "SC-70-6", "SON-6-1.45x1.0"),
    *("WLP-12-0.4", "SSOP-16"),
)
PRINTS = ((80.0, None), (100.0, None), (125.0, None), (150.0, None), (100.0, 0.03))
MATTERS = 1e-5  # defects per part
FOIL_UM = 120.0  # printed height was measured at 111.5 µm: the next stock foil above
REDUCTIONS_MM = (0.0, 0.015, 0.03)  # apertures of the line aren't published: as the lands, or down to practice
# What no geometry knows, per million, before the counts: median and standard deviation of the logarithm. Weak.
PRIOR = {"part": (30.0, 1.5), "joint": (3.0, 1.5), "gap": (0.5, 1.5)}
TAU = 0.8  # scale of the half-normal prior of the spread between packages, natural logarithm


def modelled(anchor: Anchor, reduction_mm: float) -> PartModel:
    """An anchor's package on its line."""
    outline = find(anchor.outline)
    pattern = land_pattern(outline)
    rules = ApertureRules(reduction_mm=reduction_mm)
    printed = print_part(pattern, Foil(FOIL_UM), outline=outline, rules=rules)
    made = part_model(outline, pattern, printed, scatter(0.03, 0.05))
    assert made is not None
    return made


def worked(scores: np.ndarray, which: np.ndarray) -> dict[str, dict[str, np.ndarray]]:
    """Bridges and all other modelled defects of every anchor with an outline, at every draw of terms."""
    found = {}
    for anchor in ANCHORS:
        if not anchor.outline:
            continue
        bridges, rest = np.empty(len(scores)), np.empty(len(scores))
        for number, reduction in enumerate(REDUCTIONS_MM):
            mine = which == number
            drawn = drawn_rates(modelled(anchor, reduction), scores[mine])
            bridges[mine] = drawn["bridges"]
            rest[mine] = sum(drawn[name] for name in ("opens", "floated", "skewed", "tilted"))
        found[anchor.name] = {"bridges": bridges, "rest": rest}
    return found


def log_chance(count: int, mean: np.ndarray, tau: np.ndarray) -> np.ndarray:
    """Of a count whose level scatters about its mean with ln-spread tau: negative binomial (gamma for lognormal)."""
    from scipy.special import gammaln

    shape = 1 / np.expm1(np.maximum(tau, 0.05) ** 2)
    found = gammaln(count + shape) - gammaln(shape) - gammaln(count + 1) + shape * np.log(shape / (shape + mean))
    return found + count * np.log(mean / (shape + mean))


def posterior() -> tuple[dict[str, np.ndarray], dict[str, dict[str, np.ndarray]], np.ndarray, np.ndarray]:
    """All sets drawn from the priors, the modelled rates, the scores of the terms, and the sets' weights."""
    rng = np.random.default_rng(20260101)
    scores = np.concatenate([prior_scores(TERMS // 3, seed) for seed in (1, 2, 3)])
    which = rng.integers(0, len(REDUCTIONS_MM), TERMS)
    model = worked(scores, which)
    each = np.repeat(np.arange(TERMS), SETS)
    sets = {"terms": each, "reduction": which[each]}
    for name, (median, spread) in PRIOR.items():
        sets[name] = median * np.exp(spread * rng.standard_normal(each.size))
    sets["tau"] = np.abs(TAU * rng.standard_normal(each.size))
    log = np.zeros(each.size)
    for anchor in ANCHORS:
        mine = model.get(anchor.name)
        bridges = sets["gap"] * anchor.gaps * 1e-6
        rest = (sets["part"] + sets["joint"] * anchor.joints) * 1e-6
        if mine is not None:
            bridges, rest = bridges + mine["bridges"][each], rest + mine["rest"][each]
            log += log_chance(anchor.bridges, anchor.parts * bridges, sets["tau"])
        log += log_chance(anchor.rest, anchor.parts / CONFIRMED * rest, sets["tau"])
    weights = np.exp(log - log.max())
    return sets, model, scores, weights / weights.sum()


def quantiles(values: np.ndarray, weights: np.ndarray | None = None) -> str:
    """5, 50 and 95 % points."""
    order = np.argsort(values)
    shares = np.cumsum(np.full(len(values), 1 / len(values)) if weights is None else weights[order])
    points = [values[order][min(len(values) - 1, int(np.searchsorted(shares, p)))] for p in (0.05, 0.5, 0.95)]
    return " | ".join(significant(p, 2) if p > 1e-3 else "practically none" for p in points)


def rates_of(names_: tuple[str, ...], scores: np.ndarray, places: np.ndarray) -> list[np.ndarray]:
    """Bridges, opens, and moved parts of packages under every print, at `scores[places]`: (draws,) each."""
    own, back = np.unique(places, return_inverse=True)
    found = []
    for name in names_:
        outline = find(name)
        pattern = land_pattern(outline)
        for foil_um, reduction in PRINTS:
            more = {} if reduction is None else {"rules": ApertureRules(reduction_mm=reduction)}
            made = part_model(
                outline, pattern, print_part(pattern, Foil(foil_um), outline=outline, **more), scatter(0.03, 0.05)
            )
            assert made is not None
            drawn = drawn_rates(made, scores[own])
            moved = drawn["floated"] + drawn["skewed"] + drawn["tilted"]
            found += [values[back] for values in (drawn["bridges"], drawn["opens"], moved)]
    return found


def kept_draws(
    sets: dict[str, np.ndarray], scores: np.ndarray, weights: np.ndarray
) -> tuple[np.ndarray, np.ndarray, list[str]]:
    """The sets that are kept, the place of each one's line among evenly spread ones, and how near their means come."""
    rng = np.random.default_rng(7)
    pool = np.searchsorted(np.cumsum(weights), (np.arange(POOL) + rng.random()) / POOL)
    pool = np.minimum(pool, len(weights) - 1)
    terms = sets["terms"][pool]
    rates = rates_of(PANEL, scores, terms)
    levels = [sets[key][pool] for key in ("part", "joint", "gap", "tau")]
    took = chosen(targets(rates, scores[terms], levels), KEPT, rng)
    line = LINE_SPREAD * np.sort(standing("line", KEPT))
    factor = np.exp(line)
    order = matched([one[took] for one in rates], scores[terms[took]], [one[took] for one in levels], factor)
    at_random = rng.choice(POOL, KEPT, replace=False)
    found = head("packages", "rates", "random draws: half of them within, nine of ten within", "kept draws: likewise")
    for title, some in (("of the choice", rates), ("kept out of it", rates_of(APART, scores, terms))):
        mattering = [one for one in some if one.mean() > MATTERS]
        loose = [abs(float(one[at_random].mean() / one.mean()) - 1) for one in mattering]
        tight = [abs(float(np.mean(one[took] * factor[order]) / one.mean() / factor.mean()) - 1) for one in mattering]
        words = [f"{np.quantile(off, 0.5):.0%}, {np.quantile(off, 0.9):.0%}" for off in (loose, tight)]
        found.append(row(title, str(len(mattering)), *words))
    return pool[took], line[order], found


def shipped(sets: dict[str, np.ndarray], scores: np.ndarray, taken: np.ndarray, line: np.ndarray) -> str:
    """The file of draws."""
    lines = [
        "# Draws of everything that defect rates hang on and that is not known, after the counts of a published line.",
        "# Written by docs/make_defect_levels.py; docs/defect_levels.md says how. Scores are standard normal numbers",
        "# of each term's own range; part, joint and gap are defects per million by causes that no geometry knows;",
        "# line is the logarithm of a line's level over that of the line that was counted.",
        "names = [" + ", ".join(f'"{name}"' for name in names()) + "]",
    ]
    for name, key in (("part", "part"), ("joint", "joint"), ("gap", "gap"), ("spread", "tau")):
        lines.append(f"{name} = [" + ", ".join(f"{value:.4g}" for value in sets[key][taken]) + "]")
    lines.append("line = [" + ", ".join(f"{value:.4f}" for value in line) + "]")
    lines.append("scores = [")
    lines += ["  [" + ", ".join(f"{value:.3f}" for value in row) + "]," for row in scores[sets["terms"][taken]]]
    return "\n".join([*lines, "]"]) + "\n"


def row(*cells: str) -> str:
    """Of a table."""
    return "| " + " | ".join(cells) + " |"


def head(*cells: str) -> list[str]:
    """Of a table."""
    return [row(*cells), "|" + "---|" * sum(cell.count("|") + 1 for cell in cells)]


def levels(sets: dict[str, np.ndarray], weights: np.ndarray) -> list[str]:
    """What no geometry knows, before and after the counts."""
    titles = {
        "part": "other causes, per million parts",
        "joint": "other causes, per million joints",
        "gap": "bridges by other causes, per million gaps",
        "tau": "spread between packages, ln",
    }
    found = head("", "before: 5 % | 50 % | 95 %", "after: 5 % | 50 % | 95 %")
    return found + [row(title, quantiles(sets[key]), quantiles(sets[key], weights)) for key, title in titles.items()]


def learned(sets: dict[str, np.ndarray], scores: np.ndarray, weights: np.ndarray) -> list[str]:
    """The terms that the counts moved most."""
    moved = []
    for k, name in enumerate(names()):
        after = scores[sets["terms"], k]
        mean = float(np.sum(weights * after))
        spread = float(np.sqrt(np.sum(weights * (after - mean) ** 2)))
        moved.append((abs(mean) + abs(1 - spread), name, mean, spread))
    found = head("term", "moved by, standard deviations of its range", "its spread over that of before")
    return found + [row(name, f"{mean:+.2f}", f"{spread:.2f}") for _, name, mean, spread in sorted(moved)[:-7:-1]]


def compared(
    sets: dict[str, np.ndarray], model: dict[str, dict[str, np.ndarray]], weights: np.ndarray
) -> tuple[list[str], list[str]]:
    """Counts of every group beside the levels: bridges, and all others."""
    three = "5 % | 50 % | 95 %"
    bridges = head("group", "counted, per million parts", f"model alone: {three}", f"level: {three}")
    others = head("group", "counted and confirmed, per million parts", f"level: {three}", "modelled share of it")
    for anchor in ANCHORS:
        mine = model.get(anchor.name)
        other = (sets["part"] + sets["joint"] * anchor.joints) * 1e-6
        geometric = np.zeros(len(other))
        if mine is not None:
            geometric = mine["rest"][sets["terms"]]
            level = mine["bridges"][sets["terms"]] * 1e6 + sets["gap"] * anchor.gaps
            counted = f"{significant(anchor.bridges / anchor.parts * 1e6, 2)} ({anchor.bridges} counted)"
            bridges.append(row(anchor.name, counted, quantiles(mine["bridges"] * 1e6), quantiles(level, weights)))
        share = float(np.sum(weights * geometric) / np.sum(weights * (geometric + other)))
        counted = f"{significant(anchor.rest / anchor.parts * 1e6 * CONFIRMED, 2)} ({anchor.rest} called bad)"
        others.append(row(anchor.name, counted, quantiles((geometric + other) * 1e6, weights), f"{share:.0%}"))
    return bridges, others


def main() -> None:
    """Write both files."""
    sets, model, scores, weights = posterior()
    taken, line, near = kept_draws(sets, scores, weights)
    DATA.write_text(shipped(sets, scores, taken, line), encoding="utf-8")
    by_terms = np.bincount(sets["terms"], weights, TERMS)
    by_cut = np.bincount(sets["reduction"], weights, len(REDUCTIONS_MM))
    print(f"effective sets {1 / np.sum(weights**2):.0f}, draws of terms {1 / np.sum(by_terms**2):.0f}, cuts {by_cut}")
    bridges, others = compared(sets, model, weights)
    tables = {
        "levels": levels(sets, weights),
        "kept": near,
        "terms": learned(sets, scores, weights),
        "bridges": bridges,
        "others": others,
        "cuts": [
            *head("off every edge", "before", "after"),
            *(
                row(f"{1000 * cut:g} µm", f"{1 / len(REDUCTIONS_MM):.0%}", f"{share:.0%}")
                for cut, share in zip(REDUCTIONS_MM, by_cut, strict=True)
            ),
        ],
    }
    text = PAGE.read_text(encoding="utf-8")
    for key, table in tables.items():
        told = f"<!-- {key} -->\n\n" + "\n".join(table) + "\n\n<!-- end -->"
        text = re.sub(rf"<!-- {key} -->.*?<!-- end -->", lambda _, told=told: told, text, flags=re.DOTALL)
    PAGE.write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
