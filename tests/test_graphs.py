"""Values that share parts come back sharing them, and bytes that name anything else make nothing."""

from __future__ import annotations

import copy
import gc
import os
import pickle
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from types import MappingProxyType

import numpy as np
import pytest

from landwise.evidence.trails import Origin, Step, as_given, behind, drawn, earlier, worked
from landwise.graphs import GROUP, UNREAD, NotOurs, _Book, framed, packed, undisturbed, unpacked
from landwise.outlines import find
from landwise.study.file import study_from

PITCH, OTHER = (worked("pitch", as_given, {"value": drawn(1.27, "SO-14", ("landwise-rule",), "mm")}) for _ in range(2))


def test_steps_stay_told_apart_by_identity():
    pitch = worked("pitch", as_given, {"value": drawn(1.27, "SO-14", ("landwise-rule",), "mm")}, unit="mm")
    one, other = (worked(says, as_given, {"value": earlier(pitch)}) for says in ("one", "other"))
    again = unpacked(packed((one, other)))
    assert again == (one, other)
    (first,), (second,) = (list(behind([step])) for step in again)
    assert first is second
    assert first.by is as_given
    assert first.given["value"].origin is Origin.DRAWING


def of(value, step):
    given = {"value": drawn(value, "SO-14", ("landwise-rule",), "mm"), "more": earlier(step)}
    return worked("", as_given, given, result=value)


def test_inputs_that_say_the_same_are_kept_once():
    steps = of(1.5, PITCH), of(1.5, PITCH), of(1, OTHER), of(1.0, OTHER)
    again = unpacked(packed(steps))
    assert again == steps
    assert steps[0].given["value"] is not steps[1].given["value"]
    first, second, third, fourth = ((step.given["value"], step.given["more"]) for step in again)
    assert (first[0] is second[0], first[1] is second[1], third[1] is fourth[1]) == (True, True, True)
    # 1 and 1.0 are equal and are not written alike; steps that say the same are two steps.
    assert [type(value.value) for value, _ in (third, fourth)] == [int, float]
    assert third[1].step is not first[1].step


def test_what_a_judged_board_is_made_of_comes_back():
    outline, study = find("SO-14"), study_from({"part": [{"refs": ["U1"], "terminals": 14}]}).content
    array = np.array([[0.1, -0.0], [1e-300, np.inf]])
    held = MappingProxyType({"outline": outline, "study": study, "array": array, "set": frozenset({1, "x"})})
    again = unpacked(packed(held))
    assert type(again) is MappingProxyType
    assert (again["outline"], again["study"], again["set"]) == (outline, study, held["set"])
    assert again["study"].model_fields_set == study.model_fields_set
    assert again["array"].tobytes() == array.tobytes()


class Elsewhere:
    """Not a value of landwise."""


@pytest.mark.parametrize(
    "written",
    [
        b"cos\nsystem\n(S'true'\ntR.",
        b"\x80\x04\x8c\x0dlandwise.disk\x8c\x09os.system\x93.",  # through a module of ours
        b"clandwise.disk\nPath\n.",  # only imported there
        b"cbuiltins\neval\n(S'1'\ntR.",
        pickle.dumps(Elsewhere()),
        pickle.dumps(os.getcwd),
    ],
)
def test_bytes_that_name_anything_else_make_nothing(written):
    with pytest.raises(NotOurs):
        unpacked(framed([written]))
    plain = pickle.dumps(()) + pickle.dumps([])
    named = b"clandwise.graphs\n_later\n(I0\ntR."
    later = unpacked(framed([named + pickle.dumps([]), written], [(1, 0)], [Step], b"\x00"))
    with pytest.raises(NotOurs):
        _ = later.says
    assert unpacked(framed([plain])) == ()


def unread(step):
    return UNREAD in object.__getattribute__(step, "__dict__")


def many():
    first = worked("0", as_given, {"value": drawn(0.0, "SO-14", ("landwise-rule",), "mm")})
    steps = [first]
    for number in range(1, 3 * GROUP):
        steps.append(worked(str(number), as_given, {"value": earlier(steps[-1])}, result=(0.0, float(number), 99.0)))
    return steps


