"""Files as they are made: under a hidden name beside their place, flushed, put there by a rename.

The hidden name tells which process makes the file. What a killed one left is taken away by the next
command that writes there; what a running one makes is let alone. `work/files/outputs.py` says what
may be written where.
"""

from __future__ import annotations

import contextlib
import os
import re
import secrets
import shutil
import sys
import time
import zlib
from collections.abc import Iterable
from pathlib import Path

_STEM_BYTES = 40
"""So much of a file's name stands in its hidden one, which then fits wherever the file's does."""

JOURNALS = ("-journal", "-wal", "-shm")
"""Ends of the files that SQLite keeps beside a database, without which it is not whole."""
WRITER_SUFFIX = "-writer"
"""The end of the file beside a registry that says who writes now."""
BESIDE_A_DATABASE = (*JOURNALS, WRITER_SUFFIX)

OWNER_DIGITS = 20
_HIDDEN = re.compile(
    rf"\..*\.(?P<owner>[0-9a-f]{{{OWNER_DIGITS}}})"
    rf"(?:{'|'.join(BESIDE_A_DATABASE)}|(?P<kept>\.[a-z]+))?",
    re.DOTALL,
)
_LONGEST_MAKING_S = 86_400.0
"""What another machine makes, on a shared folder, is left behind after a day: nothing takes one."""


def hidden_name(path: Path) -> Path:
    """A name beside `path` to make it under: `.NAME.` and what tells machine and process."""
    stem = path.name.encode("utf-8", "ignore")[:_STEM_BYTES].decode("utf-8", "ignore")
    return path.with_name(f".{stem}.{_machine()}{os.getpid():08x}{secrets.token_hex(4)}")


def is_hidden_name(name: str) -> bool:
    """Whether a file's name is one that files are made under."""
    return _HIDDEN.fullmatch(name) is not None


def _machine() -> str:
    name = os.environ.get("COMPUTERNAME", "") if sys.platform == "win32" else os.uname().nodename
    return f"{zlib.crc32(name.encode('utf-8', 'replace')) & 0xFFFF:04x}"


def is_left_behind(path: Path, owner: str) -> bool:
    """Whether nobody works any more on a hidden file, by the 20 digits of its owner."""
    try:
        age_s = time.time() - path.lstat().st_mtime
    except OSError:
        return False  # taken away meanwhile
    mine = owner[:4] == _machine()
    return age_s > _LONGEST_MAKING_S or (mine and not is_running(int(owner[4:12], 16)))


def is_running(process: int) -> bool:
    """Whether a process of this machine is there, ours or anybody's."""
    if sys.platform == "win32":  # os.kill would end it
        import ctypes

        query_limited_information, still_active = 0x1000, 259
        handle = ctypes.windll.kernel32.OpenProcess(query_limited_information, False, process)
        if not handle:
            return ctypes.windll.kernel32.GetLastError() == 5  # access denied: it is there
        code = ctypes.c_ulong()
        ctypes.windll.kernel32.GetExitCodeProcess(handle, ctypes.byref(code))
        ctypes.windll.kernel32.CloseHandle(handle)
        return code.value == still_active
    try:
        os.kill(process, 0)
    except (ProcessLookupError, OverflowError):
        return False
    except OSError:
        return True  # somebody else's
    return True


def sweep(folder: Path) -> None:
    """Take away what killed commands left in a folder."""
    with contextlib.suppress(OSError):  # what cannot be listed or removed is in nobody's way
        for path in list(folder.iterdir()):
            found = _HIDDEN.fullmatch(path.name)
            if found and not found["kept"] and is_left_behind(path, found["owner"]):
                path.unlink(missing_ok=True)


def stage(staged: Path, data: Iterable[bytes]) -> None:
    """Write pieces of data to a new file, on the disk when this returns. Raises OSError.

    What making the data raises is passed on, and nothing stays.
    """
    try:
        with staged.open("xb") as file:
            file.writelines(data)
            file.flush()
            os.fsync(file.fileno())
    except BaseException:
        discard(staged)
        raise


def flush(path: Path) -> None:
    """Have a file that something else wrote on the disk. Raises OSError."""
    with path.open("r+b") as file:
        os.fsync(file.fileno())


def put(staged: Path, path: Path, *, replaces: bool) -> None:
    """Rename a staged file, over one that is there only if it `replaces`. Raises OSError."""
    if replaces:
        staged.replace(path)
    elif os.name == "nt":
        staged.rename(path)  # Windows refuses where a file is there
    else:
        _put_if_free(staged, path)


def _put_if_free(staged: Path, path: Path) -> None:
    try:
        path.hardlink_to(staged)  # of two commands that write one file one is told
    except FileExistsError:
        raise
    except OSError:  # a file system without links
        if os.path.lexists(path):
            raise FileExistsError(path) from None
        staged.replace(path)
    else:
        discard(staged)


def flush_folder(folder: Path) -> None:
    """Have a folder's renames on the disk, where the system can."""
    with contextlib.suppress(OSError):  # Windows opens no folders, and journals its renames
        number = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(number)
        finally:
            os.close(number)


def keep(path: Path, aside: Path) -> bool:
    """Keep what a file holds under another name, where it is there; whether it was.

    Raises FileExistsError where something has that name already, which stays, and OSError.
    """
    if not os.path.lexists(path):
        return False
    try:
        os.link(path, aside, follow_symlinks=False)
    except FileExistsError:
        raise
    except (OSError, NotImplementedError, AttributeError):  # no links here, or none of links
        _copy_if_free(path, aside)
    return True


def _copy_if_free(path: Path, aside: Path) -> None:
    if path.is_symlink():
        shutil.copy2(path, aside, follow_symlinks=False)  # a new link, where none is there
        return
    with path.open("rb") as kept, aside.open("xb") as copy:
        try:
            shutil.copyfileobj(kept, copy)
        except BaseException:
            copy.close()  # Windows takes no open file away
            discard(aside)
            raise
    shutil.copystat(path, aside)


def append(path: Path, data: bytes, *, flushed: bool) -> None:
    """Write on in a file of our own, made where it is not there. Raises OSError."""
    with path.open("ab") as file:
        file.write(data)
        if flushed:
            file.flush()
            os.fsync(file.fileno())


def discard(path: Path) -> None:
    """Take a file of ours away, if it is there."""
    with contextlib.suppress(OSError):  # what went wrong before is told, not this
        path.unlink(missing_ok=True)


def make_folder(folder: Path) -> None:
    """A folder with those above it, new or there already. Raises OSError."""
    folder.mkdir(parents=True, exist_ok=True)
