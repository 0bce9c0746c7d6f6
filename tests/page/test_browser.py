"""The page in a real browser: the main job, dragging, a bookmark, bad input, dark, narrow and wide, what it asks for.

The browser is Debian's chromium with chromium-driver. Where it is missing the tests are left out, unless CRYSTAL_BROWSER
demands them; CRYSTAL_AXE names the file of the accessibility checker axe-core, which its own test needs.
"""

from __future__ import annotations

import json
import os
import shutil
import threading
import time
from pathlib import Path
from urllib.parse import urlencode, urlsplit

import pytest

from tests.page.conftest import spaced
from tests.page.test_page import POT

CHROMIUM, DRIVER = shutil.which("chromium"), shutil.which("chromedriver")
DEMANDED = bool(os.environ.get("CRYSTAL_BROWSER"))
AXE = os.environ.get("CRYSTAL_AXE", "")
FLAGS = ("--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
         "--disable-background-networking", "--disable-component-update", "--disable-sync")  # fmt: skip

if not (CHROMIUM and DRIVER) and not DEMANDED:
    pytest.skip("chromium and chromium-driver are not installed", allow_module_level=True)
webdriver = pytest.importorskip("selenium.webdriver", reason="selenium is not installed")


@pytest.fixture(scope="module")
def address():
    import waitress

    from crystal.data.catalogue import Catalogue
    from crystal.faces.cli.page import HOST, _port
    from crystal.faces.page.app import make_app

    port = _port(None)
    server = waitress.create_server(make_app(Catalogue.bundled(), port), host=HOST, port=port, threads=4)
    threading.Thread(target=server.run, daemon=True).start()
    yield f"http://{HOST}:{port}"
    server.close()


@pytest.fixture(scope="module")
def browser(tmp_path_factory):
    from selenium.webdriver.chrome.service import Service

    options = webdriver.ChromeOptions()
    options.binary_location = CHROMIUM
    for flag in (*FLAGS, f"--user-data-dir={tmp_path_factory.mktemp('profile')}"):
        options.add_argument(flag)
    options.set_capability("goog:loggingPrefs", {"browser": "ALL", "performance": "ALL"})
    opened = webdriver.Chrome(options=options, service=Service(DRIVER))
    yield opened
    opened.quit()


@pytest.fixture
def seen(browser, address):
    """The browser with a clean log; afterwards nothing was complained of and nothing left this machine."""
    look(browser)
    browser.get("about:blank")
    for kind in ("browser", "performance"):
        browser.get_log(kind)
    yield browser
    assert browser.get_log("browser") == []
    asked = []
    for entry in browser.get_log("performance"):
        message = json.loads(entry["message"])["message"]
        if message["method"] == "Network.requestWillBeSent":
            asked.append(message["params"]["request"]["url"])
    web = [url for url in asked if urlsplit(url).scheme not in ("about", "data")]
    assert web, "the log tells of no request at all"
    assert {f"http://{urlsplit(url).netloc}" for url in web} == {address}


def look(browser, *, width=1280, scheme="light"):
    browser.execute_cdp_cmd(
        "Emulation.setEmulatedMedia", {"features": [{"name": "prefers-color-scheme", "value": scheme}]}
    )
    browser.execute_cdp_cmd(
        "Emulation.setDeviceMetricsOverride",
        {"width": width, "height": 900, "deviceScaleFactor": 1, "mobile": False},
    )


def until(condition, what):
    end = time.monotonic() + 20
    while time.monotonic() < end:
        found = condition()
        if found:
            return found
        time.sleep(0.05)
    raise AssertionError(f"never seen: {what}")


def part(browser, name):
    return spaced(
        browser.execute_script("return document.getElementById(arguments[0])?.innerText || ''", name)
    )


def drag(browser, value):
    browser.execute_script(
        "const s = document.getElementById('stop'); s.focus(); s.value = arguments[0];"
        "s.dispatchEvent(new Event('input', {bubbles: true}));",
        value,
    )


def fill(browser, **texts):
    from selenium.webdriver.common.by import By
    from selenium.webdriver.common.keys import Keys

    for key, text in texts.items():
        box = browser.find_element(By.ID, key)
        box.clear()
        box.send_keys(text, Keys.TAB)


def test_from_an_empty_page_to_advice_by_keyboard(seen, address):
    seen.get(address)
    assert part(seen, "outcome") == ""
    fill(seen, salt="Epsom salt", holds=POT["holds"], volume=POT["volume"], cool="5 C")
    assert until(lambda: part(seen, "outcome"), "an outcome") == "crop"
    assert "Stop at" in part(seen, "answer")
    assert "salt=Epsom+salt" in seen.current_url


def test_dragging_redraws_and_the_bookmark_gives_the_same(seen, address):
    seen.get(f"{address}/?{urlencode(POT)}")
    words = {}
    for stop in (450, 150, 110, 250):
        drag(seen, stop)
        until(lambda stop=stop: part(seen, "a-size").startswith(f"{stop} mL"), f"{stop} mL")
        words[stop] = part(seen, "outcome")
    assert words == {450: "clear", 150: "thick", 110: "set solid", 250: "crop"}
    assert "stop=250" in seen.current_url
    assert "250 mL: crop" in seen.execute_script("return document.getElementById('said').textContent")
    before = part(seen, "answer")
    seen.get(seen.current_url)
    assert part(seen, "answer") == before
    assert seen.execute_script("return document.getElementById('stop').value") == "250"


