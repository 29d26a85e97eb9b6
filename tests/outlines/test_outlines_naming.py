"""Names, package letters and drawing numbers that lead to outlines."""

from __future__ import annotations

import pytest

from landwise.outlines import catalogue, naming, outline_from
from landwise.outlines.catalogue import plain
from landwise.outlines.naming import letters_table

OWN = {
    "name": "DRL",
    "family": "gull-wing dual",
    "terminals": 14,
    "pitch_mm": 1.27,
    "body_length_mm": [8.55, 8.75],
    "body_width_mm": [3.8, 4.0],
    "span_mm": [5.8, 6.2],
    "foot_mm": [0.4, 1.27],
    "terminal_width_mm": [0.31, 0.51],
    "height_mm": 1.75,
    "mark": "from memory",
    "sources": ["our drawing"],
}


def names(text, **options):
    return [named.outline.name for named in naming(text, **options)]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("DRL", ["SOT-5x3-5", "SOT-5x3-6"]),
        ("drl", ["SOT-5x3-5", "SOT-5x3-6"]),
        ("NS", ["SO-8-5.3", "SO-14-5.3", "SO-16-5.3", "SO-20-5.3"]),
        ("PW0016A", ["TSSOP-16"]),
        ("DGS0010A", ["MSOP-10"]),
        ("BQA", ["QFN-14-2.5x3"]),
        ("SOIC-14", ["SO-14"]),
        ("LQFP-64", ["QFP-64"]),
        ("TQFP-64", ["TQFP-64"]),
        ("nothing of the kind", []),
    ],
)
def test_names_lead_to_outlines(text, expected):
    assert names(text) == expected


def test_terminals_choose_among_letters():
    assert names("RGY", terminals=16) == ["QFN-16-3.5x4"]
    assert names("SO-14", terminals=16) == []


def test_wafer_letters_tell_the_pitch():
    """YZP drawings read: 0.5 mm (YZP0005, YZP0006, YZP0008); YFP 0.4 mm (YFP0004)."""
    assert {named.outline.pitch_mm for named in naming("YZP")} == {0.5}
    assert {named.outline.pitch_mm for named in naming("YFP")} == {0.4}


def test_letters_of_two_houses_lead_to_both_and_keep_their_marks():
    found = naming("DW")
    houses = {named.house for named in found}
    assert len(houses) > 1
    assert {named.outline.name for named in found} >= {"SO-20W", "SC-70-6"}
    assert all(named.mark in ("verified", "from memory") for named in found)


def test_a_users_own_outline_comes_first():
    own = outline_from(OWN)
    assert [named.outline for named in naming("DRL", own=[own])] == [own]


def test_every_letter_leads_to_outlines_of_the_catalogue():
    for rows in letters_table().values():
        for row in rows:
            assert set(row.outlines) <= set(catalogue()), row
            assert row.mark in ("verified", "from memory")
            assert row.house.startswith("h")


def test_no_name_means_two_outlines():
    owners: dict[str, str] = {}
    for outline in catalogue().values():
        for name in {plain(outline.name), *map(plain, outline.also)}:
            assert owners.setdefault(name, outline.name) == outline.name, name
