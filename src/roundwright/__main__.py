"""`python -m roundwright` does what the command `roundwright` does."""

from roundwright.cli import main

if __name__ == "__main__":
    main(prog_name="roundwright")