def test_arrow_keys_move_the_slider(seen, address):
    from selenium.webdriver.common.by import By
    from selenium.webdriver.common.keys import Keys

    seen.get(f"{address}/?{urlencode({**POT, 'stop': '300'})}")
    slider = seen.find_element(By.ID, "stop")
    slider.send_keys(Keys.ARROW_LEFT * 5)
    until(lambda: "stop=295" in seen.current_url, "the slider at 295 mL, five steps on")


def test_bad_input_is_told_beside_its_field_and_mended(seen, address):
    seen.get(f"{address}/?{urlencode(POT)}")
    fill(seen, volume="5")
    until(lambda: "needs a unit" in part(seen, "volume-fault"), "the fault")
    assert (
        seen.execute_script("return document.getElementById('volume').getAttribute('aria-invalid')") == "true"
    )
    fill(seen, volume="500 mL")
    until(lambda: part(seen, "outcome") == "crop", "the answer again")
    assert part(seen, "volume-fault") == ""


def test_a_fault_in_a_folded_part_unfolds_it_and_better_tools_let_it_go_further(seen, address):
    def folded():
        return seen.execute_script("return !document.getElementById('doubt_volume').closest('details').open")

    seen.get(f"{address}/?{urlencode(POT)}")
    before = float(part(seen, "a-size").split(" mL")[0])
    assert folded()
    seen.execute_script(
        "const e = document.getElementById('doubt_volume'); e.value = 'a guess';"
        "e.dispatchEvent(new Event('change', {bubbles: true}));"
    )
    until(lambda: "an instrument: beaker mark" in part(seen, "doubt_volume-fault"), "the fault")
    assert not folded()
    fill(seen, doubt_volume="measuring cylinder", doubt_temperature="thermometer")
    until(lambda: float((part(seen, "a-size") or "1e9").split(" mL")[0]) < 0.9 * before, "a later end point")
    assert "doubt_temperature=thermometer" in seen.current_url


def test_the_form_works_without_script(seen, address):
    from selenium.webdriver.common.by import By

    seen.execute_cdp_cmd("Emulation.setScriptExecutionDisabled", {"value": True})
    try:
        seen.get(f"{address}/?{urlencode({**POT, 'cool': '10 C'})}")
        seen.find_element(By.CSS_SELECTOR, "#plan button").click()
        until(lambda: "stop=" in seen.current_url, "the form sent")
    finally:
        seen.execute_cdp_cmd("Emulation.setScriptExecutionDisabled", {"value": False})
    assert "crop" in seen.page_source


def test_a_saved_batch_is_opened_again(seen, address, tmp_path):
    from selenium.webdriver.common.by import By

    written = tmp_path / "batch.toml"
    written.write_text(
        'salt = "KNO3"\n[start]\nholds = "100 g"\nwater = "300 g"\n[cool]\nto = "10 C"\n', "utf-8"
    )
    seen.get(address)
    seen.find_element(By.ID, "file").send_keys(str(written))
    seen.find_element(By.CSS_SELECTOR, ".files button").click()
    assert until(lambda: part(seen, "outcome"), "an outcome") == "crop"
    assert "salt=KNO3" in seen.current_url


SCREENS = {
    "empty": {},
    "plan": {**POT, "doubt_volume": "measuring cylinder", "want": "60 g"},
    "all": {**POT, "stop": "130", "deg": "F", "vol": "floz", "saw": "set", "left": "harvest,keep"},
    "fault": {**POT, "doubt_volume": "5 K"},
}


@pytest.mark.parametrize("screen", SCREENS)
@pytest.mark.parametrize("width", [360, 1280])
def test_nothing_overflows(seen, address, screen, width):
    look(seen, width=width)
    seen.get(f"{address}/?{urlencode(SCREENS[screen])}")
    shown, room = seen.execute_script(
        "const e = document.documentElement; return [e.scrollWidth, e.clientWidth]"
    )
    assert shown <= room <= width


def test_dark_is_dark(seen, address):
    grounds = {}
    for scheme in ("light", "dark"):
        look(seen, scheme=scheme)
        seen.get(f"{address}/?{urlencode(POT)}")
        colours = seen.execute_script(
            "const c = (q, p) => getComputedStyle(document.querySelector(q))[p];"
            "return [c('body', 'backgroundColor'), c('svg text', 'fill'), c('svg rect.crop', 'fill')]"
        )
        grounds[scheme] = [sum(map(int, colour[4:-1].split(","))) for colour in colours]
    assert grounds["dark"][0] < 120 < 600 < grounds["light"][0]
    assert grounds["dark"][1] > 600 > 200 > grounds["light"][1]
    assert grounds["dark"][2] < 300 < grounds["light"][2]


@pytest.mark.skipif(not AXE and not DEMANDED, reason="CRYSTAL_AXE names no axe-core to check with")
@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("screen", SCREENS)
@pytest.mark.parametrize("width", [360, 1280])
def test_no_serious_finding_of_accessibility(seen, address, screen, scheme, width):
    look(seen, width=width, scheme=scheme)
    seen.get(f"{address}/?{urlencode(SCREENS[screen])}")
    source = Path(AXE).read_text(encoding="utf-8")
    seen.execute_cdp_cmd("Runtime.evaluate", {"expression": source})
    found = seen.execute_async_script("const done = arguments[0]; axe.run().then(done)")
    assert len(found["passes"]) > 10
    serious = [
        (one["id"], one["impact"], [node["html"][:160] for node in one["nodes"][:3]])
        for one in found["violations"]
        if one["impact"] in ("serious", "critical")
    ]
    assert not serious
