"""The report as a person meets it: mouse, keys, print, a phone, a dark room, and thousands of circles."""

from __future__ import annotations

import base64
import itertools

import pytest

NAMES = ["bearing-block", "jig-plate", "inch", "left-alone"]
WIDTHS = {"desk": 1400, "phone": 390}


def by(driver, css):
    return driver.find_elements("css selector", css)


def one(driver, css):
    return driver.find_element("css selector", css)


def keys():
    from selenium.webdriver.common.keys import Keys

    return Keys


def hands(driver):
    from selenium.webdriver import ActionChains

    return ActionChains(driver, duration=20)


def box(driver):
    return [float(part) for part in one(driver, ".plan").get_dom_attribute("viewBox").split()]


def column(driver, name):
    """A column's cells, from top to bottom."""
    heads = [head.text.split()[0] for head in by(driver, "#table thead th") if head.text]
    rows = "Array.from(document.querySelector('#table tbody').rows"
    script = f"return {rows}, row => row.cells[arguments[0]].innerText.trim())"
    return driver.execute_script(script, heads.index(name))


def complaints(driver):
    return [
        entry["message"] for entry in driver.get_log("browser") if entry["level"] in ("SEVERE", "WARNING")
    ]


@pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
@pytest.mark.parametrize("width", WIDTHS.values(), ids=WIDTHS.keys())
@pytest.mark.parametrize("name", NAMES)
def test_every_sample_opens_without_complaint_and_fits_the_page(show, reports, name, width, dark):
    driver = show(reports / f"{name}.html", width, dark=dark)
    assert complaints(driver) == []
    assert one(driver, "h1").text.endswith(".nc")
    assert driver.execute_script("return document.documentElement.scrollWidth <= innerWidth")
    assert len(by(driver, ".mark")) == len(by(driver, "#table tbody tr")) > 0
    names = driver.execute_script("return performance.getEntriesByType('resource').map(r => r.name)")
    assert [name for name in names if not name.startswith("data:")] == []
    back = driver.execute_script("return getComputedStyle(document.body).backgroundColor")
    assert (sum(int(part) for part in back[4:-1].split(",")) < 200) is dark


#: of each row, the left and right end of what is written in its cells, in screen pixels.
WRITTEN = """
return Array.from(document.querySelectorAll('#table tr'), row => Array.from(row.cells)
    .filter(cell => getComputedStyle(cell).display !== 'none').map(cell => {
        const range = document.createRange();
        range.selectNodeContents(cell.querySelector('button') || cell);
        const box = range.getBoundingClientRect();
        return [box.left, box.right];
    }))
"""


@pytest.mark.parametrize("width", [390, 800, 1200, 1400, 1600, 1920, 2560])
@pytest.mark.parametrize("name", NAMES)
def test_no_figure_runs_into_its_neighbour(show, reports, name, width):
    driver = show(reports / f"{name}.html", width)
    rows = driver.execute_script(WRITTEN)
    assert len(rows) > 5
    for row in rows:
        assert all(right + 2 <= left for (_, right), (left, _) in itertools.pairwise(row)), row


@pytest.mark.parametrize(("width", "height"), [(390, 800), (1000, 700), (1366, 720), (1920, 1080)])
def test_the_chosen_circle_and_what_is_known_of_it_are_in_sight_together(show, reports, width, height):
    driver = show(reports / "bearing-block.html", width, height)
    one(driver, "tr[data-id=C3] .pick").click()
    if width > 1328:  # else the plan stands above the table, and what is known at the foot of the window
        assert in_sight(driver, ".mark[data-id=C3] .rim")
    assert in_sight(driver, "#detail h3")


def in_sight(driver, css):
    """Whether the middle of an element is where a pointer would meet it or its own."""
    script = """
        const part = document.querySelector(arguments[0]), box = part.getBoundingClientRect();
        const met = document.elementFromPoint((box.left + box.right) / 2, (box.top + box.bottom) / 2);
        return met !== null && (part.contains(met) || part.parentNode.contains(met))
    """
    return driver.execute_script(script, css)


