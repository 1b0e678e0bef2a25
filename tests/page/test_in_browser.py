"""The page as a page: it opens, tells nobody, obeys the keyboard, reads aloud, fits a phone, and shows hostile text."""

import re

import pytest

import oscsim

DESIGNS = ("dockhand", "packet", "ferryman", "tidewaiter", "dinghy")


@pytest.mark.parametrize("name", DESIGNS)
def test_every_bundled_design_opens_without_a_complaint(browser, pages, name):
    movement, lesson, path = pages(name)
    browser.open(path, calm=False)
    shown = browser.soon(
        """for (const button of document.querySelectorAll("button")) if (!button.disabled) button.click();
        return { title: document.title, name: document.getElementById("name").textContent,
          loaded: performance.getEntriesByType("resource").length,
          cells: [...document.querySelectorAll("#readings td, #energy td")].map((c) => c.textContent) };"""
    )
    assert shown["name"] == movement.name
    assert shown["title"].startswith(movement.name)
    assert shown["loaded"] == 0
    assert not any(re.search("NaN|undefined|Infinity", cell) for cell in shown["cells"])
    for slider in lesson.sliders:
        for value in (slider.low, slider.high):
            browser.run(
                """const input = document.getElementById("slider-" + arguments[0]);
                input.value = arguments[1]; input.dispatchEvent(new Event("input"));""",
                slider.key,
                value,
            )
            text = browser.soon("return document.body.innerText")
            assert not re.search("NaN|undefined|Infinity", text)
    assert browser.complaints() == []


@pytest.mark.parametrize("theme", ["light", "dark"])
@pytest.mark.parametrize("width", [360, 390, 900, 1400])
def test_fits_the_width_and_can_be_read(browser, pages, theme, width):
    """Nothing runs off to the side, and text stands out from what is behind it by 4.5 to 1 (WCAG 2.1, 1.4.3)."""
    browser.open(pages("dockhand")[2], width=width, height=800, theme=theme)
    assert browser.soon("return document.documentElement.scrollWidth") <= width
    table = "const box = document.querySelector('.scroll'); return box.scrollWidth - box.clientWidth"
    assert browser.run(table) <= 0
    ratios = browser.run(
        r"""
        const light = (colour) => {
          const [r, g, b] = colour.match(/[\d.]+/g).map(Number).map((c) => c / 255)
            .map((c) => (c <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4));
          return 0.2126 * r + 0.7152 * g + 0.0722 * b;
        };
        const behind = (element) => {
          for (let e = element; e; e = e.parentElement) {
            const colour = getComputedStyle(e).backgroundColor;
            if (!/, 0\)$|transparent/.test(colour)) return colour;
          }
        };
        const found = [];
        for (const e of document.querySelectorAll("h1, h2, h3, p, th, td, label, output, summary, li, svg text")) {
          if (!e.textContent.trim() || !e.getClientRects().length) continue;
          const style = getComputedStyle(e);
          const ink = e.namespaceURI.endsWith("svg") ? style.fill : style.color;
          const [a, b] = [light(ink), light(behind(e))].sort((x, y) => y - x);
          found.push([(a + 0.05) / (b + 0.05), e.textContent.trim().slice(0, 40)]);
        }
        return found;"""
    )
    assert len(ratios) > 60
    assert [found for found in ratios if found[0] < 4.5] == []


BOX = """const box = (selector) => document.querySelector(selector).getBoundingClientRect();"""


def test_the_first_result_is_seen_beside_the_sliders(browser, pages):
    """On a phone the sheet of sliders leaves the first picture free; on a small laptop no column is cut."""
    browser.open(pages("dockhand")[2], width=390, height=844)
    sheet, picture = browser.soon(BOX + "return [box('.bench').top, box('#amplitudes').bottom]")
    assert picture < sheet
    browser.open(pages("dockhand")[2], width=844, height=390)
    right, left = browser.soon(BOX + "return [box('.bench').right, box('#amplitudes').left]")
    assert right < left
    browser.open(pages("dockhand")[2], width=1366, height=768)
    cut, bottoms = browser.soon(
        BOX
        + """const bench = document.querySelector('.bench');
        return [bench.scrollHeight - bench.clientHeight, ['.bench', '#works', '#next'].map((s) => box(s).bottom)]"""
    )
    assert cut <= 0
    assert max(bottoms) <= 768


