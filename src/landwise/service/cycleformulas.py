"""Formula-book entries of thermal cycling of joints."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from landwise.evidence.book import Formula, Input, Output, Outputs
from landwise.service import creep, device, thermal_cycling

_FATIGUE = tuple(thermal_cycling.FATIGUE_SETS)
_ACCELERATION = tuple(thermal_cycling.ACCELERATION_SETS)
_ALLOY = "solder constants; sets with -recalled in their name are from memory and never a default"
_CYCLING = (
    Input("dnp", "length", "distance of the joint from the part's neutral point"),
    Input("cte_part", "expansion", "thermal expansion of the part"),
    Input("cte_board", "expansion", "thermal expansion of the board"),
    Input("delta_t", "temperature difference", "temperature swing"),
)
_DWELL = (
    Input("mean_solder_temp", "temperature", "mean cyclic solder temperature"),
    Input("dwell", "time", "half-cycle dwell"),
)


# the inputs of a formula by name: numbers, arrays or words, which the book checks
def _leadless(**given: Any) -> Outputs:
    mismatch = given["cte_part"] - given["cte_board"]
    strain = thermal_cycling.leadless_strain(given["dnp"], mismatch, given["delta_t"], given["height"], given["factor"])
    return {"strain_range": strain, **_median(strain, given)}


# the inputs of a formula by name: numbers, arrays or words, which the book checks
def _leaded(**given: Any) -> Outputs:
    mismatch = given["cte_part"] - given["cte_board"]
    term = thermal_cycling.leaded_energy_term(
        given["stiffness"],
        given["dnp"],
        mismatch,
        given["delta_t"],
        given["joint_area"],
        given["height"],
        given["factor"],
    )
    return {"energy_term": term, **_median(term, given)}


# the inputs of a formula by name: numbers, arrays or words, which the book checks
def _median(damage: float, given: Mapping[str, Any]) -> Outputs:
    alloy = given["alloy"]
    exponent = thermal_cycling.fatigue_exponent(given["mean_solder_temp"], given["dwell"] / 60, alloy)
    return {"cycles": thermal_cycling.median_cycles(damage, exponent, alloy), "exponent": exponent}


# the inputs of a formula by name: numbers, arrays or words, which the book checks
def _acceleration(**given: Any) -> Outputs:
    field, test = (
        thermal_cycling.Repeated(
            given[f"{side}_delta_t"],
            given[f"{side}_freq"],
            given[f"{side}_t_max"],
            None if given[f"{side}_dwell"] is None else given[f"{side}_dwell"] / 60,
        )
        for side in ("field", "test")
    )
    return {"factor": thermal_cycling.acceleration_factor(field, test, given["alloy"])}


def _creep(stress: float, spring: float, low: float, high: float, dwell: float) -> Outputs:
    return {"share": float(creep.crept_share(stress, spring, (low, high), dwell))}


def _device(field: float, test: float, energy: float) -> Outputs:
    return {"factor": device.heat_factor(field, test, energy)}


def _weibull(median: float, share: float, shape: float) -> Outputs:
    return {"cycles": thermal_cycling.weibull_cycles(median, share, shape)}


CYCLES: tuple[Formula, ...] = (
    Formula(
        "leadless-cycles",
        "Median life of a leadless joint in thermal cycling",
        (
            *_CYCLING,
            Input("height", "length", "solder height"),
            *_DWELL,
            Input("factor", "ratio", "non-ideal factor, 1.0 to 1.5 for balls, 0.7 to 1.2 with fillets", "1"),
            Input("alloy", "choice", _ALLOY, "snpb", _FATIGUE),
        ),
        (
            Output("cycles", "", "cycles to 50 % failures"),
            Output("strain_range", "", "cyclic shear strain range"),
            Output("exponent", "", "fatigue ductility exponent c"),
        ),
        _leadless,
        "dwells of a minute and longer, −55 to 150 °C, strains up to 50 %; first order, compare rather than predict",
        ("engelmaier-dfr", "engelmaier-2008-notebook", "sac-2009-memory"),
        "Δγ = F·L·|Δα·ΔT|/h; N = ½·(2εf/Δγ)^(−1/c)",
    ),
    Formula(
        "leaded-cycles",
        "Median life of a leaded joint in thermal cycling",
        (
            Input("stiffness", "stiffness", "diagonal stiffness of the free lead"),
            *_CYCLING,
            Input("joint_area", "area", "load-bearing solder area, about 2/3 of the lead's footprint"),
            Input("height", "length", "solder height, about half the foil"),
            *_DWELL,
            Input("factor", "ratio", "non-ideal factor", "1"),
            Input("alloy", "choice", _ALLOY, "snpb", _FATIGUE),
        ),
        (
            Output("cycles", "", "cycles to 50 % failures"),
            Output("energy_term", "", "damage term ΔD"),
            Output("exponent", "", "fatigue ductility exponent c"),
        ),
        _leaded,
        "compliant leads, dwells of a minute and longer; the form is recalled",
        ("leaded-fatigue-memory", "engelmaier-dfr"),
        "ΔD = F·K·(L·Δα·ΔT)²/(200 psi·A·h)",
    ),
    Formula(
        "cycle-acceleration",
        "Field cycles that one test cycle stands for",
        (
            Input("field_delta_t", "temperature difference", "swing in the field"),
            Input("test_delta_t", "temperature difference", "swing in the test"),
            Input("field_freq", "frequency", "cycles in the field, such as '2 /day'"),
            Input("test_freq", "frequency", "cycles in the test"),
            Input("field_t_max", "temperature", "highest temperature in the field"),
            Input("test_t_max", "temperature", "highest temperature in the test"),
            Input("alloy", "choice", _ALLOY, "snpb", _ACCELERATION),
            Input("field_dwell", "time", "hot dwell in the field, for the sets that count dwells", optional=True),
            Input("test_dwell", "time", "hot dwell in the test", optional=True),
        ),
        (Output("factor", "", "acceleration factor"),),
        _acceleration,
        "swings and temperatures within the tests behind the constants, checked where known; tends to be optimistic",
        ("norris-landzberg-pch", "yang-csp", "pan-2005-memory", "lall-2012-memory", "dauksher-2008-memory"),
        "AF = (ΔTt/ΔTf)^n·(ff/ft)^m·exp[K(1/Tf − 1/Tt)]; sets of dwells: (tt/tf)^m",
    ),
    Formula(
        "weibull-life",
        "Cycles at which a share has failed",
        (
            Input("median", "ratio", "median cycles"),
            Input("share", "ratio", "failed share, such as 1 %"),
            Input("shape", "ratio", "Weibull shape: 2 compliant, 3 typical, 4 stiff", "3"),
        ),
        (Output("cycles", "", "cycles"),),
        _weibull,
        "two-parameter Weibull",
        ("weibull-dfr",),
        "N(x) = N50·[ln(1 − x)/ln 0.5]^(1/β)",
    ),
    Formula(
        "creep-share",
        "Share of a lead's slip that its solder creeps in both dwells of a cycle",
        (
            Input("stress", "pressure", "shear stress as the dwell begins"),
            Input("spring", "pressure", "what the lead lets off per unit of strain, K·h/A"),
            Input("low", "temperature", "cold end"),
            Input("high", "temperature", "hot end"),
            Input("dwell", "time", "at each end"),
        ),
        (Output("share", "", "of the slip, at most 1"),),
        _creep,
        "steady creep by the faster of two recalled laws, with a factor of ten either way",
        creep.SOURCES,
        "dτ/dt = −(K·h/A)·rate(τ, T)",
    ),
    Formula(
        "device-acceleration",
        "Hours of the field that an hour of a hot test stands for",
        (
            Input("field", "temperature", "junction in the field"),
            Input("test", "temperature", "junction in the test", "125 degC"),
            Input("energy", "ratio", "activation energy in eV", "0.7"),
        ),
        (Output("factor", "", "field hours in one test hour"),),
        _device,
        "one mechanism of one activation energy",
        device.SOURCES,
        "AF = exp[E/k·(1/T_field − 1/T_test)]",
    ),
)
