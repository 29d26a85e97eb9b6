"""Values that share parts come back sharing them, and bytes that name anything else make nothing."""

from __future__ import annotations

import gc
import os
import pickle
from types import MappingProxyType

import numpy as np
import pytest

from landwise.evidence.trails import Origin, as_given, behind, drawn, earlier, worked
from landwise.graphs import NotOurs, packed, undisturbed, unpacked
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
        unpacked(written)


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
