"""What options take: lengths with or without a unit, and pairs KEY=VALUE; exact until a unit is known."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from typing import Any, Literal, TypeVar

import click

from roundwright.units import INCH

T = TypeVar("T")

_NUMBER = r"(?:\d+(?:\.\d*)?|\.\d+)"
_LENGTH = re.compile(
    rf"(?P<sign>[+-]?)(?:(?P<whole>\d+)[ ])?(?P<top>{_NUMBER})(?:/(?P<bottom>\d+))?\s*(?P<unit>mm|in)?",
    re.ASCII | re.IGNORECASE,
)
_TOOL_KEY = re.compile(r"(?:[Tt]?(?P<number>\d+)|(?P<section>@\d+))=(?P<tool>.+)", re.ASCII)


@dataclass(frozen=True, slots=True)
class Length:
    """A length as typed: an exact number, and its unit where one was given."""

    number: Fraction
    unit: Literal["mm", "in"] | None = None

    def mm(self, *, inch: bool) -> float:
        """Millimetres; `inch` says what a number without a unit means. Rounded once, at the end."""
        inches = inch if self.unit is None else self.unit == "in"
        return float(self.number * Fraction(str(INCH)) if inches else self.number)


def parse_length(text: str) -> Length:
    """A length from text like `9.91`, `9.91mm`, `0.375in`, `3/8in` or `1 3/8in`. Raises ValueError."""
    match = _LENGTH.fullmatch(text.strip())
    if match is None:
        hint = "; write decimals with a point" if "," in text else ""
        raise ValueError(f"{text!r} is no length{hint}: try 9.91mm, 0.375in or 3/8in")
    whole, bottom = match["whole"], match["bottom"]
    if bottom is not None and int(bottom) == 0:
        raise ValueError(f"{text!r} divides by zero")
    if whole is not None and bottom is None:
        raise ValueError(f"{text!r} holds two numbers")
    number = Fraction(whole or 0) + Fraction(match["top"]) / int(bottom or 1)
    unit = match["unit"]
    kind: Literal["mm", "in"] | None = None if unit is None else "in" if unit.lower() == "in" else "mm"
    return Length(-number if match["sign"] == "-" else number, kind)


def parse_size(text: str) -> Length:
    """A length above zero. Raises ValueError."""
    length = parse_length(text)
    if length.number <= 0:
        raise ValueError(f"{text!r} is not above zero")
    return length


def parse_reading(text: str) -> tuple[Length, Length]:
    """A reading P=M. Raises ValueError."""
    programmed, equals, measured = text.partition("=")
    if not equals:
        raise ValueError(f"{text!r} lacks '=': a hole programmed 20 that came out 19.91 is 20=19.91")
    one, other = parse_size(programmed), parse_size(measured)
    return Length(one.number, one.unit or other.unit), Length(other.number, other.unit or one.unit)


def parse_diameter(text: str) -> tuple[str, Length]:
    """A tool, by number or name, and its diameter. Raises ValueError."""
    tool, equals, diameter = text.rpartition("=")
    if not equals or not tool.strip():
        raise ValueError(f"{text!r} lacks the tool: write TOOL=DIAMETER, as in 1=6mm")
    return tool.strip(), parse_size(diameter)


def parse_tool(text: str) -> tuple[int | str | None, str]:
    """What the tool serves (None: the whole program) and the table's tool. Raises ValueError."""
    match = _TOOL_KEY.fullmatch(text.strip())
    if match is None:
        if not text.strip() or text.lstrip().startswith(("=", "@")):
            raise ValueError(f"{text!r} names no tool: write TOOL, T=TOOL or @SECTION=TOOL, as in @2=1")
        return None, text.strip()
    return match["section"] or int(match["number"]), match["tool"].strip()


def parse_side(text: str) -> tuple[str | None, str]:
    """A feature's key (None: all that the path leaves open) and its side. Raises ValueError."""
    key, equals, side = (part.strip() for part in text.rpartition("="))
    if side not in ("hole", "boss", "groove") or (equals and not key):
        raise ValueError(f"{text!r} is no side: write hole, boss or groove, or KEY=hole as in C3=hole")
    return (key if equals else None), side


def parsed(parse: Callable[[str], T]) -> Callable[[click.Context, click.Parameter, Any], Any]:
    """A callback that parses an option's text, or each of its texts; ValueError becomes wrong usage."""

    def callback(ctx: click.Context, param: click.Parameter, value: Any) -> Any:
        try:
            if isinstance(value, tuple):
                return tuple(parse(text) for text in value)
            return None if value is None else parse(value)
        except ValueError as error:
            raise click.BadParameter(str(error), ctx, param) from error

    return callback
