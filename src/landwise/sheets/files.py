"""Writing files whole or not at all."""

from __future__ import annotations

import os
import tempfile
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
    temporary: str | None = None
    try:
        handle, temporary = tempfile.mkstemp(prefix=f".{target.name}.", dir=target.parent)
        with os.fdopen(handle, "wb") as file:
            file.write(content)
        os.chmod(temporary, 0o666 & ~_umask())
        os.replace(temporary, target)
    except OSError as error:
        if temporary is not None:
            Path(temporary).unlink(missing_ok=True)
        raise FileError("can't write the file", file=str(target), found=error.strerror or str(error)) from None
    return target


def _umask() -> int:
    # The only way to read the mask is to set it; put it back at once.
    mask = os.umask(0o077)
    os.umask(mask)
    return mask
