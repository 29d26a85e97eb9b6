"""A design's reasons in words, at the edge: nothing else reads them."""

from __future__ import annotations

from landwise.designing.design import Design
from landwise.designing.landsearch import LandChoice
from landwise.designing.variables import Changes
from landwise.designing.why import Beside, Binding, Buys, Reasons
from landwise.quantities import significant

REASONS = {
    "designed": "openings designed for this foil",
    "wide enough": "openings as the lands: they hold the target at one and a half times the line's scatter",
    "inside the uncertainty": "openings as the lands: no other gains more than is known",
    "overprinted": "openings past the drilled lands, inside the courtyard",
    "not worked": "openings as the lands: this shape of land is not designed",
    "nothing printed": "nothing is printed",
    "as lands": "openings as the lands, as asked",
}
LANDS_KEPT = {
    "wide enough": "their print holds the target at one and a half times the line's scatter",
    "no gain": "no others inside the goals gain more than is known",
    "no range": "balls, drilled leads and terminals in the middle have no range of goals",
    "not worked": "no design is worked for them",
}
WAYS = {
    "bridge": "bridges",
    "open": "opens",
    "float": "floating on the centre pad",
    "tilt": "tilt",
    "skew": "skew",
}


def way_words(key: str) -> str:
    """A way to fail as a reader sees it."""
    return WAYS.get(key, key)


def binding_words(binding: Binding) -> str:
    """One binding as a reader sees it.

    >>> binding_words(Binding("powder", "3", "", 190.0, 190.0, "um"))
    'powder at terminal 3: 190 µm wide, five balls need 190 µm'
    """
    where = f"terminal {binding.terminal}" if binding.terminal else "the part"
    if binding.other:
        where = f"terminals {binding.terminal} and {binding.other}"
    value, limit = significant(binding.value, 3), significant(binding.limit, 3)
    said = {
        "area ratio": f"release at {where}: area ratio {value}, holds from {limit}",
        "powder": f"powder at {where}: {value} µm wide, five balls need {limit} µm",
        "web": f"web of foil between {where}: {value} µm of at least {limit} µm",
        "pane web": f"web between panes: {value} µm of at least {limit} µm",
        "mask": f"edge of the mask's opening at {where}",
        "toe": f"toe of {where}: {value} µm past the land, no more than {limit} µm",
        "paste": f"paste at {where}: {float(value):.0%} of the land's, at least {float(limit):.0%}",
        "standoff": f"standoff: {value} µm of at least {limit} µm",
        "size": f"smallest opening at {where}",
    }
    if binding.key in said:
        return said[binding.key]
    return f"{WAYS[binding.key]} at {where}: {value} standard deviations away"


def short_binding(binding: Binding) -> str:
    """One binding in the few words that a card has room for.

    >>> short_binding(Binding("toe", "3", "", 100.0, 100.0, "um"))
    'toe of terminal 3'
    """
    where = f" {binding.terminal}–{binding.other}" if binding.other else f" of terminal {binding.terminal}"
    named = {
        "pane web": "web between panes",
        "standoff": "standoff",
        "web": f"web of foil{where}",
        "area ratio": f"release{where}",
        "mask": f"mask{where}",
        "size": f"least width{where}",
    }
    if binding.key in named:
        return named[binding.key]
    return f"{WAYS.get(binding.key, binding.key)}{where if binding.terminal else ''}"


def change_words(changes: Changes, *, pad: bool = False, middle: bool = False) -> str:
    """What a design changes against the lands.

    >>> change_words(Changes(width_mm=-0.03, toe_mm=0.05))
    '30 µm narrower, 50 µm longer at the toe'
    """
    found = []
    for value, less, more in (
        (changes.width_mm, "narrower", "wider"),
        (changes.toe_mm, "shorter at the toe", "longer at the toe"),
        (-changes.heel_mm, "shorter at the heel", "longer at the heel"),
    ):
        if abs(value) > 5e-4:
            found.append(f"{abs(value) * 1000:.0f} µm {more if value > 0 else less}")
    if changes.corner < -0.01:
        found.append("corners rounded")
    elif changes.corner > 0.01:
        found.append("inner corners cut")
    if changes.roundness < 0.9:
        found.append("rounded square")
    if pad:
        found.append(f"centre pad {100 * changes.coverage:.0f} % open")
    elif middle and abs(changes.coverage) > 5e-4:
        wider = "wider" if changes.coverage > 0 else "narrower"
        found.append(f"middle opening {abs(changes.coverage) * 1000:.0f} µm {wider}")
    return ", ".join(found) or "as the lands"


def beside_words(beside: Beside) -> str:
    """One print beside the design."""
    return f"{beside.kind}: {beside.margin:.1f} standard deviations"


def buys_words(buys: Buys) -> str:
    """What each micrometre would buy.

    >>> buys_words(Buys(0.02, -0.03, 0.001, 0.0))
    'each µm of thinner foil buys 0.020 standard deviations, each µm of print offset saved 0.001'
    """
    foil, side = max((buys.thinner_foil, "thinner"), (buys.thicker_foil, "thicker"))
    found = [f"each µm of {side} foil buys {foil:.3f} standard deviations"] if foil > 5e-4 else []
    for value, what in ((buys.print_offset, "print offset"), (buys.placement_offset, "placement offset")):
        if value > 5e-4:
            unit = "" if found else " standard deviations"
            found.append(f"each µm of {what} saved {value:.3f}{unit}")
    return ", ".join(found) or "neither foil nor offset buys anything that counts"


def design_words(design: Design) -> str:
    """What a design does and gains, or why there is none: one line."""
    if not design.designed or design.margins is None or design.margins_before is None:
        return reason_words(design)
    pad = any(one.terminal == "EP" for one in design.openings)
    middle = not pad and design.changes.coverage != design.before.coverage
    changed = change_words(design.changes, pad=pad, middle=middle)
    now, before = design.margins.middle, design.margins_before.middle
    gain = f"{now:.1f} standard deviations to the nearest defect, not {before:.1f}"
    return f"openings designed for {design.foil.thickness_um:g} µm: {changed}; {gain}"


def land_words(choice: LandChoice) -> str:
    """What became of an option's lands, and what that gains over the default's."""
    if choice.reason != "moved":
        return f"lands as they are: {LANDS_KEPT[choice.reason]}"
    assert choice.default.margins is not None
    before, foil = choice.default.margins.middle, choice.design.foil.thickness_um
    return (
        f"lands moved inside their goals ({choice.pattern.level}): {before + choice.gain:.1f} standard deviations to"
        f" the nearest defect on {foil:g} µm, {before:.1f} with the default lands and their designed print"
    )


def reasons_lines(reasons: Reasons) -> tuple[str, ...]:
    """Everything about a print that does not change it, line by line."""
    binds = "; ".join(binding_words(one) for one in reasons.binds)
    beside = ", ".join(beside_words(one) for one in reasons.beside)
    buys = buys_words(reasons.buys)
    return f"binds: {binds}", f"beside it on this foil: {beside}", f"{buys[0].upper()}{buys[1:]}"


def reason_words(design: Design) -> str:
    """Why the openings are what they are."""
    return REASONS[design.reason]
