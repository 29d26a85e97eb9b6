"""Checks of every opening under the foil: release, powder, contact, volume, gaps."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np

from landwise.outlines.coplanarity import SOURCE as COPLANARITY_SOURCE
from landwise.printing.paste import BALLS_SOURCE, least_opening_um
from landwise.printing.transfer import PASS_SOURCE
from landwise.printing.transfer import SOURCE as TRANSFER_SOURCE
from landwise.review.checks.situation import Situation, by_part, count, finding
from landwise.review.model import Finding, Ints
from landwise.review.verdicts import SLUMP_SOURCE, VOLUME_SOURCE, coplanarity_um, word


def _release(given: Situation) -> Iterator[Finding]:
    under = given.under
    for part, rows in by_part(given, np.flatnonzero(under.release > 0)):
        worst = rows[np.argmin(under.area_ratio[rows])]
        ratio = float(under.area_ratio[worst])
        holds = ratio / (1 + float(under.margin[worst]))
        says = (
            f"{count(rows)}: area ratio down to {ratio:.2f} on {under.foil.thickness_um:g} µm; "
            f"{100 * under.usual_low[worst]:.0f} % to {100 * under.usual_high[worst]:.0f} % of the paste transfers"
        )
        yield finding(
            given,
            "release",
            word(under.release[rows].max()),
            rows,
            part,
            says,
            value=ratio,
            limit=holds,
            sources=(TRANSFER_SOURCE, PASS_SOURCE),
        )


def _powder(given: Situation) -> Iterator[Finding]:
    under = given.under
    least = least_opening_um(under.powder)
    for part, rows in by_part(given, np.flatnonzero(under.powder_code > 0)):
        narrow = float(given.paste.width_mm[rows].min()) * 1000
        says = f"{count(rows)}: {narrow:.0f} µm wide, {under.powder} powder wants {least:.0f} µm (five particles)"
        yield finding(
            given,
            "powder",
            word(under.powder_code[rows].max()),
            rows,
            part,
            says,
            value=narrow,
            limit=least,
            unit="um",
            sources=(BALLS_SOURCE,),
        )


def _contact(given: Situation) -> Iterator[Finding]:
    """One finding a kind, limit and level: thin foil is the board's matter, not a part's."""
    under, foil = given.under, given.under.foil.thickness_um
    by: dict[tuple[str, float, int], list[tuple[int, Ints]]] = {}
    for part, rows in by_part(given, np.flatnonzero(under.contact > 0)):
        component = given.parts[part]
        limit = coplanarity_um(component, given.lands)
        if limit is not None:  # as of all that were judged
            by.setdefault((component.kind, limit, int(under.contact[rows].max())), []).append((part, rows))
    for (kind, limit, level), its in by.items():
        names = ", ".join(given.name(part) for part, _ in its[:6]) + (" and others" if len(its) > 6 else "")
        says = (
            f"{len(its)} {kind} part{'s' if len(its) > 1 else ''} ({names}): terminals may stand {limit:g} µm out of"
            f" plane, the foil prints {foil:g} µm"
        )
        rows = np.concatenate([some for _, some in its])
        one = its[0][0] if len(its) == 1 else -1
        yield finding(
            given,
            "contact",
            word(level),
            rows,
            one,
            says,
            value=foil,
            limit=limit,
            unit="um",
            sources=(COPLANARITY_SOURCE,),
        )


def _volume(given: Situation) -> Iterator[Finding]:
    under = given.under
    for part, rows in by_part(given, np.flatnonzero(under.volume > 0)):
        share = under.share[rows]
        short = share < 1
        level = word(under.volume[rows].max())
        value = float(share.min() if short.any() else share.max())
        what = "short of paste" if short.any() else "with more paste than the land carries"
        says = f"{count(rows)} {what}: {100 * value:.0f} % of land area × foil thickness"
        yield finding(
            given,
            "volume",
            level,
            rows,
            part,
            says,
            value=value,
            limit=0.5 if short.any() else 1.5,
            sources=(VOLUME_SOURCE,),
        )


def _bridging(given: Situation) -> Iterator[Finding]:
    under = given.under
    for part, rows in by_part(given, np.flatnonzero(under.bridge > 0)):
        worst = rows[np.argmin(under.slump_share[rows])]
        gap = float(under.gap_mm[worst])
        limit = gap / float(under.slump_share[worst]) if under.slump_share[worst] > 0 else None
        says = f"{count(rows)}: {gap:.3f} mm to the next print" + (
            f"; hot paste may slump {limit:.3f} mm" if limit else "; the prints touch"
        )
        yield finding(
            given,
            "bridging",
            word(under.bridge[rows].max()),
            rows,
            part,
            says,
            value=gap,
            limit=limit,
            unit="mm",
            sources=(SLUMP_SOURCE,),
        )


CHECKS: tuple[Callable[[Situation], Iterator[Finding]], ...] = (_release, _powder, _contact, _volume, _bridging)
