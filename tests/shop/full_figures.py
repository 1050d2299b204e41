"""The virtual shop in full, with its figures: `python tests/shop/full_figures.py [SHOPS [MACHINES]]`."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "support"))

import numpy as np

import shop_days
from shop_days import SHARED, Morning


def loop(mornings: list[Morning]) -> str:
    """How errors fall, shop by shop, and how the stated U holds."""
    before = np.array([np.abs(m.before).mean() for m in mornings])
    after = np.array([np.abs(m.after).mean() for m in mornings])
    next_day = np.array([np.abs(m.next_day).mean() for m in mornings])
    u = np.array([np.mean(m.mean) for m in mornings])
    kept = after <= np.maximum(before / 10, 2 * u)
    stated = np.array([m.stated for m in mornings])
    inside = np.abs([m.after for m in mornings]) <= stated
    shown = np.abs([m.measured for m in mornings]) <= stated
    by_shop = inside.mean(axis=1)
    error = by_shop.std(ddof=1) / np.sqrt(len(mornings))
    return (
        f"{len(mornings)} shops, {inside.size} corrected circles\n"
        f"mean absolute error, mm: before {before.mean():.4f}, after {after.mean():.4f}, "
        f"the next day {next_day.mean():.4f}\n"
        f"after <= max(before/10, 2 u of the mean) in {kept.sum()} of {len(mornings)} shops; largest share "
        f"{(after / np.maximum(before / 10, 2 * u)).max():.2f}\n"
        f"mean u of the mean {u.mean():.4f}, mean stated U {stated.mean():.4f}\n"
        f"single residuals within the stated U: {inside.mean():.4f} +/- {error:.4f}\n"
        f"as another day's caliper shows them, its own bias not in U: {shown.mean():.4f}\n"
    )


def faults(machines: int) -> str:
    """In how many machines each fault lies within U of the truth, and is called by name where it is large."""
    coupon = shop_days.written(shop_days.LADDER)
    found = [shop_days.examined(seed, coupon) for seed in range(machines)]
    text = f"{machines} machines, {len(coupon.walls)} circles each\n"
    for key, truths in zip(SHARED, np.array([one.truths for one in found]).T, strict=True):
        told = [getattr(one.diagnosis, key) for one in found]
        off = np.array([estimate.value for estimate in told]) - truths
        expanded = np.array([estimate.expanded for estimate in told])
        large = np.abs(truths) > 2 * expanded
        named = np.array([estimate.stands_out for estimate in told])
        text += (
            f"  {key}: within U {np.mean(np.abs(off) <= expanded):.3f}, mean U {expanded.mean():.2e}; "
            f"of {large.sum()} twice as large as U {named[large].sum()} stand out\n"
        )
    return text


if __name__ == "__main__":
    shops, machines = (int(number) for number in (*sys.argv[1:], *("100", "200")[len(sys.argv) - 1 :]))
    print(loop([shop_days.morning(seed) for seed in range(shops)]), flush=True)
    print(faults(machines))
