"""The one folder in which the workbench keeps things: documents under generated ids, every version kept.

A document lies in `KIND/ID/` as `000001.EXT`, `000002.EXT`, … with one `head.json` that says which version
stands. A save names the version it started from and is refused if another one stands by then, so two
browsers can't overwrite each other. Undo moves the head back to the version before; nothing is deleted.
Ids are made here; a name from a client is only ever compared with what an id can look like.
"""

from __future__ import annotations

import json
import os
import re
import secrets
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from filelock import FileLock, Timeout

from landwise.errors import FileError, LandwiseError, UnknownNameError
from landwise.sheets.files import write_atomic
from landwise.untyped import Fields

KINDS = {"studies": ".toml", "reviews": ".zip"}
ID = re.compile(r"[a-z2-7]{16}")
LETTERS = "abcdefghijklmnopqrstuvwxyz234567"
MOST_DOCUMENTS = 1000  # of a kind; a full folder says so instead of filling the disk
MOST_VERSIONS = 10_000
LARGEST_BYTES = 64_000_000


class ConflictError(LandwiseError):
    """A save that started from a version which no longer stands."""


@dataclass(frozen=True)
class Saved:
    """One document as it stands: its version, its content, and what was done last.

    `back` is the version that undo goes to, None for the first.
    """

    kind: str
    id: str
    version: int
    title: str
    did: str
    content: bytes
    back: int | None

    @property
    def tag(self) -> str:
        """The version as an entity tag."""
        return f'"{self.id}-{self.version}"'

    @property
    def text(self) -> str:
        """The content as text."""
        return self.content.decode()


@dataclass(frozen=True)
class Entry:
    """One line of the list of documents."""

    kind: str
    id: str
    title: str
    version: int
    changed: float


@dataclass(frozen=True)
class Version:
    """One line of the list of versions."""

    number: int
    title: str
    did: str
    made: float


