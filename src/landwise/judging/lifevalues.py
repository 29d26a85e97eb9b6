"""Numbers read off a joint and its life: what each step of the life figures gives."""

from __future__ import annotations

from landwise.service.attachment import Attachment
from landwise.service.bands import Band
from landwise.service.chamber import Chamber, cycles_wanted
from landwise.service.environments import Environment
from landwise.service.lives import Life


def part_ppm_k(joint: Attachment) -> Band:
    """Expansion between the part's middle and its outermost joint. [ppm/K]"""
    return joint.expansion_ppm_k


def lead_stiffness(joint: Attachment) -> Band | None:
    """Stiffness of the free lead along the diagonal. [N/mm]"""
    return joint.stiffness_n_mm


def strain_relief(joint: Attachment) -> float:
    """Share of the strain that the underfill leaves."""
    return joint.relief


def worst_strain(life: Life) -> float:
    """Damage term of the severest cycle."""
    return life.strain


def worst_cycles(life: Life) -> float:
    """Median life under the severest cycle alone. [cycles]"""
    return life.cycles


def half_failed(life: Life) -> float:
    """Until half of such parts have failed. [years]"""
    return life.median_years


def damage_a_year(life: Life) -> float:
    """Sum over all kinds of cycle; half of the parts have failed where it reaches one. [1/years]"""
    return 1 / life.median_years


def damage_terms(life: Life, place: Environment) -> dict[str, str]:
    """Every term of that sum in words: cycles a year over the cycles that this kind would take alone."""
    found: dict[str, str] = {}
    for line, share in zip(place.cycles, life.damage, strict=True):
        rise = f" and {line.rise_k:.3g} K of its own" if line.rise_k else ""
        name = f"{line.swing_k:.3g} K{rise}, {line.dwell_min:.3g} min at each end, up to {line.top_c:.3g} °C"
        harm = share / life.median_years
        alone = f"{line.per_year / harm:.3g}" if harm > 0 else "endless"
        # Two kinds may read alike: each keeps its own term.
        found[name if name not in found else f"{name} ({len(found) + 1})"] = (
            f"{line.per_year:g} a year over {alone} cycles = {harm:.2g} a year ({share:.0%})"
        )
    return found


def years_until(life: Life, place: Environment) -> Band:
    """Until the share that may fail has failed, with its 90 % interval. [years]"""
    return life.years_to(place.failures)


def expected_failed(life: Life, place: Environment) -> float:
    """Share of such parts expected to have failed in the years wanted, over all that isn't known of the life."""
    return float(life.failing(place.years).mean())


def half_failed_in_chamber(life: Life, place: Environment) -> float:
    """Until half of such parts have failed. [cycles]"""
    return life.median_years * place.cycles[0].per_year


def first_of_a_hundred(life: Life, place: Environment) -> Band:
    """Until one of a hundred has failed, with its 90 % interval. [cycles]"""
    return life.years_to(0.01).times(place.cycles[0].per_year)


def wanted_cycles(place: Environment) -> float:
    """Cycles of the usual chamber that stand for the years wanted, or the usual ones. [cycles]"""
    return cycles_wanted(place).cycles


def chamber_place(low_c: float, high_c: float, dwell_min: float, per_day: float) -> Environment:
    """A test chamber as a place to live in."""
    return Chamber(low_c, high_c, dwell_min, per_day).as_environment
