"""Every command that writes a file, as an argument list, and what a folder holds."""

from pathlib import Path

from command import TABLE

ADD = (
    *("table", "add", "-t", "router.toml", "--tool", "1", "-m", "birch ply", "--side", "hole"),
    *("--cut", "climb", "--programmed", "20", "--diameter", "19.85"),
)
#: arguments, and how large a file may become: less than the one that is written last.
WRITERS = {
    "-o": (("correct", "-t", "router.toml", "-o", "out.nc", "panel.nc"), 100),
    "-o onto a file": (("correct", "-t", "router.toml", "-o", "old.nc", "panel.nc"), 100),
    "--in-place": (("correct", "-t", "router.toml", "--in-place", "panel.nc"), 100),
    "--record": (
        ("correct", "-t", "router.toml", "-o", "out.nc", "--record", "job.json", "panel.nc"),
        100,
    ),
    "--report": (
        ("correct", "-t", "router.toml", "-o", "out.nc", "--report", "job.html", "panel.nc"),
        100,
    ),
    "table add": (ADD, len(TABLE)),
    "table new": (("table", "new", "-o", "new.toml", "--name", "mill"), 100),
}


def held(folder: Path) -> dict[str, bytes]:
    """Names and bytes of all files of a folder."""
    return {path.name: path.read_bytes() for path in sorted(folder.iterdir())}
