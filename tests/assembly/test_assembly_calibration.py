"""Calibration: known lines are recovered, thin data leave the prior, and intervals hold what they claim."""

from __future__ import annotations

import numpy as np
import pytest

from invented_lines import InventedLine, deposits
from landwise.assembly.calibration import Fitted, PrintFit, fit_print
from landwise.assembly.crossed import split
from landwise.assembly.scatter import default_terms, scatter
from landwise.errors import InputError

RUNS = 60  # 90 % of 60 is 54 ± 2.3


def fitted(line: InventedLine, seed: int, **more: int) -> PrintFit:
    panel, place, part, values, hours = deposits(line, seed, **more)
    return fit_print(panel, place, values, part=part, hours=hours)


def holds(found: Fitted | None, true: float) -> bool:
    assert found is not None
    return found.low <= true <= found.high


def test_known_lines_are_held_by_the_intervals_as_often_as_they_say() -> None:
    """Lines drawn from what the intervals take for possible; benchmarks/calibration.py does 300 of them."""
    counted = dict.fromkeys(("common", "common after", "print", "part", "part after", "ageing", "transfer"), 0)
    rng = np.random.default_rng(5)
    terms = default_terms()
    for seed in range(RUNS):
        line = InventedLine(
            score=0.5 * rng.standard_normal(),
            common=float(terms["volume_common"].at(rng.standard_normal())),
            part_um=float(terms["print_stretch"].at(rng.standard_normal())),
            ageing=-0.002,
            turn_mrad=0.0,
            stretch=0.0,
        )
        found = fitted(line, seed, panels=30)
        common, part = found.terms
        counted["common"] += holds(common.data, line.common)
        counted["common after"] += holds(common.after, line.common)
        counted["part"] += holds(part.data, line.part_um)
        counted["part after"] += holds(part.after, line.part_um)
        counted["print"] += holds(found.print_offset_mm, 3 * line.print_mm)
        counted["ageing"] += holds(found.ageing_per_hour, line.ageing)
        assert found.transfer is not None
        counted["transfer"] += holds(found.transfer.after, line.score)
    # 0.80 and 0.99 are what 60 runs of a true 90 % leave with a chance of 1 in 100 on either side.
    assert {name: count for name, count in counted.items() if not 0.80 <= count / RUNS <= 0.99} == {}


def test_the_interval_of_a_mean_knows_that_prints_and_places_are_few() -> None:
    """The standard error of all deposits together would be far too narrow: the textbook's crossed effects."""
    held = 0
    for seed in range(RUNS):
        rng = np.random.default_rng(seed)
        panel, place = np.divmod(np.arange(12 * 20), 20)
        value = 0.9 + 0.04 * rng.standard_normal(12)[panel] + 0.03 * rng.standard_normal(20)[place]
        found = split(value + 0.02 * rng.standard_normal(240), panel, place)
        assert found is not None
        low, high = np.quantile(found.mean_draws, [0.05, 0.95])
        held += low <= 0.9 <= high
        assert high - low > 2 * 2 * 1.645 * 0.054 / 240**0.5
    assert 0.80 <= held / RUNS <= 0.99


def test_thin_data_leave_the_prior_and_many_outrank_it() -> None:
    line = InventedLine(common=0.3)
    thin, thick = fitted(line, 1, panels=5), fitted(line, 1, panels=200)
    prior = default_terms()["volume_common"]
    widths = [np.log(found.terms[0].after.high / found.terms[0].after.low) for found in (thin, thick)]
    assert widths[1] < 0.5 * widths[0] < 0.5 * np.log(prior.high / prior.low)
    assert abs(thick.terms[0].after.value - 0.3) < 0.04
    few = fitted(line, 1, panels=4)
    assert (few.transfer, few.terms, few.print_offset_mm) == (None, (), None)


def test_wild_deposits_move_nothing_much() -> None:
    panel, place, part, values, _ = deposits(InventedLine(), 2)
    clean = fit_print(panel, place, values, part=part)
    wild = np.random.default_rng(0).random(len(panel)) < 0.01
    dirty = {**values, "volume": np.where(wild, 3.5, values["volume"])}
    found = fit_print(panel, place, dirty, part=part)
    for ours, theirs in zip(found.classes, clean.classes, strict=True):
        assert ours.mean.data is not None
        assert theirs.mean.data is not None
        assert abs(ours.mean.data.value - theirs.mean.data.value) < 0.01
    assert abs(found.terms[0].after.value - clean.terms[0].after.value) < 0.05


def test_turn_and_stretch_of_the_print_are_found() -> None:
    found = fitted(InventedLine(turn_mrad=0.2, stretch=0.3, part_um=0.5), 4)
    assert found.turn_mrad is not None
    assert found.stretch_um_per_mm is not None
    assert found.turn_mrad.value == pytest.approx(0.2, abs=0.02)
    assert found.stretch_um_per_mm.value == pytest.approx(0.3, abs=0.02)


def test_no_area_ratio_is_one_clear_message() -> None:
    panel, place, _, values, _ = deposits(InventedLine(), 0, panels=5)
    with pytest.raises(InputError, match="no area ratio is known"):
        fit_print(panel, place, {"volume": values["volume"]})


def test_a_line_states_its_range_and_its_place_in_the_band() -> None:
    line = scatter(
        0.03, 0.05, {"volume_common": [0.4, 0.45, 0.5], "print_stretch": ["6 um", "7 um", "9 um"]}, [0, 1, 2]
    )
    term = line.term("print_stretch")
    assert (term.low, term.value, term.high, term.moves) == (6, 7, 9, True)
    assert line.transfer_score == 1
    assert line.drawn({"transfer": 1.6449}).transfer_score == pytest.approx(2.0)
    assert scatter(0.03, 0.05).drawn({"transfer": 1.3}).transfer_score == 1.3
    with pytest.raises(InputError, match="not a value with its range"):
        scatter(0.03, 0.05, {"volume_common": [0.5, 0.4, 0.6]})