def test_parts_have_names_and_the_stone_at_work_stands_out(browser, pages):
    """Names lie within the drawing, none on another; as the balance turns, first one stone works and then the other."""
    named = {
        "whole": {"balance", "hairspring", "fork", "lever", "banking", "entry stone", "exit stone", "escape wheel"},
        "fork": {"impulse pin", "impulse roller", "safety roller", "guard finger", "fork"},
        "pallets": {"entry stone", "exit stone", "lever", "escape wheel"},
    }  # fmt: skip
    for width, height in ((390, 844), (1366, 768)):
        browser.open(pages("dockhand")[2], width=width, height=height)
        for view, words in named.items():
            found, frame = browser.soon(
                BOX
                + f"""document.querySelector('input[value={view}]').click();
                const rim = (r) => [r.left, r.top, r.right, r.bottom];
                return [[...document.querySelectorAll('#works .names text')].map(
                  (t) => [t.textContent, rim(t.getBoundingClientRect())]), rim(box('#works'))];"""
            )
            assert {text for text, _ in found} == words
            for i, (_, (left, top, right, bottom)) in enumerate(found):
                assert left >= frame[0]
                assert right <= frame[2]
                assert top >= frame[1] - 2
                assert bottom <= frame[3]
                # an upright line of text is a little higher than its letters
                apart = [
                    right < other[0] or other[2] < left or bottom <= other[1] + 3 or other[3] <= top + 3
                    for _, other in found[:i]
                ]
                assert all(apart)
    stones = []
    for _ in range(12):
        browser.run("document.getElementById('next').click()")
        stones.append(browser.run("return document.getElementById('phase-stone').textContent"))
    ways = [stone.removeprefix("at the ").removesuffix(" stone") for stone in stones]
    assert ways == ["exit"] * 5 + ["entry"] * 6 + ["exit"]
    assert browser.run("return document.querySelectorAll('#works .stone.working').length") == 1
    browser.run("document.getElementById('named').click()")
    assert browser.run("return document.querySelectorAll('#works .names text').length") == 0


def test_the_keyboard_is_enough(browser, pages):
    from selenium.webdriver.common.keys import Keys

    browser.open(pages("dockhand")[2])
    driver = browser.driver
    torque = driver.find_element("id", "slider-torque")
    before = browser.soon(
        "return document.getElementById('readings').tBodies[0].rows[0].cells[1].dataset.value"
    )
    torque.send_keys(Keys.ARROW_LEFT)
    assert torque.get_attribute("value") == "99"
    assert torque.get_attribute("aria-valuetext").startswith("99 %")
    after = browser.soon(
        "return document.getElementById('readings').tBodies[0].rows[0].cells[1].dataset.value"
    )
    assert float(after) < float(before)
    # every control is reached by the tab key, in the order in which it stands
    wanted = browser.run(
        """const seen = [...document.querySelectorAll("a, select, summary, input, button")]
          .filter((e) => !e.disabled && !(e.type === "radio" && !e.checked) && e.getClientRects().length);
        seen[0].focus();
        return seen.map((e) => e.id || e.tagName + e.value);"""
    )
    reached = []
    for _ in wanted:
        active = "const e = document.activeElement; return e.id || e.tagName + (e.value ?? 'undefined')"
        reached.append(browser.run(active))
        driver.switch_to.active_element.send_keys(Keys.TAB)
    assert reached == wanted
    driver.find_element("id", "reset").send_keys(Keys.ENTER)
    assert torque.get_attribute("value") == "100"


def test_what_a_screen_reader_is_told(browser, pages):
    browser.open(pages("dockhand")[2])
    driver = browser.driver
    for control in driver.find_elements("css selector", "input, select, button"):
        assert control.accessible_name.strip(), control.get_attribute("id")
    assert driver.find_element("id", "slider-lock").accessible_name.startswith("Lock depth")
    for table in driver.find_elements("css selector", "table"):
        assert table.find_element("tag name", "caption").get_attribute("textContent")
    driver.find_element("id", "show-torque").click()
    assert driver.find_element("id", "answer-torque").text.startswith("Set the sliders first")
    driver.find_element("id", "set-torque").click()
    driver.find_element("id", "show-torque").click()
    answer = browser.soon("return document.getElementById('answer-torque').textContent")
    assert answer.startswith("With 70 %")
    browser.driver.execute_async_script("setTimeout(arguments[0], 700)")
    said = driver.find_element("id", "spoken").get_attribute("textContent")
    assert re.search(r"dial up: \d+°; 12 up: \d+°", said)
    assert browser.run("return document.documentElement.lang") == "en"


