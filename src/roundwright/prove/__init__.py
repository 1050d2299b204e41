"""The prove room: the proof with other eyes, before a byte of a corrected program is handed out."""

from roundwright.prove.promise import PROMISES, Promise, prove_program

__all__ = ["PROMISES", "Promise", "prove_program"]
