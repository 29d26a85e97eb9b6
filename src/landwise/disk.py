"""Results on disk, by their content: a second run of a command does not work again what the first one worked.

A cache and nothing else: it lies in the user's cache folder, may be deleted at any time, and never changes a result.
Every entry is kept under a hash of all that it follows from, in a folder named after the version: the package's own
source and data files, and those of the numeric libraries. A change to any of them begins a new folder. Entries
are plain JSON of landwise's own frozen dataclasses (floats keep every bit); a judged board, whose steps are told apart
by identity, is a graph (`landwise.graphs`). Both are written to a temporary name and moved. What can't be read is
deleted and worked again; where nothing can be written, nothing is kept.
"""

from __future__ import annotations

import contextlib
import gzip
import hashlib
import importlib
import json
import os
import pickle
import re
import tempfile
import zlib
from collections.abc import Callable, Iterator
from dataclasses import fields, is_dataclass
from enum import Enum
from functools import cache, cached_property
from importlib import metadata
from importlib.util import find_spec
from pathlib import Path
from typing import Any

import numpy as np

from landwise.graphs import packed, unpacked

MOST_BYTES = 200_000_000  # of all versions together; the longest unused goes first
PRUNED_EVERY = 50  # writes
VERSION = re.compile("[0-9a-f]{20}")
SWITCH = "LANDWISE_CACHE"  # environment: another folder, or `off`
READ_ERRORS = (OSError, EOFError, ValueError, LookupError, TypeError, AttributeError, ImportError)
GRAPH_ERRORS = (*READ_ERRORS, pickle.UnpicklingError, zlib.error, MemoryError)
MOST_GRAPH = 4  # a graph of more than this part of all that may be kept is not kept
OURS = (".py", ".toml", ".csv", ".json")  # files that a result can follow from
LIBRARIES = ("numpy", "scipy", "shapely", "skfem")  # as they are imported
NUMERIC = ("numpy", "scipy", "shapely", "scikit-fem")  # libraries whose digits are ours
SUFFIXES = (".json.gz", ".graph", ".version")


def cache_folder() -> Path | None:
    """Where results are kept; None where the environment says `off`."""
    told = os.environ.get(SWITCH, "")
    if told == "off":
        return None
    if told:
        return Path(told)
    return Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache") / "landwise"


@cache
def version() -> str:
    """A hash of everything that a result follows from beside its inputs: our files, and the numeric libraries."""
    libraries = " ".join(f"{name} {metadata.version(name)}" for name in NUMERIC)
    digest = hashlib.blake2b(libraries.encode(), digest_size=10)
    home = Path(__file__).parent
    for path in sorted(Path(entry) for entry in _our_files(home)):
        digest.update(str(path.relative_to(home)).encode())
        digest.update(path.read_bytes())
    return digest.hexdigest()


@cache
def seen() -> str:
    """A hash of the names, sizes and times of the same files: as Python itself tells that a module has changed."""
    home = Path(__file__).parent
    libraries = [Path(found.origin) for name in LIBRARIES if (found := find_spec(name)) and found.origin]
    rows = [str(home), *(f"{path} {told.st_size} {told.st_mtime_ns}" for path in libraries if (told := path.stat()))]
    rows += [f"{entry.path} {told.st_size} {told.st_mtime_ns}" for entry in _our_files(home) if (told := entry.stat())]
    return hashlib.blake2b("\n".join(sorted(rows)).encode(), digest_size=20).hexdigest()


def _our_files(home: Path) -> Iterator[os.DirEntry[str]]:
    """Every file in our folder that a result can follow from, in no order."""
    folders = [str(home)]
    while folders:
        with os.scandir(folders.pop()) as entries:
            for entry in entries:
                if entry.is_dir():
                    folders.append(entry.path)
                elif entry.name.endswith(OURS):
                    yield entry