def test_a_caution_stands_before_everything_else(show, reports):
    driver = show(reports / "left-alone.html")
    first = by(driver, "main > *")[0]
    assert "in the air first" in first.text
    assert "5 circles left alone" in first.text
    assert "no-calibration" in one(driver, "dl.left").text


def test_pointing_at_a_row_marks_its_circle_and_back(show, reports):
    driver = show(reports / "bearing-block.html")
    hands(driver).move_to_element(one(driver, "tr[data-id=C9]")).perform()
    assert [mark.get_attribute("data-id") for mark in by(driver, ".mark.lit")] == ["C9"]
    hands(driver).move_to_element(one(driver, ".mark[data-id=C5] .sign")).perform()
    assert [row.get_attribute("data-id") for row in by(driver, "tr.lit")] == ["C5"]


def test_choosing_tells_all_and_shows_the_place_on_the_curve(show, reports):
    driver = show(reports / "bearing-block.html")
    hands(driver).move_to_element(one(driver, ".mark[data-id=C5] .sign")).click().perform()
    assert one(driver, "tr.chosen").get_attribute("data-id") == "C5"
    assert one(driver, "tr.chosen .pick").get_attribute("aria-pressed") == "true"
    told = one(driver, "#detail").text
    assert "35.000 mm, becomes 35.156 (+0.156)" in told
    assert "between 35 and 60" in told
    picture = one(driver, "#detail svg.curve")
    assert picture.find_element("css selector", ".band").is_displayed()
    assert picture.find_element("css selector", ".spot").is_displayed()
    one(driver, "tr.chosen .pick").click()
    assert by(driver, ".chosen") == []


def test_columns_sort_by_mouse_and_keyboard(show, reports):
    driver = show(reports / "bearing-block.html")
    head = by(driver, "#table thead button")[3]
    head.click()
    sizes = [float(text) for text in column(driver, "Diameter")]
    assert sizes == sorted(sizes)
    assert one(driver, "th[aria-sort=ascending]").text.startswith("Diameter")
    head.send_keys(keys().ENTER)
    assert [float(text) for text in column(driver, "Diameter")] == sorted(sizes, reverse=True)
    by(driver, "#table thead button")[0].send_keys(keys().SPACE)
    assert column(driver, "Circle") == [f"C{k}" for k in range(1, 11)]
    by(driver, "#table thead button")[6].click()
    assert column(driver, "Next")[-2:] == ["-", "-"]  # what is not known comes last


def test_rows_are_gone_through_with_the_arrow_keys(show, reports):
    driver = show(reports / "bearing-block.html")
    one(driver, ".pick").send_keys(keys().ARROW_DOWN)
    hands(driver).send_keys(keys().ARROW_DOWN).perform()
    assert driver.switch_to.active_element.text == "C3"
    assert one(driver, ".mark.lit").get_attribute("data-id") == "C3"
    hands(driver).send_keys(keys().ENTER).perform()
    assert one(driver, ".mark.chosen").get_attribute("data-id") == "C3"
    hands(driver).send_keys(keys().END).perform()
    assert driver.switch_to.active_element.text == "C10"
    tabbed = driver.execute_script("return document.querySelectorAll('.pick:not([tabindex=\"-1\"])').length")
    assert tabbed == 1


def test_the_plan_zooms_and_moves_by_keys_wheel_buttons_and_dragging(show, reports):
    driver = show(reports / "bearing-block.html")
    whole = box(driver)
    plan = one(driver, ".plan")
    plan.send_keys("+")
    near = box(driver)
    assert near[2] == pytest.approx(whole[2] / 1.5)
    plan.send_keys(keys().ARROW_RIGHT)
    assert box(driver)[0] > near[0]
    before = box(driver)
    hands(driver).drag_and_drop_by_offset(plan, 60, 0).perform()
    assert box(driver)[0] < before[0]
    plan.send_keys("0")
    assert box(driver) == whole
    scale = one(driver, ".scale text").get_attribute("textContent")
    turn = {"type": "mouseWheel", "x": 300, "y": 500, "deltaX": 0, "deltaY": -240}
    driver.execute_cdp_cmd("Input.dispatchMouseEvent", turn)
    assert box(driver)[2] < whole[2]
    one(driver, "[data-zoom=in]").click()
    one(driver, "[data-zoom=in]").click()
    assert one(driver, ".scale text").get_attribute("textContent") != scale
    one(driver, "[data-zoom=all]").click()
    assert box(driver) == whole