def test_motion_waits_for_those_who_asked_for_calm(browser, pages):
    path = pages("dockhand")[2]
    angle = "return document.getElementById('works').dataset.angle"
    browser.open(path, calm=True)
    before = browser.soon(angle)
    assert browser.soon(angle) == before
    assert browser.run("return document.getElementById('run').textContent") == "Run"
    browser.open(path, calm=False)
    before = browser.soon(angle)
    browser.driver.execute_async_script("setTimeout(arguments[0], 300)")
    assert browser.soon(angle) != before


def test_without_scripts_it_says_so(browser, pages):
    path = pages("dockhand")[2]
    browser.driver.execute_cdp_cmd("Emulation.setScriptExecutionDisabled", {"value": True})
    try:
        browser.open(path)
        text = browser.driver.find_element("css selector", "body").text
    finally:
        browser.driver.execute_cdp_cmd("Emulation.setScriptExecutionDisabled", {"value": False})
    assert "needs JavaScript" in text
    assert "Change the watch" not in text


HOSTILE = '</script><script>window.bad=1</script><img src=x onerror="window.bad=1">{{data}}]]>\u2028&lt;$1'


def test_text_of_a_design_stays_text(browser, tmp_path):
    movement = oscsim.load("dockhand").with_({"name": HOSTILE, "story": HOSTILE + "\n" + "x" * 3000})
    path = tmp_path / "hostile & <odd> name.html"
    oscsim.page(movement).save(path)
    browser.open(path, width=360)
    shown = browser.soon(
        """return { bad: window.bad ?? null, scripts: document.scripts.length, images: document.images.length,
          name: document.getElementById("name").textContent, wide: document.documentElement.scrollWidth,
          story: document.getElementById("story").textContent };"""
    )
    assert shown["bad"] is None
    assert shown["scripts"] == 2
    assert shown["images"] == 0
    assert shown["name"].startswith("</script><script>window.bad=1</script>")
    assert "{{data}}" in shown["name"]
    assert shown["story"].count("x") > 2999
    assert shown["wide"] <= 360
    assert browser.complaints() == []


def test_the_page_cannot_call_out(browser, pages):
    """Its own policy forbids it, whatever a script should try."""
    browser.open(pages("dockhand")[2])
    refused = browser.driver.execute_async_script(
        """const done = arguments[0];
        fetch("http://127.0.0.1:9/").then(() => done("went out"), (error) => done(String(error)));"""
    )
    assert "TypeError" in refused
    assert any("Content Security Policy" in message for message in browser.complaints())


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_the_map_gains_in_blue_and_loses_in_orange(browser, pages, theme):
    """As the picture of ``oscsim ratemap`` does."""
    browser.open(pages("dockhand")[2], theme=theme)
    ends = browser.soon(
        """const style = getComputedStyle(document.documentElement);
        return ["gain", "lose"].map((end) =>
          style.getPropertyValue("--map-" + end).trim().split(/\\s+/).map(Number));"""
    )
    (red, _, blue), (other_red, _, other_blue) = ends
    assert blue > red
    assert other_red > other_blue


def test_panels_follow_their_choices(browser, pages):
    """Every panel is drawn, and choosing shows what the engine computed for that combination."""
    browser.open(pages("dockhand")[2])
    for panel, index in (("choice", 1), ("day", 0), ("coil", 0), ("breathing", 0), ("escapements", 0)):
        before = browser.run(f"return document.querySelector('#panel-{panel} [role=status]').textContent")
        select = f"document.getElementById('panel-{panel}-{index}')"
        after = browser.soon(
            f"{select}.value = {select}.value === '0' ? '1' : '0'; {select}.dispatchEvent(new Event('input'));"
            f"return document.querySelector('#panel-{panel} [role=status]').textContent"
        )
        assert before
        assert after != before, panel
    assert browser.complaints() == []
