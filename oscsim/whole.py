"""Files read whole if they are small, and written whole or not at all, whatever breaks the writing off: a full disk, a
missing right, Ctrl-C."""

from __future__ import annotations

import contextlib
import os
import secrets
import stat
from pathlib import Path

from oscsim.errors import InputError

#: A file that is read is a page of text, a list or a record of hours, bytes; anything larger is something else.
LARGEST = 200_000


def read_text(
    path: Path, kind: str, *, absent: str = "no such file", largest: int = LARGEST, spreadsheet: bool = False
) -> str:
    """The text of a small regular file, its lines ended by newlines.

    ``kind`` says in messages what it should be, ``absent`` what is said where there is none. spreadsheet: what is no
    UTF-8 is read as UTF-16 if it says so and else as Latin-1, as older spreadsheets write it. Raises InputError in one
    line for anything else.
    """
    try:
        info = path.stat()
        if stat.S_ISDIR(info.st_mode):
            raise InputError(f"{path}: a directory, not {kind}")
        if not stat.S_ISREG(info.st_mode):
            raise InputError(f"{path}: not a regular file")
        check_size(path, info.st_size, kind, largest)
        with path.open("rb") as file:
            content = file.read(largest + 1)  # some files are larger than their stated size
        check_size(path, len(content), kind, largest)
        return _decoded(content, spreadsheet).replace("\r\n", "\n")
    except InputError:
        raise
    except UnicodeDecodeError as error:
        raise InputError(f"{path}: not UTF-8 text (byte {error.start})") from None
    except FileNotFoundError:
        raise InputError(f"{path}: {absent}") from None
    except (OSError, ValueError) as error:
        raise InputError(f"{path}: cannot be read: {getattr(error, 'strerror', None) or error}") from None


def _decoded(content: bytes, spreadsheet: bool) -> str:
    if spreadsheet and content[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return content.decode("utf-16")
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError:
        if not spreadsheet:
            raise
        return content.decode("latin-1")


def check_size(path: Path, size: int, kind: str, largest: int = LARGEST) -> None:
    """Raise InputError for more bytes than such a file has."""
    if size > largest:
        raise InputError(f"{path}: {size / 1e6:.1f} MB: too large, {kind} has at most {largest / 1e6:g} MB")


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
