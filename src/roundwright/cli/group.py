"""The command `roundwright`: its commands, loaded only when one is called, and how a run ends."""

from __future__ import annotations

import atexit
import gc
import importlib
import sys
from collections.abc import Callable
from typing import Any

import click

from roundwright.cli.streams import BrokenStream, say
from roundwright.errors import RoundwrightError

CAUTION = (
    "Caution: before it cuts, read the listing and run the corrected program in the air, clear of clamps "
    "and vice. The machine's manual, local rules and trained people come first."
)

REFUSED = 1
INTERRUPTED = 130  # what shells expect of a command that Ctrl-C ended

#: name: (module, attribute, what `roundwright --help` says of it), in the order of the help.
COMMANDS = {
    "correct": (
        "roundwright.cli.correct",
        "correct",
        "Correct a finished program's holes and bosses, or list them.",
    ),
    "table": ("roundwright.cli.table", "table", "Keep the calibration table of a machine."),
    "coupon": ("roundwright.cli.coupon", "coupon", "Write a test-cut program for one tool and material."),
    "measure": ("roundwright.cli.measure", "measure", "Take measured diameters into the table."),
    "diagnose": (
        "roundwright.cli.diagnose",
        "diagnose",
        "Say what the readings show of the machine, before it is corrected away.",
    ),
    "watch": ("roundwright.cli.watch", "watch", "Correct each program that is saved into a folder."),
}


class Commands(click.Group):
    """A group whose commands are imported when they are called, and whose every end is a plain one."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """The commands' names, in the order in which a user meets them."""
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Import the command; None where there is none of that name."""
        if cmd_name not in COMMANDS:
            return None
        module, attribute, _ = COMMANDS[cmd_name]
        command = getattr(importlib.import_module(module), attribute)
        assert isinstance(command, click.Command)
        _add_caution(command)
        return command

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """The command that is meant. Raises click.UsageError, naming one that is spelt like it."""
        name = args[0]
        if name not in COMMANDS and name[:1].isalnum() and not ctx.resilient_parsing:
            from difflib import get_close_matches

            near = get_close_matches(name.casefold(), COMMANDS, n=1)
            meant = f"Did you mean '{near[0]}'?" if near else f"There are {', '.join(COMMANDS)}."
            ctx.fail(f"No such command '{name}'. {meant}")
        return super().resolve_command(ctx, args)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """List the commands without importing them."""
        with formatter.section("Commands"):
            formatter.write_dl([(name, text) for name, (_, _, text) in COMMANDS.items()])

    def main(self, *args: Any, **extra: Any) -> Any:
        """Run, and end with the exit status of the contract; takes what `click.Command.main` takes."""
        plain = {**extra, "standalone_mode": False}
        if not extra.get("standalone_mode", True):
            return super().main(*args, **plain)
        _collect_rarely()
        sys.exit(_status(lambda: super(Commands, self).main(*args, **plain)))


def _collect_rarely() -> None:
    """Look for unreachable cycles rarely, and not at the end: it is an eighth of a small job."""
    gc.set_threshold(50_000, 20, 100)
    atexit.register(gc.freeze)


def _add_caution(command: click.Command) -> None:
    """End the help of a command, and of those below it, with the caution."""
    command.epilog = command.epilog or CAUTION
    if isinstance(command, click.Group):
        for below in command.commands.values():
            _add_caution(below)


def _status(run: Callable[[], Any]) -> int:
    """Run a command; its exit status is what it returns, or follows from how it ended."""
    try:
        status = run()
    except RoundwrightError as error:
        say(f"roundwright: {error}")
        return REFUSED
    except click.ClickException as error:
        error.show()
        return error.exit_code
    except click.Abort as error:
        if isinstance(error.__cause__ or error.__context__, EOFError):
            say("roundwright: the input ended before the question was answered. Nothing was changed.")
            return REFUSED
        return INTERRUPTED
    except KeyboardInterrupt:
        return INTERRUPTED
    except BrokenStream:
        return REFUSED
    return status if isinstance(status, int) else 0


def _say_version(ctx: click.Context, _: click.Parameter, wanted: bool) -> None:
    if not wanted or ctx.resilient_parsing:
        return
    from roundwright.version import __version__

    click.echo(f"roundwright {__version__}")
    ctx.exit()


_HELP = """Make circles come out to size.

Reads a finished G-code program, finds its holes and bosses, and corrects
each one from the machine's own calibration table.

\b
Examples:
  roundwright table new -o router.toml
  roundwright correct -t router.toml --dry-run panel.nc
  roundwright correct -t router.toml -o panel-c.nc panel.nc
"""


@click.group(
    cls=Commands,
    help=_HELP,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 80},
    epilog=CAUTION,
)
@click.option(
    "--version",
    is_flag=True,
    expose_value=False,
    is_eager=True,
    callback=_say_version,
    help="Say which version this is.",
)
def main() -> None:
    """Hold the commands together; does nothing itself."""
