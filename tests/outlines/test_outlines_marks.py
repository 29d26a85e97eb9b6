"""Marks of dimensions, the outline's own mark, and how much of the catalogue was read."""

from __future__ import annotations

import math

import pytest

from landwise.evidence import source
from landwise.outlines import catalogue, find, naming
from landwise.outlines.marks import (
    KINDS,
    RANKS,
    follows_by_rule,
    kind_of,
    mark_of,
    readings,
    tally,
    used_dimensions,
    weakest,
)
from landwise.outlines.supply import sighted


def test_every_used_dimension_of_the_catalogue_says_where_it_was_read():
    silent = [
        f"{outline.name} {reading.dimension}"
        for outline in catalogue().values()
        for reading in readings(outline)
        if not reading.sources
    ]
    assert silent == []


def test_an_outlines_mark_is_its_weakest_dimensions():
    for outline in catalogue().values():
        read = [one for one in readings(outline) if not follows_by_rule(one.dimension, one.sources)]
        assert outline.mark == weakest(reading.mark for reading in read)


def test_what_follows_by_a_rule_is_worked_by_it_and_shown_as_computed():
    """The land under a ball: where a sphere of the ball's diameter is cut at the height of the standoff."""
    worked = 0
    for outline in catalogue().values():
        for one in readings(outline):
            if follows_by_rule(one.dimension, one.sources):
                ball, height = outline.terminal_width_mm.nom, outline.standoff_mm.nom
                assert one.mark == "computed"
                assert outline.package_land_mm is not None
                assert outline.package_land_mm.nom == pytest.approx(2 * math.sqrt(height * (ball - height)), abs=0.03)
                worked += 1
    assert worked > 20


def test_a_rule_lifts_no_outline_whose_ball_was_recalled():
    """What a land follows from counts by itself: a recalled ball leaves the outline recalled."""
    recalled = find("BGA-56-0.65")
    assert recalled.mark == "from memory"
    values = vars(find("WLP-5-0.5"))
    assert find("WLP-5-0.5").mark == "verified"
    assert mark_of(values | {"read": {**values["read"], "standoff_mm": ("tiny-leadless-memory",)}}) == "from memory"


def test_a_recalled_dimension_pulls_the_whole_outline_down():
    outline = find("SC-70-6")
    values = vars(outline) | {"read": {**outline.read, "foot_mm": ("tiny-leadless-memory",)}}
    assert outline.mark == "verified"
    assert mark_of(values) == "from memory"


def test_a_dimension_that_nobody_read_is_recalled():
    outline = find("SC-70-6")
    read = {name: keys for name, keys in outline.read.items() if name != "span_mm"}
    assert mark_of(vars(outline) | {"read": read}) == "from memory"


def test_no_source_marked_read_is_only_recalled():
    for outline in catalogue().values():
        for key in outline.sources:
            assert kind_of(key) in KINDS
            if "recalled" in source(key).where:
                assert source(key).mark == "from memory"


def test_how_much_was_read_does_not_fall_back():
    """Counted on 29 November 2026; a figure of ours to keep, not a claim about anyone's drawings."""
    counts = tally(catalogue().values())
    assert counts.outlines["verified"] >= 87
    assert counts.share("verified", "computed", "second-hand") > 0.71
    assert counts.dimension_share("verified") > 0.76
    assert counts.dimension_share("verified", "computed", "second-hand") > 0.85


def test_most_of_what_was_seen_on_sale_is_read():
    """Functions seen in a package, counted once each: most are seen in an outline whose every dimension was read."""
    marks = [
        named[0].outline.mark
        for function in sighted().values()
        for package in function.packages
        if (named := naming(package))
    ]
    assert len(marks) > 3000
    assert sum(mark == "verified" for mark in marks) / len(marks) > 0.75
    assert sum(mark != "from memory" for mark in marks) / len(marks) > 0.88


def test_what_logic_comes_in_most_was_read():
    """Outlines in which most single gates, standard logic and bus parts are sold (common practice, no source)."""
    most = [
        "SO-8",
        "SO-14",
        "SO-16",
        "SO-20W",
        "TSSOP-14",
        "TSSOP-16",
        "TSSOP-20",
        "TSSOP-24",
        "TSSOP-48",
        "SSOP-14",
        "SSOP-16",
        "SSOP-20",
        "DIP-8",
        "DIP-14",
        "DIP-16",
        "SOT-23-5",
        "SOT-23-6",
        "SC-70-5",
        "SC-70-6",
        "SOT-5x3-5",
        "VSSOP-8",
        "MSOP-8",
        "SON-6-1.45x1.0",
        "SON-6-1.0x1.0",
        "SON-5-0.8x0.8",
        "TVSOP-14",
        "QFN-20-2.5x4.5",
        "WLP-5-0.5",
        "WLP-6-0.5",
        "WLP-8-0.5",
        "SO-14-5.3",
        "SO-16-5.3",
        "SO-20-5.3",
    ]
    assert [name for name in most if find(name).mark == "from memory"] == []


def test_ranks_order_what_was_read_before_what_was_not():
    assert RANKS[0] == "verified"
    assert RANKS[-1] == "from memory"
    assert weakest(["computed", "second-hand"]) == "second-hand"


def test_only_dimensions_that_matter_count():
    assert "weight_mg" not in used_dimensions(find("SO-14"))
    assert "row_spacing_mm" in used_dimensions(find("DIP-14"))
    assert "package_land_mm" in used_dimensions(find("WLP-5-0.5"))