class Disk:
    """A folder of results.

    Parameters
    ----------
    root : Path
        Made when first written to.
    most_bytes : int
        Of all that is kept.

    Examples
    --------
    >>> import tempfile
    >>> disk = Disk(Path(tempfile.mkdtemp()))
    >>> disk.write("an example", (1.5, "two"))
    >>> disk.read("an example"), disk.read("another")
    ((1.5, 'two'), None)
    """

    def __init__(self, root: Path, most_bytes: int = MOST_BYTES) -> None:
        self.root, self.most_bytes = root, most_bytes
        self._written = 0

    def _path(self, key: str, suffix: str = ".json.gz") -> Path:
        name = hashlib.blake2b(key.encode(), digest_size=20).hexdigest()
        return self.root / self._version / name[:2] / f"{name}{suffix}"

    @cached_property
    def _version(self) -> str:
        """`version`, read back where the same files were hashed before: they need not be read again for it."""
        path = self.root / f"{seen()}.version"
        try:
            told = path.read_text(encoding="ascii")
        except (OSError, ValueError):
            told = ""
        if not VERSION.fullmatch(told):
            told = version()
            self._write(path, told.encode())
        return told

    # whatever was kept; who reads it knows what it wrote
    def read(self, key: str) -> Any:
        """What is kept under a key; None for nothing, or for what can't be read any more."""

        def value(data: bytes) -> object:
            told = json.loads(gzip.decompress(data))
            if told["key"] != hashlib.sha256(key.encode()).hexdigest():
                raise ValueError("another key's result")
            return decoded(told["value"])

        return self._read(self._path(key), value)

    def holds(self, key: str) -> bool:
        """Whether a result is kept under a key."""
        return self._path(key).is_file()

    # whatever was kept; who reads it knows what it wrote
    def read_graph(self, key: str) -> Any:
        """The same of what `write_graph` kept."""

        def value(data: bytes) -> object:
            mark = hashlib.sha256(key.encode()).digest()
            if not data.startswith(mark):
                raise ValueError("another key's result")
            return unpacked(memoryview(data)[len(mark) :])

        return self._read(self._path(key, ".graph"), value)

    def _read(self, path: Path, value: Callable[[bytes], object]) -> object:
        try:
            found = value(path.read_bytes())
        except FileNotFoundError:
            return None
        except GRAPH_ERRORS:
            with contextlib.suppress(OSError):
                path.unlink()
            return None
        with contextlib.suppress(OSError):
            os.utime(path)  # used just now
        return found

    def write(self, key: str, value: object) -> None:
        """Keep a result; nothing happens where the folder can't be written, or for what is no plain data."""
        try:
            told = {"key": hashlib.sha256(key.encode()).hexdigest(), "value": encoded(value)}
        except TypeError:
            return
        self._write(self._path(key), gzip.compress(json.dumps(told).encode(), 1))

    def write_graph(self, key: str, value: object) -> None:
        """Keep values that share parts; nothing happens where that can't be, or where they are too many."""
        try:
            data = hashlib.sha256(key.encode()).digest() + packed(value)
        except (TypeError, AttributeError, RecursionError, pickle.PicklingError):
            return
        if len(data) * MOST_GRAPH <= self.most_bytes:
            self._write(self._path(key, ".graph"), data)

    def _write(self, path: Path, data: bytes) -> None:
        with contextlib.suppress(OSError):
            path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
            handle, name = tempfile.mkstemp(dir=path.parent, prefix=".new-")
            try:
                with os.fdopen(handle, "wb") as file:
                    file.write(data)
                os.replace(name, path)
            except BaseException:
                with contextlib.suppress(OSError):
                    os.unlink(name)
                raise
            self._written += 1
            if self._written % PRUNED_EVERY == 1:
                self.prune()

    def prune(self) -> None:
        """Delete what was longest unused until the rest fits."""
        kept = []
        for path in self.root.rglob("*"):
            if not path.name.endswith(SUFFIXES):
                continue
            with contextlib.suppress(OSError):
                stat = path.stat()
                kept.append((stat.st_mtime, stat.st_size, path))
        total = sum(size for _, size, _ in kept)
        for _, size, path in sorted(kept, key=lambda row: row[0]):
            if total <= self.most_bytes:
                return
            with contextlib.suppress(OSError):
                path.unlink()
                total -= size


# whatever was kept; who reads it knows what it wrote
def encoded(value: object) -> Any:
    """A value as plain data.

    Raises
    ------
    TypeError
        For what is neither plain, an array, a tuple nor a dataclass of landwise.
    """
    if isinstance(value, Enum) and type(value).__module__.startswith("landwise."):
        return {"word": f"{type(value).__module__}:{type(value).__qualname__}", "is": value.value}
    if value is None or isinstance(value, (bool, str)):
        return value
    if isinstance(value, (int, float)) and not isinstance(value, np.generic):
        return value
    if isinstance(value, np.generic):
        return value.item()
    if isinstance(value, tuple):
        return {"tuple": [encoded(one) for one in value]}
    if isinstance(value, np.ndarray):
        return {"array": value.ravel().tolist(), "shape": list(value.shape), "type": str(value.dtype)}
    if is_dataclass(value) and type(value).__module__.startswith("landwise."):
        made = {one.name: encoded(getattr(value, one.name)) for one in fields(value)}
        return {"class": f"{type(value).__module__}:{type(value).__qualname__}", "fields": made}
    raise TypeError(f"not kept on disk: {type(value).__name__}")


# whatever was kept; who reads it knows what it wrote
def decoded(told: object) -> Any:
    """The value again. Only dataclasses of landwise are made.

    Raises
    ------
    ValueError, KeyError, TypeError, AttributeError, ImportError
        For anything else.
    """
    if not isinstance(told, dict):
        return told
    if "tuple" in told:
        return tuple(decoded(one) for one in told["tuple"])
    if "array" in told:
        return np.array(told["array"], dtype=told["type"]).reshape(told["shape"])
    if "word" in told:
        return _word(told["word"])(told["is"])
    kind = _class(told["class"])
    return kind(**{name: decoded(one) for name, one in told["fields"].items()})


@cache
# whatever was kept; who reads it knows what it wrote
def _class(named: str) -> Any:
    found = _ours(named)
    if not (isinstance(found, type) and is_dataclass(found)):
        raise ValueError(f"no dataclass of landwise: {named}")
    return found


@cache
def _word(named: str) -> type[Enum]:
    found = _ours(named)
    if not (isinstance(found, type) and issubclass(found, Enum)):
        raise ValueError(f"no words of landwise: {named}")
    return found


def _ours(named: str) -> object:
    module, _, name = named.partition(":")
    return getattr(importlib.import_module(module), name) if module.startswith("landwise.") else None
