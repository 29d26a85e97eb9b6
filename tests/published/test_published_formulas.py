"""Formula-book entries against published numbers. Each row names its source and how far it was read."""

from __future__ import annotations

from landwise.evidence import evaluate


def test_published_ball_collapse_is_more_than_the_free_zone_gives():
    # SPRAA99C (TI, verified): typical 0.5 mm pitch ball 0.20 high before, 0.15 after: −25 %. The free zone of the
    # nearest row, 0.25 on 0.22 lands, goes 0.202 → 0.159: −21 %. A comparison: load and lands are not printed.
    answer = evaluate("ball-joint", {"ball_diameter": "0.25 mm", "package_land": "0.22 mm", "board_land": "0.22 mm"})
    collapse = 1 - answer.outputs["height"] / 0.202
    assert 0.15 < collapse < 0.25
