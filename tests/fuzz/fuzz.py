"""Coverage-guided fuzzing of one target, for as long as you like.

    python tests/fuzz/fuzz.py read|correct|table [SECONDS] [FOLDER]

It needs the optional dependency `fuzz` (`pip install -e '.[fuzz]'`). It begins with the programs and tables
of the tests and goes on from what FOLDER holds of an earlier run (default: build/fuzz/TARGET). What breaks a
promise is said and left in FOLDER-found, one case of a kind: shorten it, put it into tests/fuzz/found/TARGET,
and mend.
"""

from __future__ import annotations

import sys
import traceback
from collections.abc import Callable
from pathlib import Path
from random import Random

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT / "src"), str(ROOT / "tests" / "support")]


def _noting(target: Callable[[bytes], object], folder: Path) -> Callable[[bytes], None]:
    """The target, with the first case of each kind of finding kept; it goes on then."""
    folder.mkdir(parents=True, exist_ok=True)
    kinds: set[str] = set()

    def run(data: bytes) -> None:
        try:
            target(data)
        except Exception as error:
            where = traceback.extract_tb(error.__traceback__)[-1]
            kind = f"{type(error).__name__} in {Path(where.filename).name}, line {where.lineno}"
            if kind not in kinds:
                kinds.add(kind)
                (folder / f"finding-{len(kinds)}").write_bytes(data)
                print(f"FOUND {folder}/finding-{len(kinds)}: {kind}: {error}", file=sys.stderr, flush=True)

    return run


def main(arguments: list[str]) -> int:
    """Fuzz until the time is up or a promise breaks; the exit status."""
    try:
        import atheris
    except ImportError:
        print("fuzz.py needs atheris, which is not installed: pip install -e '.[fuzz]'", file=sys.stderr)
        return 1
    with atheris.instrument_imports(include=["roundwright"]):
        import fuzz_targets
    if not arguments or arguments[0] not in fuzz_targets.TARGETS:
        print(__doc__, file=sys.stderr)
        return 2
    name, seconds = arguments[0], arguments[1] if len(arguments) > 1 else "1800"
    folder = Path(arguments[2]) if len(arguments) > 2 else ROOT / "build" / "fuzz" / name
    folder.mkdir(parents=True, exist_ok=True)
    for number, seed in enumerate(fuzz_targets.seeds(name)):
        (folder / f"seed-{number}").write_bytes(seed)
    target = _noting(fuzz_targets.TARGETS[name], folder.with_name(f"{folder.name}-found"))

    def change(data: bytes, most: int, seed: int) -> bytes:
        chance = Random(seed)
        if chance.random() < 0.3:
            return bytes(atheris.Mutate(data, most))
        return fuzz_targets.mutated(name, bytes(data), chance)[:most]

    options = [f"-max_total_time={seconds}", "-max_len=6000", "-timeout=20", "-rss_limit_mb=3000"]
    options += [f"-artifact_prefix={folder}-found/", "-print_final_stats=1", str(folder)]
    atheris.Setup(["fuzz", *options], target, custom_mutator=change)
    atheris.Fuzz()
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
