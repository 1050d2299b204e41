"""Names, roles and contrast of the report in the browser."""

from __future__ import annotations

import pytest

LOOKS = [(1400, False), (1400, True), (390, False), (390, True)]
RUN = (
    "const done = arguments[0]; axe.run(document, {resultTypes: ['violations']}).then(r => "
    "done(r.violations.map(v => [v.impact, v.id, v.nodes.slice(0, 3).map(n => n.html.slice(0, 160))])))"
)


@pytest.mark.published
@pytest.mark.parametrize(("width", "dark"), LOOKS)
@pytest.mark.parametrize("name", ["bearing-block", "left-alone"])
def test_the_checker_axe_core_finds_nothing_serious(show, reports, checker, name, width, dark):
    """Rules of WCAG 2 as axe-core (npm) knows them."""
    driver = show(reports / f"{name}.html", width, dark=dark)
    driver.execute_script("document.querySelectorAll('.pick')[1].click()")
    driver.execute_script(checker)
    found = driver.execute_async_script(RUN)
    assert [one for one in found if one[0] in ("serious", "critical")] == []


@pytest.mark.parametrize(("width", "dark"), LOOKS)
def test_everything_that_is_operated_has_a_name_and_a_role(show, reports, width, dark):
    driver = show(reports / "bearing-block.html", width, dark=dark)
    tree = driver.execute_cdp_cmd("Accessibility.getFullAXTree", {})["nodes"]
    told = [
        (node["role"]["value"], node.get("name", {}).get("value", "")) for node in tree if not node["ignored"]
    ]
    operated = [(role, name) for role, name in told if role in ("button", "image", "columnheader", "table")]
    assert len([1 for role, _ in operated if role == "button"]) >= 10
    assert [role for role, name in operated if not name and role not in ("table",)] == []
    headings = [name for role, name in told if role == "heading"]
    assert headings[:2] == ["bearing-block.nc", "Before you cut"]
    assert driver.execute_script("return document.documentElement.lang") == "en"
