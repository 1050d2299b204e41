"""The command line: `main` is the command `roundwright`; one command a file."""

from roundwright.cli.group import main

__all__ = ["main"]
