"""Write what the cases give now as what they must give: `python tests/whole/regenerate.py [NAME …]`.

Whoever runs it reads the difference, number by number, before committing: wall radius, centre, leads.
"""

import json
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "support"))

from cases import VERSION, Case, all_cases, lasting
from roundwright.errors import RoundwrightError
from roundwright.version import __version__


def regenerate(case: Case) -> str:
    """Write one case's expected files; says what became of it."""
    try:
        outcome = case.correct()
    except RoundwrightError as error:
        return f"{case.name}: REFUSED {error}"
    assert outcome.output is not None
    output = outcome.output.replace(f"roundwright {__version__}".encode(), b"roundwright " + VERSION)
    (case.folder / "expected.nc").write_bytes(output)
    text = json.dumps(lasting(case.list()), indent=2, ensure_ascii=False) + "\n"
    (case.folder / "listing.json").write_bytes(text.encode())
    found = ", ".join(f"{c.feature.id} {c.reason or c.status}" for c in outcome.plan.corrections)
    return f"{case.name}: {found or 'no circles'}"


if __name__ == "__main__":
    for one in all_cases():
        if len(sys.argv) == 1 or one.name in sys.argv[1:]:
            print(regenerate(one))
