"""Every byte that comes in or goes out: the only module, with shared.py, that opens files.

A file is written whole or not at all, and standard output gets its bytes at the very end.
"""

from __future__ import annotations

import contextlib
import os
import stat
import sys
import time
from codecs import BOM_UTF8, BOM_UTF16_BE, BOM_UTF16_LE
from collections.abc import Callable, Iterator
from typing import BinaryIO

from roundwright.errors import Place, RoundwrightError

#: stands for standard input or standard output in place of a path.
STANDARD = "-"
_BINARY = getattr(os, "O_BINARY", 0)  # one system translates line ends otherwise
_CREATE = os.O_WRONLY | os.O_CREAT | os.O_EXCL | _BINARY
#: how long to wait for another writer of the same file, and between two looks; seconds.
_PATIENCE = 20.0
_PAUSE = 0.01

StrPath = str | os.PathLike[str]


class BrokenStream(Exception):
    """Whoever read our standard output has gone away: end quietly."""


@contextlib.contextmanager
def _plainly(doing: str, path: StrPath, cure: str) -> Iterator[None]:
    try:
        yield
    except OSError as error:
        reason = (error.strerror or type(error).__name__).lower()
        raise RoundwrightError(
            f"{doing} failed: {reason}", place=Place(os.fspath(path)), cure=cure
        ) from error
    except ValueError as error:  # a NUL character in a path
        raise RoundwrightError(f"this is no file name: {os.fspath(path)!r}", cure=cure) from error


def read_bytes(path: StrPath) -> bytes:
    """All bytes of a file. Raises RoundwrightError where it cannot be read."""
    with _plainly("reading", path, "Check the name, and that you may read it"):
        return _content(path)


def _content(path: StrPath) -> bytes:
    with open(path, "rb") as file:
        return file.read()


def read_text(path: StrPath) -> str:
    """A text file in UTF-8, with or without a byte order mark, which is dropped; line ends as they are.

    Raises RoundwrightError where the file cannot be read or is not UTF-8.
    """
    return _decoded(read_bytes(path), path)


def _decoded(data: bytes, path: StrPath) -> str:
    data = data.removeprefix(BOM_UTF8)
    place = Place(os.fspath(path))
    cure = "Open it in a text editor and save it again with the encoding UTF-8"
    if data.startswith((BOM_UTF16_LE, BOM_UTF16_BE)) or b"\0" in data:
        raise RoundwrightError("this text is in UTF-16 or is no text", place=place, cure=cure)
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        place = Place(place.name, line)
        raise RoundwrightError("a character here is not in UTF-8", place=place, cure=cure) from error


def read_program_bytes(path: StrPath | None) -> bytes:
    """The program's bytes, from standard input where `path` is None or "-"."""
    if path is not None and os.fspath(path) != STANDARD:
        return read_bytes(path)
    if sys.stdin is None:
        raise RoundwrightError("there is no standard input", cure="Name the program's file instead")
    with _plainly("reading", "standard input", "Name the program's file instead"):
        return sys.stdin.buffer.read()


def write_atomic(path: StrPath, data: bytes) -> None:
    """Put `data` into a file at once: whoever looks sees the old file or the new one, never a part.

    An existing file keeps its permissions, and a link stays a link to the file that is replaced. What
    is no plain file (a device, a pipe) is written to directly. Raises RoundwrightError.
    """
    cure = "Nothing was changed. Check the folder, its free space, and that you may write there"
    with _plainly("writing", path, cure):
        target = os.path.realpath(path)
        mode = _mode_of(target)
        if mode is not None and not stat.S_ISREG(mode):
            with open(target, "wb") as device:
                device.write(data)
            return
        if mode is not None and not os.access(target, os.W_OK):
            raise PermissionError(None, "the file is write-protected")
        draft = _draft_beside(target)
        try:
            _create(draft, data, mode)
            os.replace(draft, target)
        except BaseException:  # Ctrl-C too must leave nothing behind
            _remove(draft)
            raise


