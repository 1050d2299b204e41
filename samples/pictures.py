"""The pictures of README.md, made anew by the tool itself from the samples.

    python3 samples/pictures.py [FOLDER]

Needs a headless Chromium with its driver (apt-get install chromium chromium-driver) and the libraries of
`pip install "roundwright[test]"`. Without FOLDER the pictures in samples/pictures are replaced. Each one
holds the fingerprint of what it shows; a test says when the pictures are out of date.
"""

from __future__ import annotations

import csv
import io
import shutil
import subprocess
import sys
import tempfile
import time
from base64 import b64decode
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path
from typing import Any

HERE = Path(__file__).resolve().parent
TEMPLATES = HERE.parent / "src" / "roundwright" / "report" / "templates"
KEY = "made from"  # the fingerprint's name in a picture
#: of the listing, what the pictures show whatever else is said of the circles.
SHOWN = ("id", "side", "diameter", "corrected_diameter", "expanded_uncertainty", "status")
COUPON = (
    *("--tool", "1", "-m", "beech", "--diameters", "10,20,35", "--side", "hole", "--cut", "both"),
    *("--depth", "6", "--stepdown", "3", "--stepover", "2.4", "--feed", "1500", "--plunge", "500"),
    *("--speed", "16000", "--stock", "300,240,18"),
)
COLOURS = 128  # of a picture: enough for what is drawn, and small


@dataclass(frozen=True)
class Shot:
    """A photograph of a page: the window, what is pressed before, and how much of it is kept."""

    page: str
    width: int
    height: int
    scale: float = 1.0
    dark: bool = False
    script: str = ""


CHOOSE = "document.querySelector('tr[data-id={}] .pick').click();"
SHOTS = {
    "report.png": Shot("panel.report.html", 1340, 1200, script=CHOOSE.format("C5") + "scrollTo(0, 0)"),
    "phone.png": Shot(
        "panel.report.html",
        width=390,
        height=844,
        scale=1.5,
        dark=True,
        script=CHOOSE.format("C10") + "document.querySelector('.look').scrollIntoView()",
    ),
    "sheet.png": Shot("beech.sheet.html", 800, 1100),
}
PICTURES = (*SHOTS, "table.png")


def tool(*words: str, folder: Path) -> str:
    """Run the tool; what it wrote to standard output."""
    command = [sys.executable, "-m", "roundwright", *words]
    done = subprocess.run(command, cwd=folder, capture_output=True, text=True, encoding="utf-8", check=False)
    if done.returncode:
        sys.exit(f"{' '.join(words)}: {done.stderr}")
    return done.stdout


def copies(folder: Path) -> None:
    """The sample's program and table, under the names that the pictures show."""
    shutil.copy(HERE / "bearing-block.nc", folder / "bearing-block.nc")
    shutil.copy(HERE / "shop-router.toml", folder / "shop-router.toml")


def fingerprint() -> str:
    """Of all that decides what the pictures show: the pages' templates, the samples, the corrections."""
    parts = [path.read_bytes() for path in sorted(TEMPLATES.iterdir())]
    with tempfile.TemporaryDirectory() as name:
        copies(Path(name))
        listing = tool(
            "correct",
            "-t",
            "shop-router.toml",
            "-n",
            "--format",
            "csv",
            "bearing-block.nc",
            folder=Path(name),
        )
    rows = csv.DictReader(io.StringIO(listing))
    parts += ["|".join(row[column] for column in SHOWN).encode() for row in rows]
    parts += [(HERE / name).read_bytes() for name in ("bearing-block.nc", "shop-router.toml")]
    return sha256(b"\0".join(part.replace(b"\r\n", b"\n") for part in parts)).hexdigest()


def pages(folder: Path) -> None:
    """The report, the sheet and the table's picture, as a user gets them."""
    copies(folder)
    table = ("-t", "shop-router.toml")
    tool(
        "correct",
        "-q",
        *table,
        "-o",
        "panel-c.nc",
        "--report",
        "panel.report.html",
        "bearing-block.nc",
        folder=folder,
    )
    coupon = ("-o", "beech-coupon.nc", "--record", "beech-coupon.json", "--sheet", "beech.sheet.html")
    tool("coupon", *table, *COUPON, *coupon, folder=folder)
    tool("table", "plot", *table, "-o", "table.png", folder=folder)


def browser(profile: Path) -> Any:
    """A headless Chromium."""
    from selenium import webdriver
    from selenium.webdriver.chrome.service import Service

    program, engine = shutil.which("chromium"), shutil.which("chromedriver")
    if program is None or engine is None:
        sys.exit("no headless browser here: apt-get install chromium chromium-driver")
    options = webdriver.ChromeOptions()
    options.binary_location = program
    for flag in ("--headless", "--no-sandbox", "--disable-gpu", "--hide-scrollbars", "--no-first-run"):
        options.add_argument(flag)
    options.add_argument(f"--user-data-dir={profile}")
    return webdriver.Chrome(options=options, service=Service(engine))


def photographed(driver: Any, shot: Shot, folder: Path) -> bytes:
    """The page as PNG."""
    phone = shot.width < 600
    window = {"width": shot.width, "height": shot.height, "deviceScaleFactor": shot.scale, "mobile": phone}
    driver.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", window)
    features = [
        {"name": "prefers-color-scheme", "value": "dark" if shot.dark else "light"},
        {"name": "hover", "value": "none" if phone else "hover"},
    ]
    driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": "", "features": features})
    driver.get((folder / shot.page).as_uri())
    driver.execute_script(shot.script)
    time.sleep(0.3)  # until it is laid out and painted
    return b64decode(driver.execute_cdp_cmd("Page.captureScreenshot", {"format": "png"})["data"])


def kept(data: bytes, path: Path, made_from: str) -> None:
    """The picture in few colours, with its fingerprint."""
    from PIL import Image
    from PIL.PngImagePlugin import PngInfo

    picture = Image.open(io.BytesIO(data)).convert("RGB").quantize(COLOURS, dither=Image.Dither.NONE)
    note = PngInfo()
    note.add_text(KEY, made_from)
    picture.save(path, optimize=True, pnginfo=note)


def main() -> None:
    """Make all pictures."""
    target = Path(sys.argv[1]) if len(sys.argv) > 1 else HERE / "pictures"
    target.mkdir(exist_ok=True)
    made_from = fingerprint()
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as name:
        folder = Path(name)
        pages(folder)
        driver = browser(folder / "profile")
        try:
            for picture, shot in SHOTS.items():
                kept(photographed(driver, shot, folder), target / picture, made_from)
        finally:
            driver.quit()
        kept((folder / "table.png").read_bytes(), target / "table.png", made_from)
    for picture in PICTURES:
        print(f"{target / picture}: {(target / picture).stat().st_size} bytes")


if __name__ == "__main__":
    main()
