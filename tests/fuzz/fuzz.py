"""Coverage-guided fuzzing of one target, for as long as you like.

    python tests/fuzz/fuzz.py read|correct|table [SECONDS] [FOLDER]

It needs the optional dependency `fuzz` (`pip install -e '.[fuzz]'`). It begins with the programs and tables
of the tests and goes on from what FOLDER holds of an earlier run (default: build/fuzz/TARGET). What breaks a
promise is said and left in FOLDER-found, one case of a kind: shorten it, put it into tests/fuzz/found/TARGET,
and mend. The engine's memory grows from run to run, so it is begun afresh every few thousand runs.
"""

from __future__ import annotations

import re
import subprocess
import sys
import time
import traceback
from collections.abc import Callable
from hashlib import sha256
from importlib.util import find_spec
from pathlib import Path
from random import Random

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT / "src"), str(ROOT / "tests" / "support")]
NAMES = ("read", "correct", "table")
#: runs of one process; the engine keeps some memory of each.
RUNS = 5_000
_QUOTED = re.compile(r"'([^']*)'")


def _noting(target: Callable[[bytes], object], folder: Path) -> Callable[[bytes], None]:
    """The target, with the first case of each kind of finding kept; it goes on then."""
    folder.mkdir(parents=True, exist_ok=True)

    def run(data: bytes) -> None:
        try:
            target(data)
        except Exception as error:
            kept = folder / f"finding-{sha256(_kind(error).encode()).hexdigest()[:8]}"
            if not kept.exists():
                kept.write_bytes(data)
                print(f"FOUND {kept}: {_kind(error)}: {error}", file=sys.stderr, flush=True)

    return run


def _kind(error: Exception) -> str:
    """Where a finding comes from, and the promise that it names."""
    where = traceback.extract_tb(error.__traceback__)[-1]
    promise = _QUOTED.search(str(error))
    said = promise[1] if promise else ""
    return f"{type(error).__name__} in {Path(where.filename).name}, line {where.lineno}: {said}"


def main(arguments: list[str]) -> int:
    """Fuzz until the time is up; 1 where a promise was broken or the engine stopped."""
    if find_spec("atheris") is None:
        print("fuzz.py needs atheris, which is not installed: pip install -e '.[fuzz]'", file=sys.stderr)
        return 1
    if not arguments or arguments[0].removeprefix("part-") not in NAMES:
        print(__doc__, file=sys.stderr)
        return 2
    name, seconds = arguments[0], float(arguments[1]) if len(arguments) > 1 else 1800.0
    folder = Path(arguments[2]) if len(arguments) > 2 else ROOT / "build" / "fuzz" / name
    if name.startswith("part-"):
        return _part(name.removeprefix("part-"), seconds, folder)
    end, runs = time.monotonic() + seconds, 0
    while (left := end - time.monotonic()) > 1:
        command = [sys.executable, __file__, f"part-{name}", str(left), str(folder)]
        part = subprocess.run(command, stderr=subprocess.PIPE, text=True, errors="replace")
        lines = part.stderr.splitlines()
        print("\n".join(line for line in lines if line.startswith(("FOUND", "stat::"))), flush=True)
        runs += sum(int(line.split()[-1]) for line in lines if "number_of_executed_units" in line)
        if part.returncode:
            print("\n".join(lines[-30:]))
            return 1
    found = len(list(folder.with_name(f"{folder.name}-found").glob("*")))
    print(f"{name}: {runs:,} runs in {seconds:.0f} s, {found} findings")
    return 1 if found else 0


def _part(name: str, seconds: float, folder: Path) -> int:
    """Some thousand runs in this process."""
    import atheris

    with atheris.instrument_imports(include=["roundwright"]):
        import fuzz_targets

    folder.mkdir(parents=True, exist_ok=True)
    for number, seed in enumerate(fuzz_targets.seeds(name)):
        (folder / f"seed-{number}").write_bytes(seed)
    target = _noting(fuzz_targets.TARGETS[name], folder.with_name(f"{folder.name}-found"))

    def change(data: bytes, most: int, seed: int) -> bytes:
        chance = Random(seed)
        if chance.random() < 0.3:
            return bytes(atheris.Mutate(data, most))
        return fuzz_targets.mutated(name, bytes(data), chance)[:most]

    runs = RUNS + len(list(folder.iterdir()))
    options = [f"-max_total_time={int(seconds)}", f"-runs={runs}", "-max_len=6000", "-timeout=20"]
    options += ["-rss_limit_mb=3000", "-print_final_stats=1"]
    options += [f"-artifact_prefix={folder}-found/", str(folder)]
    atheris.Setup(["fuzz", *options], target, custom_mutator=change)
    atheris.Fuzz()
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
