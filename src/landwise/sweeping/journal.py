"""What is finished, kept line by line as it comes, so that nothing is lost and nothing is worked twice.

A line is written whole by one call; a line that a crash cut off is dropped when the journal is opened again. Only one
process writes in a folder at a time.
"""

from __future__ import annotations

import json
import os
import time
from array import array
from pathlib import Path
from types import TracebackType

import numpy as np
from filelock import FileLock, Timeout
from numpy.typing import NDArray

from landwise.errors import FileError
from landwise.untyped import Fields

NAME = "cases.jsonl"
LOCK = ".sweep.lock"
FOLDED_AT = 200_000  # finished cases
SYNC_SECONDS = 2.0  # what a power cut may lose


class Journal:
    """The finished cases of a folder.

    Raises
    ------
    FileError
        If the folder can't be written to, or another run writes in it.

    Examples
    --------
    >>> import tempfile
    >>> folder = Path(tempfile.mkdtemp())
    >>> with Journal(folder) as journal:
    ...     journal.add(b"sixteen bytes ok", {"cost": 1.5})
    >>> with Journal(folder) as journal:
    ...     b"sixteen bytes ok" in journal, journal.row(b"sixteen bytes ok"), b"another sixteen." in journal
    (True, {'cost': 1.5}, False)
    """

    def __init__(self, folder: Path) -> None:
        self.path = folder / NAME
        self._heads: NDArray[np.uint64] = np.zeros(0, np.uint64)  # sorted; with _ends some 16 bytes a case
        self._places: NDArray[np.int64] = np.zeros(0, np.int64)
        self._fresh: dict[bytes, int] = {}
        self._lock = FileLock(folder / LOCK)
        self._file = -1
        self._synced = 0.0
        try:
            folder.mkdir(parents=True, exist_ok=True)
            self._lock.acquire(timeout=0)
        except Timeout:
            raise FileError(
                "another run writes in this folder", file=str(folder), expected="wait for it, or another -o"
            ) from None
        except OSError as error:
            raise FileError("can't write in the folder", file=str(folder), found=error.strerror or str(error)) from None
        try:
            self._file = os.open(self.path, os.O_RDWR | os.O_CREAT | os.O_APPEND, 0o666)
            self._read()
        except OSError as error:
            self.close()
            raise FileError("can't be read", file=str(self.path), found=error.strerror or str(error)) from None

    def __enter__(self) -> Journal:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Write what is left and let the folder go."""
        if self._file >= 0:
            os.close(self._file)
            self._file = -1
        self._lock.release()

    def _read(self) -> None:
        """Index the lines; drop what was cut off."""
        heads, places, at = array("Q"), array("q"), 0
        with self.path.open("rb") as file:
            for line in file:
                if not line.endswith(b"\n"):
                    os.ftruncate(self._file, at)
                    break
                head = _key_of(line)
                if head is not None:
                    heads.append(int.from_bytes(head[:8], "little"))
                    places.append(at)
                at += len(line)
        self._end = at
        self._index(np.frombuffer(heads, np.uint64), np.frombuffer(places, np.int64))

    def _index(self, heads: NDArray[np.uint64], places: NDArray[np.int64]) -> None:
        order = np.argsort(heads, kind="stable")
        self._heads, self._places = heads[order], places[order]

    def _fold(self) -> None:
        """Move what came in this run into the index: a dictionary takes ten times its room."""
        heads = np.array([int.from_bytes(key[:8], "little") for key in self._fresh], np.uint64)
        places = np.array(list(self._fresh.values()), np.int64)
        self._index(np.concatenate([self._heads, heads]), np.concatenate([self._places, places]))
        self._fresh.clear()

    def add(self, key: bytes, row: Fields) -> None:
        """Keep a finished case.

        Raises
        ------
        FileError
            If the disk is full or gone; what was kept before stays.
        """
        told = json.dumps(row, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
        line = f'{{"k":"{key.hex()}","r":{told}}}\n'.encode()
        try:
            written = os.write(self._file, line)
            if written < len(line):
                os.ftruncate(self._file, self._end)
                raise OSError(28, "no space left on the disk")
            if time.monotonic() - self._synced > SYNC_SECONDS:
                os.fsync(self._file)
                self._synced = time.monotonic()
        except OSError as error:
            raise FileError(
                "can't keep a finished case; those before are kept, run it again to go on",
                file=str(self.path),
                found=error.strerror or str(error),
            ) from None
        self._fresh[key] = self._end
        self._end += len(line)
        if len(self._fresh) >= FOLDED_AT:
            self._fold()

    def _place(self, key: bytes) -> int | None:
        if key in self._fresh:
            return self._fresh[key]
        head = np.uint64(int.from_bytes(key[:8], "little"))
        at = int(np.searchsorted(self._heads, head, side="right")) - 1
        while at >= 0 and self._heads[at] == head:  # the last of equals is the newest
            place = int(self._places[at])
            if _key_of(self._line(place)) == key:
                return place
            at -= 1
        return None

    def _line(self, place: int) -> bytes:
        size = 4096
        while True:
            found = os.pread(self._file, size, place)
            end = found.find(b"\n")
            if end >= 0 or len(found) < size:
                return found[: end + 1] if end >= 0 else found
            size *= 4

    def __contains__(self, key: bytes) -> bool:
        return self._place(key) is not None

    def row(self, key: bytes) -> Fields | None:
        """The row of a case; None where it is not finished."""
        place = self._place(key)
        if place is None:
            return None
        try:
            row: dict[str, object] = json.loads(self._line(place))["r"]
        except (ValueError, KeyError):
            return None
        return row


def _key_of(line: bytes) -> bytes | None:
    """The key at a line's beginning; None for a line that is none of ours."""
    if line[:6] != b'{"k":"' or line[38:40] != b'",' or line[-2:] != b"}\n":
        return None
    try:
        return bytes.fromhex(line[6:38].decode())
    except ValueError:
        return None
