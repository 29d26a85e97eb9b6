"""Writing files whole or not at all."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Mapping
from contextlib import suppress
from pathlib import Path

from landwise.errors import FileError


def write_atomic(path: str | os.PathLike[str], content: bytes) -> Path:
    """Write a file under a temporary name in its folder, then move it into place.

    A reader sees the old file or the new one, never half of one; a failed write leaves nothing behind.

    Raises
    ------
    FileError
        If the folder is missing or can't be written to.
    """
    target = Path(path)
    try:
        os.replace(_beside(target, content), target)
    except OSError as error:
        raise FileError("can't write the file", file=str(target), found=error.strerror or str(error)) from None
    return target


def write_together(folder: Path, files: Mapping[str, bytes]) -> None:
    """Write files that belong together: all of them under temporary names first, then each into its place.

    What can fail for want of room fails before the first file changes. Folders that names hold are made.

    Parameters
    ----------
    folder : Path
        It exists.
    files : mapping of str to bytes
        Content by name below the folder.

    Raises
    ------
    FileError
        If something can't be written; nothing of what stood there has changed then.
    """
    waiting: dict[Path, Path] = {}
    made: list[Path] = []
    try:
        for name, content in files.items():
            target = folder / name
            if not target.parent.exists():
                target.parent.mkdir(parents=True, exist_ok=True)
                made.append(target.parent)
            waiting[target] = _beside(target, content)
        for target in list(waiting):
            os.replace(waiting[target], target)
            del waiting[target]
    except OSError as error:
        for left in waiting.values():
            left.unlink(missing_ok=True)
        for empty in made:
            with suppress(OSError):
                empty.rmdir()
        raise FileError("can't write the files", file=str(folder), found=error.strerror or str(error)) from None


def ready_folder(folder: Path) -> None:
    """Make a folder, or say why it can't be."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise FileError(
            "can't make the folder",
            file=str(folder),
            found=error.strerror or str(error),
            expected="a folder that can be written to",
        ) from None


def check_folder(folder: Path) -> None:
    """Say before the work, not after it, that results can't be written to a folder. Nothing is made.

    Parameters
    ----------
    folder : Path
        It may be missing; then the nearest folder above it that exists is looked at.

    Raises
    ------
    FileError
        If a file stands where the folder or one above it should be, or nothing may be written there.

    Examples
    --------
    >>> import tempfile
    >>> inside = Path(tempfile.mkdtemp())
    >>> check_folder(inside / "out" / "demo")
    >>> _ = (inside / "out").write_text("a file")
    >>> check_folder(inside / "out" / "demo")  # doctest: +ELLIPSIS
    Traceback (most recent call last):
        ...
    landwise.errors.FileError: ...out: can't write into it; found a file; expected a folder that can be written to
    """
    standing = next((one for one in (folder, *folder.parents) if os.path.lexists(one)), None)
    if standing is None or (standing.is_dir() and os.access(standing, os.W_OK | os.X_OK)):
        return
    if not standing.exists():
        found = "a link to nothing"
    elif standing.is_dir():
        found = "a folder that may not be written to"
    else:
        found = "a file"
    raise FileError("can't write into it", file=str(standing), found=found, expected="a folder that can be written to")


def _beside(target: Path, content: bytes) -> Path:
    """The content under a temporary name in the target's folder; nothing where it can't be written whole."""
    handle, name = tempfile.mkstemp(prefix=f".{target.name}.", dir=target.parent)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(content)
        os.chmod(name, 0o666 & ~_umask())
    except OSError:
        Path(name).unlink(missing_ok=True)
        raise
    return Path(name)


def _umask() -> int:
    # The only way to read the mask is to set it; put it back at once.
    mask = os.umask(0o077)
    os.umask(mask)
    return mask
