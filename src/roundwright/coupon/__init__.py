"""The coupon room: a test-cut program for one tool and material, and the record that measuring needs.

Of the six rooms it uses types alone; text, bytes and values go in and out, and no file is opened.
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