def update_text(path: StrPath, change: Callable[[str], str]) -> str:
    """Read a text file, change its text, put it back at once; the new text.

    `change` gets the text as `read_text` gives it; a byte order mark stays. Writers that use this function
    wait for one another, so none loses what another wrote. However it ends, the file holds the old text or
    the new one. Raises RoundwrightError, and whatever `change` raises; then nothing is changed.
    """
    with _alone(path):
        data = read_bytes(path)
        text = _decoded(data, path)
        new = change(text)
        if new != text:
            mark = BOM_UTF8 if data.startswith(BOM_UTF8) else b""
            if read_bytes(path) != data:
                cure = "Nothing was changed. Save it in the editor, then do this again"
                raise RoundwrightError(
                    "another program wrote to it just now", place=Place(os.fspath(path)), cure=cure
                )
            write_atomic(path, mark + new.encode("utf-8"))
        return new


@contextlib.contextmanager
def _alone(path: StrPath) -> Iterator[None]:
    """Hold the lock of a file, a hidden one beside it; it falls off by itself when the process ends."""
    with _plainly("writing", path, "Nothing was changed. Check the folder, and that you may write there"):
        lock = _beside(os.path.realpath(path), ".lock")
        handle = _locked(lock)
        if handle is None:
            raise TimeoutError(None, "another program has been writing to it all the time")
    try:
        yield
    finally:
        _release(lock, handle)


def _locked(lock: str) -> int | None:
    """Open and lock the file; None where another process held it for too long. Raises OSError."""
    end = time.monotonic() + _PATIENCE
    while True:
        try:
            handle = os.open(lock, os.O_RDWR | os.O_CREAT | _BINARY, 0o666)
        except PermissionError:  # on one system, a lock that is just being removed
            if os.name != "nt" or time.monotonic() > end:
                raise
            time.sleep(_PAUSE)
            continue
        try:
            if _try_lock(handle) and _still_there(lock, handle):
                return handle
        except BaseException:
            os.close(handle)
            raise
        os.close(handle)
        if time.monotonic() > end:
            return None
        time.sleep(_PAUSE)


def _try_lock(handle: int) -> bool:
    """Lock an open file against other processes; False where one holds it. Raises OSError."""
    try:
        if sys.platform == "win32":
            import msvcrt

            msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)
        else:
            import fcntl

            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except (BlockingIOError, PermissionError):
        return False
    return True


def _still_there(lock: str, handle: int) -> bool:
    """Whether the locked file is still the one of that name: its last holder removed it, perhaps."""
    try:
        return os.path.samestat(os.stat(lock), os.fstat(handle))
    except FileNotFoundError:
        return False


def _release(lock: str, handle: int) -> None:
    """Remove the lock while it is held, or, where the system doesn't let open files go, just after."""
    with contextlib.suppress(OSError):
        if os.name != "nt":
            os.unlink(lock)
    with contextlib.suppress(OSError):
        os.close(handle)
    with contextlib.suppress(OSError):
        if os.name == "nt":
            os.unlink(lock)


def backup(path: StrPath) -> str:
    """Copy a file to NAME.bak, or .bak2, .bak3, … where older backups stand; the copy's path."""
    with _plainly(
        "making a backup", path, "Nothing was changed. Make some free space, or use -o to write another file"
    ):
        source = os.path.realpath(path)
        data = _content(source)
        mode = os.stat(source).st_mode
        draft = _draft_beside(source)
        _create(draft, data, mode)
        try:
            for number in range(1, 10_000):
                copy = f"{source}.bak{number if number > 1 else ''}"
                with contextlib.suppress(FileExistsError):
                    _name_anew(draft, copy)
                    return copy
        finally:
            _remove(draft)
        raise FileExistsError(None, "there are 9999 backups already")


