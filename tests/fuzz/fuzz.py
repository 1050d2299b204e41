"""Coverage-guided fuzzing of one target, for as long as you like.

    python tests/fuzz/fuzz.py read|correct|table [SECONDS] [FOLDER]

It needs the optional dependency `fuzz` (`pip install -e '.[fuzz]'`). It begins with the programs and tables
of the tests and goes on from what FOLDER holds of an earlier run (default: build/fuzz/TARGET). What breaks a
promise is left there as crash-*: shorten it, put it into tests/fuzz/found/TARGET, and mend.
"""

from __future__ import annotations

import sys
from pathlib import Path
from random import Random

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT / "src"), str(ROOT / "tests")]


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
    target = fuzz_targets.TARGETS[name]

    def change(data: bytes, most: int, seed: int) -> bytes:
        chance = Random(seed)
        if chance.random() < 0.3:
            return bytes(atheris.Mutate(data, most))
        return fuzz_targets.mutated(name, bytes(data), chance)[:most]

    options = [f"-max_total_time={seconds}", "-max_len=6000", "-timeout=20", "-rss_limit_mb=3000"]
    options += [f"-artifact_prefix={folder}/", "-print_final_stats=1", "-verbosity=1", str(folder)]
    atheris.Setup(["fuzz", *options], target, custom_mutator=change)
    atheris.Fuzz()
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
