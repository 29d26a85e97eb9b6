"""Values kept by the objects they follow from: asked again they are the same, of other objects they are not."""

from __future__ import annotations

from dataclasses import replace

import pytest

from landwise.assembly.partbuild import part_geometry
from landwise.lands import land_pattern
from landwise.lately import Lately
from landwise.outlines import find
from landwise.printing import Foil, print_part


def test_the_longest_unused_goes_first():
    lately, part, made = Lately[int](most=2), object(), []

    def make(key: str) -> int:
        made.append(key)
        return len(made)

    for key in ("a", "b", "a", "c", "a", "b"):
        lately.of((part,), key, lambda key=key: make(key))
    assert made == ["a", "b", "c", "b"]


def test_objects_are_told_apart_by_identity_and_outlive_their_caller():
    lately = Lately[int](most=8)
    # Were the objects not held, their identities would be taken by the next ones.
    found = [lately.of(([number],), "key", lambda number=number: number) for number in range(8)]
    assert found == list(range(8))


@pytest.mark.parametrize("name", ["QFN-16-3x3", "SON-6-1.45x1.0"])
def test_what_is_hidden_is_no_part_of_what_is_kept(name):
    part = find(name)
    lands = land_pattern(part)
    printed = print_part(lands, Foil(100), outline=part)
    unseen = {lands.lands[0].terminal, lands.lands[1].terminal}
    plain, hiding = part_geometry(part, lands, printed), part_geometry(part, lands, printed, hidden=unseen)
    # Built without anything kept: other objects of the same content.
    afresh = part_geometry(part, replace(lands), printed, hidden=unseen)
    assert hiding == afresh
    assert not any(joint.hidden for joint in plain.joints)
    assert {joint.terminal for joint in hiding.joints if joint.hidden} == unseen
    assert sum(hidden for _, _, hidden in hiding.joint_classes) == len(unseen)
    assert sum(hidden for _, _, hidden in hiding.pair_classes) >= 1
    assert [kind[:2] for kind in hiding.pair_classes] == [kind[:2] for kind in plain.pair_classes]
