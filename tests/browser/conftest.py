"""A headless browser, where there is one, and the reports of every sample."""

from __future__ import annotations

import os
import shutil
from pathlib import Path

import pytest

import command
import outcomes
from roundwright.calibration import open_table
from source_tree import ROOT

SAMPLES = ROOT / "samples"
#: program, table, options: every sample, and one whose circles are all left alone.
JOBS = {
    "bearing-block": ("bearing-block.nc", "shop-router.toml", ()),
    "jig-plate": ("jig-plate.nc", "shop-router.toml", ("-m", "mdf")),
    "inch": ("bearing-block-inch.nc", "shop-mill.toml", ()),
    "left-alone": ("jig-plate.nc", "shop-router.toml", ("-m", "acrylic")),
}
FLAGS = (
    *("--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run"),
    *("--disable-background-networking", "--disable-component-update", "--disable-sync"),
)
MANY = 5000


def pytest_terminal_summary(terminalreporter):
    """Tell what was timed: the reports bring it from the processes that ran the tests."""
    for outcome in ("passed", "failed"):
        for report in terminalreporter.stats.get(outcome, ()):
            for what, milliseconds in getattr(report, "user_properties", ()):
                if what.endswith(", ms"):
                    terminalreporter.write_line(f"{what.removesuffix(', ms')}: {milliseconds:.0f} ms")


@pytest.fixture(scope="session")
def driver(tmp_path_factory):
    """The browser; without one every test that needs it is skipped, and says so."""
    browser, engine = (shutil.which(name) for name in ("chromium", "chromedriver"))
    if browser is None or engine is None:
        pytest.skip("no headless browser here: apt-get install chromium chromium-driver")
    webdriver = pytest.importorskip("selenium.webdriver", reason="no selenium here: pip install selenium")
    from selenium.webdriver.chrome.service import Service

    options = webdriver.ChromeOptions()
    options.binary_location = browser
    for flag in (*FLAGS, f"--user-data-dir={tmp_path_factory.mktemp('profile')}"):
        options.add_argument(flag)
    options.set_capability("goog:loggingPrefs", {"browser": "ALL"})
    driver = webdriver.Chrome(options=options, service=Service(engine))
    driver.execute_cdp_cmd("Network.enable", {})
    driver.set_script_timeout(120)
    yield driver
    driver.quit()


@pytest.fixture
def show(driver):
    """Opens a page at a size, in light or dark; gives the driver."""

    def opened(page: Path, width: int = 1400, height: int = 900, dark: bool = False):
        metrics = {"width": width, "height": height, "deviceScaleFactor": 1, "mobile": width < 600}
        driver.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", metrics)
        scheme = {"name": "prefers-color-scheme", "value": "dark" if dark else "light"}
        driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": "", "features": [scheme]})
        driver.get_log("browser")
        driver.get(page.as_uri())
        return driver

    return opened


@pytest.fixture(scope="session")
def reports(tmp_path_factory):
    """The report of each job, as the command writes it."""
    folder = tmp_path_factory.mktemp("reports")
    for name, (program, table, options) in JOBS.items():
        page = folder / f"{name}.html"
        run = command.run(
            "correct", "-n", "-t", SAMPLES / table, *options, "--report", page, SAMPLES / program
        )
        assert run.status == 0, run.err
    return folder


@pytest.fixture(scope="session")
def many(tmp_path_factory):
    """A report of 5,000 circles."""
    from roundwright.report.html import report_html

    few = outcomes.outcome(outcomes.HEAD + outcomes.pocket(20, 20, (1.5, 3)) + "M30\n")
    page = tmp_path_factory.mktemp("many") / "many.html"
    page.write_text(report_html(spread(few, MANY)), encoding="utf-8")
    return page


def spread(few, count):
    """The outcome with its one correction again and again, a grid of circles of fifty sizes."""
    from types import SimpleNamespace

    from msgspec.structs import replace

    first = few.plan.corrections[0]
    made = []
    for k in range(count):
        size = 0.02 * (k * 7 % 50)
        wall = replace(
            first.feature.wall,
            centre=(20 + 20 * (k % 100), 20 + 20 * (k // 100)),
            radius=first.feature.wall.radius + size,
        )
        feature = replace(
            first.feature, id=f"C{k + 1}", wall=wall, diameter=first.feature.diameter + 2 * size
        )
        made.append(replace(first, feature=feature, corrected=feature.diameter + first.change))
    table = open_table(command.TABLE.replace("10.0, diameter = 9.9", "8.0, diameter = 7.9"), "router.toml")
    plan = replace(few.plan, corrections=tuple(made))
    return SimpleNamespace(**{**vars(few), "plan": plan, "table": table})


@pytest.fixture(scope="session")
def checker():
    """The text of the accessibility checker axe-core, where `AXE_CORE` names its file."""
    path = os.environ.get("AXE_CORE")
    if not path:
        pytest.skip("no axe-core here: npm pack axe-core, unpack it, AXE_CORE=package/axe.min.js")
    return Path(path).read_text(encoding="utf-8")


@pytest.fixture(scope="session")
def sheets(tmp_path_factory):
    """The measuring sheet of a job and that of a coupon."""
    folder = tmp_path_factory.mktemp("sheets")
    table, record = SAMPLES / "shop-router.toml", folder / "panel.json"
    job = (
        "correct",
        "-q",
        "-t",
        table,
        "--record",
        record,
        "-o",
        folder / "c.nc",
        SAMPLES / "bearing-block.nc",
    )
    coupon = ("measure", SAMPLES / "beech-coupon.json", "-t", table, "--sheet", folder / "coupon.html")
    for words in (job, ("measure", record, "-t", table, "--sheet", folder / "panel.html"), coupon):
        run = command.run(*words)
        assert run.status == 0, run.err
    return folder
