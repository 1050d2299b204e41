"""The plan room: which feature gets which correction and why, and where the path goes for it."""

from roundwright.plan.plan import ArcTarget, Correction, Decimals, Plan, Target
from roundwright.plan.planner import Writing, plan_corrections
from roundwright.plan.request import Request
from roundwright.plan.shift import Obstacle

__all__ = [
    "ArcTarget",
    "Correction",
    "Decimals",
    "Obstacle",
    "Plan",
    "Request",
    "Target",
    "Writing",
    "plan_corrections",
]
