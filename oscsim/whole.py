"""Files written whole or not at all, whatever breaks the writing off: a full disk, a missing right, Ctrl-C."""

from __future__ import annotations

import contextlib
import os
import secrets
import stat
from pathlib import Path

from oscsim.errors import InputError


def write_whole(path: Path, content: bytes) -> None:
    """Write to a temporary name beside ``path``, then rename; raises InputError when that fails.

    A link is followed; a device or the like is refused, since renaming would replace it. A file that is there keeps
    its rights.
    """
    temporary: Path | None = None
    try:
        target = Path(os.path.realpath(path))
        if target.is_dir():
            raise InputError(f"{path}: a directory, give a file name")
        there = target.exists()
        if there and not target.is_file():
            raise InputError(f"{path}: not a regular file, give another file name")
        # named before it is made, so that a break at any moment finds something to clean up
        temporary = target.parent / f".oscsim-{secrets.token_hex(8)}"
        with open(temporary, "xb") as out:
            out.write(content)
            out.flush()
            os.fsync(out.fileno())
        if there:
            os.chmod(temporary, stat.S_IMODE(target.stat().st_mode))
        os.replace(temporary, target)
        temporary = None
    except InputError:
        raise
    except (OSError, ValueError) as error:
        raise InputError(f"{path}: cannot be written: {getattr(error, 'strerror', None) or error}") from None
    finally:
        if temporary is not None:
            with contextlib.suppress(OSError):
                temporary.unlink(missing_ok=True)
