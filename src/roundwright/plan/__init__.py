"""The plan room: which feature gets which correction and why, and where the path goes for it."""

from roundwright.plan.correction import Request
from roundwright.plan.plan import ArcTarget, Correction, Decimals, Plan
from roundwright.plan.planner import Writing, plan_corrections
from roundwright.plan.shift import Obstacle

__all__ = [
    "ArcTarget",
    "Correction",
    "Decimals",
    "Obstacle",
    "Plan",
    "Request",
    "Writing",
    "plan_corrections",
]