def test_a_step_is_read_when_it_is_first_asked_for():
    steps = many()
    again = unpacked(packed(tuple(steps)))
    assert all(unread(one) for one in again)
    assert again[1].says == "1"
    assert type(again[1]) is Step
    assert [unread(one) for one in again] == [False] * GROUP + [True] * (2 * GROUP)
    assert again[GROUP].given["value"].step is again[GROUP - 1]
    assert list(again) == steps


WAYS = {
    "a field": lambda step: step.value == 0.0,
    "its kind": lambda step: step.__class__ is Step,
    "equality": lambda step: step == many()[0],
    "equality from the other side": lambda step: many()[0] == step,
    "its text": lambda step: repr(step) == repr(many()[0]),
    "all fields": lambda step: vars(step) == vars(many()[0]),
    "a changed one": lambda step: replace(step, says="x") == replace(many()[0], says="x"),
    "a copy": lambda step: copy.copy(step) == many()[0],
    "bytes again": lambda step: unpacked(packed([step])) == many()[:1],
    "another kind of bytes": lambda step: pickle.loads(pickle.dumps(replace(step, inputs={}, given={}))).says == "0",
}


@pytest.mark.parametrize("way", WAYS)
def test_whoever_asks_can_t_tell_the_difference(way):
    first, *_ = unpacked(packed(tuple(many())))
    assert isinstance(first, Step)
    assert unread(first)
    assert WAYS[way](first)
    assert type(first) is Step


def test_many_may_ask_at_once():
    steps = unpacked(packed(tuple(many())))
    with ThreadPoolExecutor(8) as pool:
        assert list(pool.map(lambda step: step.says, steps * 8)) == [str(n) for n in range(3 * GROUP)] * 8


def test_what_several_groups_hold_is_one_value():
    held = find("SO-14")
    steps = [worked(str(n), as_given, {"value": drawn(held, "SO-14", ())}, result=held) for n in range(2 * GROUP)]
    again = unpacked(packed((*steps, held)))
    assert again[0].result is again[GROUP].result is again[-1]
    first, *others = unpacked(packed(tuple(steps)))  # held by none but them
    assert all(one.result is first.result for one in others)


@pytest.mark.parametrize("place", [0.0, 0.02, 0.5, 0.999])
def test_a_changed_byte_is_found_before_anything_is_read(place):
    data = bytearray(packed(tuple(many())))
    data[int(place * len(data))] ^= 1
    with pytest.raises(pickle.UnpicklingError, match="not as it was written"):
        unpacked(bytes(data))


def test_plain_values_are_written_without_asking(monkeypatch):
    asked, told = [], _Book.told
    monkeypatch.setattr(_Book, "told", lambda book, value, here: asked.append(value) or told(book, value, here))
    steps = many()
    packed(tuple(steps))
    kinds = {type(one) for one in asked}
    assert Step in kinds
    assert not kinds & {int, float, str, tuple, list, dict}
    # Each group asks for a value once, however often it stands there.
    asked.clear()
    packed((steps[0],) * 1000)
    assert sum(one is steps[0] for one in asked) == 1


def test_names_of_other_groups_make_nothing_without_their_file():
    for name, numbers in ((b"_later", b"I0\n"), (b"_shared", b"I0\nI0\n")):
        with pytest.raises(NotOurs, match="without its file"):
            pickle.loads(b"clandwise.graphs\n" + name + b"\n(" + numbers + b"tR.")


def test_what_has_no_name_can_t_be_written():
    with pytest.raises((AttributeError, pickle.PicklingError)):
        packed(lambda: None)


def test_looking_for_rubbish_goes_on_as_it_was():
    gc.enable()  # a command that ran before in this process may have switched it off
    with undisturbed():
        assert not gc.isenabled()
    assert gc.isenabled()
    gc.disable()
    try:
        with undisturbed():
            pass
        assert not gc.isenabled()
    finally:
        gc.enable()
