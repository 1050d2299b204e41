"""The option -t, and what options take: lengths as typed, whose unit may still be open, and KEY=VALUE."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any, TypeVar

import click

from roundwright.errors import SettingsError
from roundwright.units import parse_length

T = TypeVar("T")
Pair = tuple[str, str]

#: patterns are compiled by the first option that asks for them: most runs have none.
_UNIT = r"(mm|in|\")\s*$"
_TOOL_KEY = r"(?:[Tt]?(?P<number>\d{1,9})|(?P<section>@\d{1,9}))\s*=(?P<tool>.*)"
_CLASS = r"[A-Za-z]{1,2}\d{1,2}"


def table_option(command: Callable[..., Any]) -> Callable[..., Any]:
    """The option -t, which must name the machine's table, as the parameter `path`."""
    return click.option(
        "-t",
        "--table",
        "path",
        metavar="FILE",
        required=True,
        envvar="ROUNDWRIGHT_TABLE",
        show_envvar=True,
        help="The machine's calibration table.",
    )(command)


def parsed(parse: Callable[[str], T]) -> Callable[[click.Context, click.Parameter, Any], Any]:
    """A callback that parses an option's text, or each of its texts; what fails is wrong usage."""

    def callback(ctx: click.Context, param: click.Parameter, value: Any) -> Any:
        try:
            if isinstance(value, tuple):
                return tuple(parse(text) for text in value)
            return None if value is None else parse(value)
        except (SettingsError, ValueError) as error:
            raise click.BadParameter(str(error), ctx, param) from error

    return callback


def size(text: str) -> str:
    """A length above zero, as typed. Raises SettingsError or ValueError."""
    if parse_length(text, inch=False) <= 0:
        raise ValueError(f"{text!r} is not above zero")
    return text.strip()


def unit_of(length: str) -> str:
    """The unit that a length was typed with, "mm", "in" or nothing."""
    match = re.search(_UNIT, length, re.IGNORECASE)
    return "" if match is None else "mm" if match[1].lower() == "mm" else "in"


def reading(text: str) -> Pair:
    """P=M, a circle programmed P that came out M; a unit on one of them serves both. Raises as `size`."""
    programmed, equals, measured = text.partition("=")
    if not equals:
        raise ValueError(f"{text!r} lacks '=': a hole programmed 20 that came out 19.91 is 20=19.91")
    one, other = size(programmed), size(measured)
    return (
        one if unit_of(one) else one + unit_of(other),
        other if unit_of(other) else other + unit_of(one),
    )


def tool_diameter(text: str) -> Pair:
    """TOOL=D: a tool, by number or name, and the diameter it was programmed for. Raises as `size`."""
    tool, equals, diameter = text.rpartition("=")
    if not equals or not tool.strip():
        raise ValueError(f"{text!r} lacks the tool: write TOOL=DIAMETER, as in 1=6mm")
    return tool.strip(), size(diameter)


def tool(text: str) -> tuple[int | str | None, str]:
    """TOOL, T=TOOL or @S=TOOL: what it serves (None: the whole program), and the table's tool."""
    match = re.fullmatch(_TOOL_KEY, text.strip(), re.ASCII)
    if match is not None and match["tool"].strip():
        return match["section"] or int(match["number"]), match["tool"].strip()
    if match is not None or not text.strip() or text.lstrip().startswith(("=", "@")):
        raise ValueError(f"{text!r} names no tool: write TOOL, T=TOOL or @SECTION=TOOL, as in @2=1")
    return None, text.strip()


def side(text: str) -> tuple[str | None, str]:
    """KEY=SIDE or SIDE: a feature (None: all that the path leaves open), and its side."""
    key, equals, word = (part.strip() for part in text.rpartition("="))
    if word not in ("hole", "boss", "groove") or (equals and not key):
        raise ValueError(f"{text!r} is no side: write hole, boss or groove, or KEY=hole as in C3=hole")
    return (key.upper() if equals else None), word


def target(text: str) -> Pair:
    """KEY=VALUE: a feature, or all of a programmed diameter, and what it is to come out as. Raises as `size`.

    VALUE is a diameter, or a tolerance class, whose letters and grade the tables judge.
    """
    key, equals, value = (part.strip() for part in text.partition("="))
    if not equals or not key or not value:
        raise ValueError(f"{text!r} is no target: write KEY=VALUE, as in C3=22.05, C3=H8 or 20.0=H9")
    return feature_key(key), value if re.fullmatch(_CLASS, value, re.ASCII) else size(value)


def feature_key(text: str) -> str:
    """A feature's id, or a programmed diameter. Raises as `size`."""
    key = text.strip()
    return key.upper() if re.fullmatch(r"[A-Za-z]\d+", key) else size(key)