def _name_anew(draft: str, path: str) -> None:
    """Give a draft a name that nothing has yet, all at once. Raises FileExistsError where something has."""
    try:
        os.link(draft, path)
    except FileExistsError:
        raise
    except (OSError, NotImplementedError):  # a file system without hard links
        if os.path.lexists(path):
            raise FileExistsError(path) from None
        os.rename(draft, path)


def _draft_beside(target: str) -> str:
    """A hidden name in the target's folder, that nothing has yet."""
    return _beside(target, f".{os.urandom(6).hex()}.part")


def _beside(target: str, end: str) -> str:
    """A hidden name in the target's folder, made of the target's own."""
    folder, name = os.path.split(target)
    return os.path.join(folder, f".{name[:200]}{end}")


def _remove(path: str) -> None:
    with contextlib.suppress(FileNotFoundError):
        os.unlink(path)


def rewrite_in_place(path: StrPath, data: bytes) -> str:
    """Replace a file's content at once and keep what it held; the backup's path. Raises RoundwrightError."""
    kept = backup(path)
    try:
        write_atomic(path, data)
    except BaseException:
        _remove(kept)
        raise
    return kept


def same_file(one: StrPath, other: StrPath) -> bool:
    """Whether two paths lead to the same file, whether or not it exists."""
    try:
        return os.path.samefile(one, other)
    except (OSError, ValueError):
        return os.path.realpath(one) == os.path.realpath(other)


def write_standard_output(data: bytes) -> None:
    """Hand `data` out, in bytes, as the last act of a run.

    Raises BrokenStream where the reader has gone, RoundwrightError where it cannot be written.
    """
    if sys.stdout is None:
        raise RoundwrightError("there is no standard output", cure="Use -o to write a file")
    try:
        with _plainly("writing", "standard output", "Use -o to write a file"):
            sys.stdout.flush()
            _write_all(sys.stdout.buffer, data)
            sys.stdout.buffer.flush()
    except RoundwrightError as error:
        _silence_standard_output()
        if isinstance(error.__cause__, BrokenPipeError):
            raise BrokenStream from error
        raise


def text_for_output(text: str) -> bytes:
    """Text as the terminal or pipe of standard output wants it; what it cannot show is escaped."""
    encoding = getattr(sys.stdout, "encoding", None) or "utf-8"
    return text.replace("\n", os.linesep).encode(encoding, errors="backslashreplace")


def say(text: str) -> None:
    """A line for people, on standard error; a reader that has gone is no reason to fail."""
    if sys.stderr is not None:
        with contextlib.suppress(OSError, ValueError):
            print(text, file=sys.stderr, flush=True)


def rewrite_line(text: str) -> None:
    """Put a line on the terminal of standard error in place of the one that stands there."""
    if sys.stderr is not None:
        with contextlib.suppress(OSError, ValueError):
            print(f"\r{text}", end="", file=sys.stderr, flush=True)


def _mode_of(path: str) -> int | None:
    try:
        return os.stat(path).st_mode
    except FileNotFoundError:
        return None


def _create(path: str, data: bytes, mode: int | None) -> None:
    """Write a file that must not exist yet, down to the disk; none is left behind on failure."""
    handle = os.open(path, _CREATE, 0o666)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        if mode is not None:
            os.chmod(path, stat.S_IMODE(mode))
    except BaseException:
        _remove(path)
        raise


def _write_all(stream: BinaryIO, data: bytes) -> None:
    """Write to the end: an unbuffered stream takes only a part at a time."""
    rest = memoryview(data)
    while rest:
        taken = stream.write(rest)
        if not taken:
            raise BlockingIOError(None, "it takes no more now")
        rest = rest[taken:]


def _silence_standard_output() -> None:
    """Keep the interpreter from complaining at its end about bytes that nobody takes."""
    with contextlib.suppress(OSError, ValueError):
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, sys.stdout.fileno())
        os.close(nowhere)
