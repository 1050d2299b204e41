"""The coupon room: a test-cut program for one tool and material, and the record that measuring needs.

It uses the types of the other rooms and calls none of them; text and bytes go out, no file is opened.
"""

from roundwright.coupon.layout import Layout, Recipe, Spot, lay_out
from roundwright.coupon.program import coupon_program
from roundwright.coupon.record import Record, Recorded, coupon_record, job_record, read_record, record_json

__all__ = [
    "Layout",
    "Recipe",
    "Record",
    "Recorded",
    "Spot",
    "coupon_program",
    "coupon_record",
    "job_record",
    "lay_out",
    "read_record",
    "record_json",
]
