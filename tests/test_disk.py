"""Results on disk: every bit comes back, nothing else is ever made of them, and nothing depends on them."""

from __future__ import annotations

import gzip
import json
import math
import os
import time
import zlib

import numpy as np
import pytest

from landwise import disk as module
from landwise.assembly.partmodel import part_model
from landwise.assembly.partrates import PartRates, part_rates
from landwise.assembly.ratios import rate_ratio
from landwise.assembly.scatter import scatter
from landwise.assembly.yields import board_yield
from landwise.disk import Disk, cache_folder, decoded, encoded, version
from landwise.judging.notes import NoteKey
from landwise.lands import land_pattern
from landwise.memory import forget, keep_in_cache_folder, keep_on_disk, known
from landwise.outlines import find
from landwise.printing import Foil, print_part


@pytest.fixture
def disk(tmp_path):
    made = Disk(tmp_path / "cache")
    keep_on_disk(made)
    yield made
    keep_on_disk(None)
    forget()


def rated(name="TVSOP-14") -> PartRates:
    part = find(name)
    lands = land_pattern(part)
    return part_rates(part_model(part, lands, print_part(lands, Foil(100), outline=part), scatter(0.03, 0.05)))


@pytest.mark.parametrize("name", ["TVSOP-14", "QFN-16-2.5x3.5", "WLP-5-0.5"])
def test_rates_come_back_with_every_bit(name, disk):
    first = rated(name)
    disk.write("it", first)
    again = disk.read("it")
    assert again == first
    assert repr(again) == repr(first)
    assert rate_ratio(again, first) == rate_ratio(first, first)
    assert board_yield([(again, 3)]) == board_yield([(first, 3)])


def test_arrays_and_odd_numbers_come_back():
    array = np.array([[0.1, math.inf], [1e-300, -0.0]])
    again = decoded(json.loads(json.dumps(encoded((array, math.inf, None, True, "x")))))
    assert again[0].tobytes() == array.tobytes()
    assert again[1:] == (math.inf, None, True, "x")


def test_words_come_back_as_themselves():
    again = decoded(json.loads(json.dumps(encoded((NoteKey.STOPPED_EARLY, "stopped")))))
    assert again[0] is NoteKey.STOPPED_EARLY
    for named in ("enum:Enum", "landwise.disk:Disk", "landwise.memory:Memory"):
        with pytest.raises(ValueError, match="no words of landwise"):
            decoded({"word": named, "is": "stopped"})


@pytest.mark.usefixtures("disk")
def test_a_second_process_reads_what_the_first_one_worked():
    calls = []

    def work():
        calls.append(1)
        return (1.0, "worked")

    assert known(work, "part", 1) == known(work, "part", 1)
    forget()  # as a new process
    assert known(work, "part", 1) == (1.0, "worked")
    assert len(calls) == 1
    assert known(work, "part", 2) == (1.0, "worked")
    assert len(calls) == 2


def test_another_version_reads_nothing(disk, monkeypatch):
    disk.write("it", 1.0)
    assert disk.read("it") == 1.0
    monkeypatch.setattr(module, "seen", lambda: "other")
    monkeypatch.setattr(module, "version", lambda: "0" * 20)
    assert Disk(disk.root).read("it") is None


def test_the_version_is_read_back_while_no_file_changed(disk, monkeypatch):
    disk.write("it", 1.0)
    (kept,) = disk.root.glob("*.version")
    with monkeypatch.context() as patched:
        patched.setattr(module, "version", lambda: pytest.fail("hashed again"))
        assert Disk(disk.root).read("it") == 1.0
    for damage in ("", "../elsewhere", "x" * 20):
        kept.write_text(damage)
        assert Disk(disk.root).read("it") == 1.0
    assert kept.read_text() == version()


def test_a_changed_file_is_seen(tmp_path, monkeypatch):
    (tmp_path / "disk.py").write_text("x = 1")
    monkeypatch.setattr(module, "__file__", str(tmp_path / "disk.py"))
    told = [module.seen.__wrapped__()]
    (tmp_path / "room").mkdir()
    (tmp_path / "room" / "table.toml").write_text("x = 1")
    told.append(module.seen.__wrapped__())
    (tmp_path / "room" / "table.toml").write_text("x = 12")
    told.append(module.seen.__wrapped__())
    os.utime(tmp_path / "disk.py", ns=(1, 1))
    told.append(module.seen.__wrapped__())
    (tmp_path / "notes.txt").write_text("nothing follows from it")
    assert len(set(told)) == 4
    assert module.seen.__wrapped__() == told[-1]


