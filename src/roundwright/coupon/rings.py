"""The circles and outlines that the cutter's centre runs for one hole or boss. Lengths in mm."""

from __future__ import annotations

import math

#: sides of the outline that clears around a boss: too few to be a circle, which needs 12.
SIDES = 10
#: where the cutter meets walls and outlines: between the directions in which circles are measured.
CONTACT = math.radians(22.5)
#: the helix into a hole stays within this share of the cutter's diameter, so that no post is left in it,
_ENTRY = 0.45
#: and is no smaller than this share where there is room: a drill it is not.
_NARROW = 0.10
#: how much an outline and the ring inside it overlap at least, as a share of the cutter's diameter.
_OVERLAP = 0.15
#: an outline that would clear less than this share of the cutter's diameter is not worth a lap.
_WORTH = 0.10
_CORNER = 1.0 / math.cos(math.pi / SIDES)  # corner over apothem


def hole_radii(diameter: float, cutter: float, stepover: float) -> tuple[float, ...]:
    """Radii of the helix, of the clearing rings, and of the wall pass last.

    The wall pass takes a whole step-over wherever there is room for one, as it would in production.
    """
    radii = [(diameter - cutter) / 2]
    while radii[-1] > _ENTRY * cutter:
        radii.append(max(radii[-1] - stepover, _NARROW * cutter))
    if len(radii) == 1:
        radii.append(radii[0] / 2)
    return tuple(reversed(radii))


def boss_radii(diameter: float, cutter: float, stepover: float) -> tuple[float, float]:
    """Radii of the clearing ring outside a boss and of its wall pass: one step-over between them."""
    wall = (diameter + cutter) / 2
    return wall + stepover, wall


def boss_outline(diameter: float, cutter: float, stepover: float) -> float | None:
    """Distance of a corner of the outline around a boss from its centre; None for a boss too large.

    The outline is no circle, or its outer edge would be one more hole. Its sides clear what lies beyond the
    clearing ring, and its corners still overlap that ring.
    """
    ring = boss_radii(diameter, cutter, stepover)[0]
    room = (ring * (1.0 - _CORNER) + cutter * (0.5 - _OVERLAP + _CORNER / 2)) / _CORNER
    step = min(stepover, room)
    return (ring + step) * _CORNER if step >= _WORTH * cutter else None


def outline_corners(corner: float) -> tuple[tuple[float, float], ...]:
    """The corners of an outline about (0, 0), counter-clockwise from the point of contact."""
    turns = (CONTACT + k * math.tau / SIDES for k in range(SIDES))
    return tuple((corner * math.cos(turn), corner * math.sin(turn)) for turn in turns)
