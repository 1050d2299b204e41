"""What hostile programs cost: a table of sizes, times and memory, each in a process of its own.

    python tests/fuzz/hostile.py [SIZE[,SIZE…]] [NAME…]

Sizes in bytes (default 1 and 4 million; `huge` is one line of a thousand million). NAME takes those whose
name holds it. Times are of the processor, memory is what the run needs beyond the program and the libraries,
and in the next column what of that goes beyond 60 MiB, as a multiple of the program.
"""

from __future__ import annotations

import json
import subprocess
import sys
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT / "src"), str(ROOT / "tests" / "support")]

from hostile_programs import BORE, HEAD, HOSTILE, TABLE  # noqa: E402

HUGE = 1_000_000_000
PATIENCE = 600.0
#: bytes that a run may need whatever the program.
BASE = 60 * 1024 * 1024


def main(arguments: list[str]) -> int:
    """Print the table; 1 where a run ended otherwise than by refusal or proof."""
    if arguments[:1] == ["--one"]:
        print(json.dumps(once(arguments[1], int(arguments[2]))))
        return 0
    huge = "huge" in arguments
    words = [word for word in arguments if word != "huge"]
    sizes = [int(size) for size in words[0].split(",")] if words[:1] and words[0][0].isdigit() else None
    names = words[1:] if sizes else words
    jobs = [
        (name, size)
        for name in HOSTILE
        if not names or any(part in name for part in names)
        for size in sizes or (1_000_000, 4_000_000)
    ]
    if huge:
        jobs = [("words, one block", HUGE)]
    print(
        "| program | bytes | s | MB | (MB − 63)/input | how it ended |\n| --- | --- | --- | --- | --- | --- |"
    )
    went_well = [_row(name, size) for name, size in jobs]
    return 0 if all(went_well) else 1


def once(name: str, size: int) -> dict[str, object]:
    """One run in this process: bytes, seconds, bytes of memory, and how it ended."""
    import resource

    from roundwright import pipeline
    from roundwright.calibration import open_table
    from roundwright.errors import RoundwrightError
    from roundwright.settings import Settings

    table = open_table(TABLE, "router.toml")
    pipeline.correct(HEAD + BORE, "warm.nc", table, Settings())  # so that libraries are not counted
    data = HOSTILE[name](size)
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    begin = time.process_time()
    try:
        outcome = pipeline.correct(data, "hostile.nc", table, Settings())
        done = sum(c.status == "corrected" for c in outcome.plan.corrections)
        end = f"proven, {done} of {len(outcome.plan.corrections)} corrected"
    except RoundwrightError as error:
        end = f"refused: {error.what}"
    seconds = time.process_time() - begin
    memory = (resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before) * 1024
    return {"bytes": len(data), "seconds": seconds, "memory": memory, "end": end}


def _row(name: str, size: int) -> bool:
    command = [sys.executable, __file__, "--one", name, str(size)]
    try:
        run = subprocess.run(command, capture_output=True, text=True, timeout=PATIENCE)
    except subprocess.TimeoutExpired:
        print(f"| {name} | {size:,} | over {PATIENCE:.0f} | | | |", flush=True)
        return False
    if run.returncode:
        print(f"| {name} | {size:,} | | | | FAILED: {run.stderr.splitlines()[-1]} |", flush=True)
        return False
    found = json.loads(run.stdout)
    times = max(0, found["memory"] - BASE) / max(1, found["bytes"])
    print(
        f"| {name} | {found['bytes']:,} | {found['seconds']:.2f} | {found['memory'] / 1e6:.0f} "
        f"| {times:.1f} | {found['end']} |",
        flush=True,
    )
    return True


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
