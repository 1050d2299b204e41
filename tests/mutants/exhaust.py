"""Every byte of a corrected sample spoiled: each of these programs must be refused by the proof.

    python tests/mutants/exhaust.py [SAMPLE] [SHARE]

Every byte is replaced by others of its kind and of other kinds, deleted, and doubled. SHARE tries every so
many bytes only (default 1: all). What is let through is shown: only a number within the tolerance may be.
"""

from __future__ import annotations

import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT / "src"), str(ROOT / "tests" / "support")]

from spoiled_bytes import let_through, sample  # noqa: E402


def main(arguments: list[str]) -> int:
    """Try them all; 1 where one passes that should not."""
    run = sample(arguments[0] if arguments else "bearing-block.nc")
    close, wrong, tried = let_through(run, 0, int(arguments[1]) if len(arguments) > 1 else 1)
    for words in wrong:
        print("LET THROUGH", words)
    print(f"{tried} programs, each spoiled in one byte of {len(run.new)}: {len(wrong)} wrong ones passed,")
    print(f"{len(close)} passed with a number within the tolerance of the plan")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
