"""Kill runs that write a program or a table at moments of chance: no half file, no lost reading, ever.

    python tests/fuzz/kill.py [COUNT]

Writes a program with -o, onto a file that is there and onto none, and with --in-place; then readings with
`table add` and `measure`. 200 moments each unless said otherwise. Every target must hold what it held
before, or the whole corrected program; a table every reading that was in it, and all new ones or none.
"""

from __future__ import annotations

import sys
import tempfile
import time
from pathlib import Path
from random import Random

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT / "src"), str(ROOT / "tests" / "support")]

from command import TABLE, start  # noqa: E402
from hostile_programs import bores  # noqa: E402
from killed_tables import prepare, run_and_kill  # noqa: E402
from killed_writer import killed, moments  # noqa: E402

OLD = b"(what was there before)\n"


def main(count: int) -> int:
    """Kill so many runs of each; 1 where one left half a file or lost a reading."""
    return max(programs(count), tables(count))


def programs(count: int) -> int:
    """Kill so many runs that write a program; 1 where one left half a file."""
    chance = Random(20261003)
    program = bores(2_000) + b"(a long tail)\n" * 30_000  # long in the writing
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        (folder / "router.toml").write_text(TABLE, encoding="utf-8")
        source, target = folder / "panel.nc", folder / "out.nc"
        source.write_bytes(program)
        begin = time.monotonic()
        start("correct", "-t", "router.toml", "-o", "out.nc", "panel.nc", cwd=folder).communicate()
        whole, new = time.monotonic() - begin, target.read_bytes()
        print(f"one run takes {whole:.2f} s and writes {len(new):,} bytes")
        halves = ended = old = drafts = 0
        for k, (delay, writing) in enumerate(moments(count, whole, chance)):
            how, place, was = _case(k, source, target, program)
            command = ("correct", "-t", "router.toml", *how)
            left = killed(folder, place, command, delay, writing=writing)
            halves += left.target not in (was, new)
            ended, old, drafts = ended + left.ended, old + (left.target == was), drafts + len(left.others)
            for other in left.others:  # a backup shows its name only when it is whole
                halves += not other.endswith(".part") and (folder / other).read_bytes() != program
                (folder / other).unlink()
    print(
        f"{count} killed, {ended} of them after their end: {old} left what was there, {count - old - halves}"
    )
    print(f"the whole new program, {halves} a half one; {drafts} hidden drafts or backups were left beside")
    return 1 if halves else 0


def tables(count: int) -> int:
    """Kill so many commands that write into a table; 1 where one broke it or lost a reading."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        prepare(folder, rows=300)
        ends = run_and_kill(folder, count, 1.0, Random(20261004))
    print(
        f"{ends.killed} writers of a table killed, {ends.ended} of them after their end: {ends.new} left all "
        f"their readings in it, {ends.killed - ends.new - len(ends.broken)} none, {len(ends.broken)} broke it"
    )
    print("\n".join(ends.broken), end="")
    return 1 if ends.broken else 0


def _case(k: int, source: Path, target: Path, program: bytes) -> tuple[tuple[str, ...], Path, bytes | None]:
    """The arguments, the file that is written, and what it holds before."""
    if k % 3 == 2:
        source.write_bytes(program)
        return ("--in-place", source.name), source, program
    target.unlink(missing_ok=True)
    if source.read_bytes() != program:
        source.write_bytes(program)
    if k % 3 == 1:
        target.write_bytes(OLD)
        return ("-o", target.name, source.name), target, OLD
    return ("-o", target.name, source.name), target, None


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1]) if len(sys.argv) > 1 else 200))