def test_the_version_follows_from_source_and_data(tmp_path, monkeypatch):
    assert version() == version.__wrapped__()
    (tmp_path / "disk.py").write_text("x = 1")
    monkeypatch.setattr(module, "__file__", str(tmp_path / "disk.py"))
    one = version.__wrapped__()
    (tmp_path / "table.toml").write_text("x = 1")
    assert version.__wrapped__() != one


def test_what_is_damaged_is_worked_again(disk):
    disk.write("it", 1.0)
    (path,) = disk.root.rglob("*.json.gz")
    for damage in (b"", b"no gzip", gzip.compress(b"{"), gzip.compress(b'{"key": "other", "value": 2.0}')):
        path.write_bytes(damage)
        assert disk.read("it") is None
        assert not path.exists()
    assert known(lambda: 3.0, "it") == 3.0


def test_a_damaged_graph_is_worked_again(disk):
    shared = (0.1, "x")
    disk.write_graph("it", [shared, shared])
    one, other = disk.read_graph("it")
    assert one == shared
    assert one is other
    assert disk.read_graph("another") is None
    (path,) = disk.root.rglob("*.graph")
    whole = path.read_bytes()
    mark = whole[:32]
    for damage in (b"", b"no graph", whole[:-9], bytes(32) + whole[32:], mark + zlib.compress(b"cos\nsystem\n."), mark):
        path.write_bytes(damage)
        assert disk.read_graph("it") is None
        assert not path.exists()


def test_a_graph_that_is_too_large_is_not_kept(tmp_path):
    small = Disk(tmp_path, most_bytes=1000)
    small.write_graph("it", [os.urandom(2000)])
    assert small.read_graph("it") is None
    small.write_graph("it", [b"few"])
    assert small.read_graph("it") == [b"few"]
    small.write_graph("function", [lambda: None])
    assert small.read_graph("function") is None


@pytest.mark.parametrize(
    "told",
    [
        {"class": "os:stat_result", "fields": {}},
        {"class": "landwise.disk:Disk", "fields": {}},
        {"class": "landwise.disk:os.system", "fields": {}},
        {"what": 1},
    ],
)
def test_nothing_but_our_own_dataclasses_is_made(told):
    with pytest.raises((ValueError, KeyError, AttributeError)):
        decoded(told)


def test_what_is_no_plain_data_is_refused():
    with pytest.raises(TypeError):
        encoded({1, 2})


def test_the_longest_unused_go_first_and_nothing_half_written_stays(tmp_path):
    small = Disk(tmp_path, most_bytes=700)
    for number in range(8):
        small.write(f"entry {number}", float(number))
        for path in tmp_path.rglob("*.json.gz"):
            os.utime(path, (time.time() - 100, path.stat().st_mtime - 1))
    small.prune()
    left = [number for number in range(8) if small.read(f"entry {number}") is not None]
    assert left == list(range(8 - len(left), 8))
    assert 0 < len(left) < 8
    small.write_graph("graph", [1.0])
    small.most_bytes = 0
    small.prune()
    assert small.read_graph("graph") is None
    assert not list(tmp_path.rglob(".new-*"))


def test_a_folder_that_can_t_be_written_keeps_nothing(tmp_path):
    (tmp_path / "file").write_text("")
    blocked = Disk(tmp_path / "file" / "below")
    blocked.write("it", 1.0)
    assert blocked.read("it") is None


def test_the_folder_is_the_user_s_own_choice(monkeypatch, tmp_path):
    monkeypatch.delenv("LANDWISE_CACHE")
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    assert cache_folder() == tmp_path / "landwise"
    monkeypatch.setenv("LANDWISE_CACHE", str(tmp_path / "own"))
    assert cache_folder() == tmp_path / "own"
    keep_in_cache_folder()
    assert known(lambda: 1.0, "kept here") == 1.0
    assert list((tmp_path / "own").rglob("*.json.gz"))
    monkeypatch.setenv("LANDWISE_CACHE", "off")
    keep_in_cache_folder()
    assert cache_folder() is None
    forget()