def test_zooming_goes_for_the_chosen_circle(show, reports):
    driver = show(reports / "bearing-block.html")
    one(driver, "tr[data-id=C1] .pick").click()
    for _ in range(6):
        one(driver, "[data-zoom=in]").click()
    x, y, width, height = box(driver)
    circle = one(driver, ".mark.chosen .rim")
    assert x < float(circle.get_attribute("cx")) < x + width
    assert y < float(circle.get_attribute("cy")) < y + height


def test_the_scale_bar_is_as_long_as_it_says(show, reports):
    driver = show(reports / "inch.html")
    text = one(driver, ".scale text").get_attribute("textContent")
    drawn = one(driver, ".scale path").get_attribute("d")
    length = float(drawn.split("h")[1].split("v")[0])  # mm
    assert text.endswith(" in")
    assert length == pytest.approx(25.4 * float(text.removesuffix(" in")))


def test_it_prints(show, reports):
    driver = show(reports / "bearing-block.html")
    for width, height in ((8.27, 11.69), (8.5, 11.0)):
        paper = {"paperWidth": width, "paperHeight": height, "printBackground": False}
        data = base64.b64decode(driver.execute_cdp_cmd("Page.printToPDF", paper)["data"])
        assert data.startswith(b"%PDF")
        assert 1 <= data.count(b"/Type /Page\n") <= 2


@pytest.mark.parametrize("name", ["panel", "coupon"])
def test_the_measuring_sheet_fits_on_paper(show, sheets, name):
    driver = show(sheets / f"{name}.html", 703)  # px: A4 within its margins of 12 mm
    assert complaints(driver) == []
    driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": "print"})
    assert driver.execute_script("return document.documentElement.scrollWidth <= 703")
    boxes = [box.size for box in by(driver, "td.box")]
    assert min(box["width"] for box in boxes) > 50 and min(box["height"] for box in boxes) > 30
    assert max(box["width"] for box in boxes) < 100
    if name == "panel":  # ids of circles on one centre stand apart
        places = [(part.rect["x"], part.rect["y"]) for part in by(driver, "svg text")]
        assert len(set(places)) == len(places)


def test_on_paper_the_scale_is_written_as_large_as_the_ids(show, reports):
    driver = show(reports / "bearing-block.html", 1000, 500)
    driver.execute_script("dispatchEvent(new Event('beforeprint'))")
    scale, letters = (
        float(one(driver, css).get_attribute("font-size"))
        for css in (".scale text", ".mark[data-id=C5] text")
    )
    assert 0.5 < scale / letters < 1.1
    driver.execute_script("dispatchEvent(new Event('afterprint'))")
    assert float(one(driver, ".scale text").get_attribute("font-size")) > 1.5 * scale


def test_thousands_of_circles_stay_usable(show, many, record_property):
    paints = []
    for _ in range(5):  # the machine may be busy with other things
        driver = show(many)
        paints.append(driver.execute_script("return performance.getEntriesByType('paint')[0].startTime"))
        if paints[-1] < 1000:
            break
    record_property("report of 5,000 circles, first paint, ms", min(paints))
    assert min(paints) < 1000
    assert complaints(driver) == []
    assert len(by(driver, ".mark")) == 5000
    timed = "const t = performance.now(); {} document.body.offsetHeight; return performance.now() - t"
    sorts = []
    while len(sorts) % 2 == 0 or (min(sorts) > 2000 and len(sorts) < 7):  # ends upwards, as it begins
        click = "document.querySelectorAll('#table thead button')[3].click();"
        sorts.append(driver.execute_script(timed.format(click)))
    choose = driver.execute_script(timed.format("document.querySelectorAll('.pick')[2500].click();"))
    record_property("report of 5,000 circles, sorting, ms", min(sorts))
    record_property("report of 5,000 circles, choosing, ms", choose)
    assert min(sorts) < 8000
    assert choose < 2000
    sizes = [float(text) for text in column(driver, "Diameter")]
    assert sizes == sorted(sizes)
    assert one(driver, ".mark.chosen").is_displayed()