class Workspace:
    """Documents of one folder.

    Parameters
    ----------
    root : Path
        Made if it is missing.

    Raises
    ------
    FileError
        If the folder can't be made or written to, or another workbench holds it.
    """

    def __init__(self, root: Path) -> None:
        self.root = root
        self._turn = threading.Lock()
        try:
            for kind in KINDS:
                (root / kind).mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise FileError("can't make the workspace", file=str(root), found=error.strerror or str(error)) from None

    @contextmanager
    def held(self) -> Iterator[None]:
        """Hold the folder, so that a second workbench on it is refused."""
        lock = FileLock(self.root / ".lock", timeout=0)
        try:
            lock.acquire()
        except Timeout:
            raise FileError(
                "another workbench works in this folder",
                file=str(self.root),
                expected="another --workspace, or stop it",
            ) from None
        except OSError as error:
            raise FileError("can't hold the workspace", file=str(self.root), found=str(error.strerror)) from None
        try:
            yield
        finally:
            lock.release()

    def create(self, kind: str, content: bytes, title: str, did: str = "begun", aside: bytes | None = None) -> Saved:
        """Keep a new document, and what came with it, which no version changes."""
        with self._turn:
            if sum(1 for _ in (self.root / kind).iterdir()) >= MOST_DOCUMENTS:
                raise FileError("the workspace is full", found=f"{MOST_DOCUMENTS} {kind}", expected="another folder")
            name = "".join(secrets.choice(LETTERS) for _ in range(16))
            (self.root / kind / name).mkdir()
            if aside is not None:
                write_atomic(self.root / kind / name / "aside.json", aside)
            return self._put(kind, name, 1, None, content, title, did)

    def read(self, kind: str, name: str, version: int | None = None) -> Saved:
        """A document as it stands, or one of its versions.

        Raises
        ------
        UnknownNameError
            If there is no such document or version.
        """
        head = self._head(kind, name)
        at = head["version"] if version is None else version
        row = head["versions"].get(str(at))
        if row is None:
            raise UnknownNameError("no such version", found=str(at), expected=f"1 to {len(head['versions'])}")
        content = self._file(kind, name, at).read_bytes()
        return Saved(kind, name, at, row["title"], row["did"], content, row["back"])

    def save(
        self, kind: str, name: str, content: bytes, *, tag: str, title: str | None = None, did: str = "changed"
    ) -> Saved:
        """Keep a new version, if the version named by `tag` still stands.

        Raises
        ------
        ConflictError
            If another version stands.
        """
        with self._turn:
            now = self._standing(kind, name, tag)
            head = self._head(kind, name)
            number = len(head["versions"]) + 1
            if number > MOST_VERSIONS:
                raise FileError("too many versions", found=str(number), expected="keep it as a new document")
            return self._put(kind, name, number, now.version, content, title or now.title, did)

    def undo(self, kind: str, name: str, *, tag: str) -> Saved:
        """Go back to the version before; the later one stays on the shelf.

        Raises
        ------
        ConflictError
            If another version stands, or there is none before.
        """
        with self._turn:
            now = self._standing(kind, name, tag)
            if now.back is None:
                raise ConflictError("there is nothing to undo", found="the first version")
            head = self._head(kind, name)
            self._write_head(kind, name, {**head, "version": now.back})
        return self.read(kind, name)

    def versions(self, kind: str, name: str) -> list[Version]:
        """All versions of a document, the newest first."""
        head = self._head(kind, name)
        return [
            Version(int(at), row["title"], row["did"], self._file(kind, name, int(at)).stat().st_mtime)
            for at, row in sorted(head["versions"].items(), key=lambda item: -int(item[0]))
        ]

    def restore(self, kind: str, name: str, version: int, *, tag: str) -> Saved:
        """An earlier version once more, as a new one; undo leads back.

        Raises
        ------
        ConflictError
            If another version stands than the one named by `tag`.
        UnknownNameError
            If there is no such version.
        """
        there = self.read(kind, name, version)
        return self.save(kind, name, there.content, tag=tag, title=there.title, did=f"version {version} again")

    def set_gone(self, kind: str, name: str, *, gone: bool) -> None:
        """Take a document off the list, or put it back; nothing is deleted."""
        with self._turn:
            self._write_head(kind, name, {**self._head(kind, name), "gone": gone})

    def aside(self, kind: str, name: str) -> bytes | None:
        """What came with a document; None where nothing did."""
        self._head(kind, name)
        path = self.root / kind / name / "aside.json"
        return path.read_bytes() if path.is_file() else None

    def listed(self, kind: str) -> list[Entry]:
        """All documents of a kind, the last changed first."""
        found = []
        for folder in (self.root / kind).iterdir():
            if ID.fullmatch(folder.name) and (folder / "head.json").is_file():
                head = self._head(kind, folder.name)
                if head.get("gone"):
                    continue
                title = head["versions"][str(head["version"])]["title"]
                changed = (folder / "head.json").stat().st_mtime
                found.append(Entry(kind, folder.name, title, head["version"], changed))
        return sorted(found, key=lambda entry: (-entry.changed, entry.id))

    def _standing(self, kind: str, name: str, tag: str) -> Saved:
        now = self.read(kind, name)
        if tag.strip() != now.tag:
            raise ConflictError(
                "it was changed elsewhere since",
                found=f"version {now.version}",
                expected="load it again, then change it",
            )
        return now

    def _put(self, kind: str, name: str, number: int, back: int | None, content: bytes, title: str, did: str) -> Saved:
        if len(content) > LARGEST_BYTES:
            raise FileError("too large to keep", found=f"{len(content) / 1e6:.0f} MB")
        write_atomic(self._file(kind, name, number), content)
        head: Fields = self._head(kind, name) if number > 1 else {"version": 0, "versions": {}}
        row = {"title": title, "did": did, "back": back}
        self._write_head(kind, name, {**head, "version": number, "versions": {**head["versions"], str(number): row}})
        return Saved(kind, name, number, title, did, content, back)

    def _write_head(self, kind: str, name: str, head: Fields) -> None:
        write_atomic(self.root / kind / name / "head.json", json.dumps(head, ensure_ascii=False, indent=1).encode())

    def _head(self, kind: str, name: str) -> Fields:
        if kind not in KINDS or not ID.fullmatch(name):
            raise UnknownNameError("no such document", found=name[:40], expected="the id of a kept document")
        try:
            head: dict[str, object] = json.loads((self.root / kind / name / "head.json").read_text(encoding="utf-8"))
        except (OSError, ValueError):
            raise UnknownNameError("no such document", found=name, expected="the id of a kept document") from None
        return head

    def _file(self, kind: str, name: str, number: int) -> Path:
        return self.root / kind / name / f"{number:06d}{KINDS[kind]}"


def default_folder() -> Path:
    """Where the workbench keeps things unless told: the user's data folder, by XDG or as Windows has it."""
    base = os.environ.get("XDG_DATA_HOME") or os.environ.get("LOCALAPPDATA") or Path.home() / ".local" / "share"
    return Path(base) / "landwise" / "workbench"
