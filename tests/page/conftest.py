"""A real browser for the teaching page: Chromium without a window, driven through its own driver."""

import os
import shutil
import tempfile

import pytest

import oscsim

#: Set by CI, where the browser must be there; elsewhere its absence skips these tests.
NEEDED = os.environ.get("OSCSIM_BROWSER") == "needed"
FLAGS = (
    "--headless",
    "--no-sandbox",  # a sandbox needs more than a container's root has
    "--disable-gpu",
    "--disable-dev-shm-usage",  # containers have little shared memory
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)


class Browser:
    """The driver, with what these tests ask of it again and again."""

    def __init__(self, driver):
        self.driver = driver

    def open(self, path, width=1280, height=900, theme="light", calm=True):
        """Open a page at a size and in a theme; with ``calm`` nothing moves by itself."""
        self.size(width, height)
        features = [
            {"name": "prefers-color-scheme", "value": theme},
            {"name": "prefers-reduced-motion", "value": "reduce" if calm else "no-preference"},
        ]
        self.driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"features": features})
        self.complaints()
        self.driver.get(path.as_uri())

    def size(self, width, height):
        told = {"width": width, "height": height, "deviceScaleFactor": 1, "mobile": width < 600}
        self.driver.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", told)

    def run(self, script, *arguments):
        return self.driver.execute_script(script, *arguments)

    def soon(self, script, *arguments):
        """Run after the next two frames, when the page has answered."""
        later = "const [done, ...a] = [arguments[arguments.length - 1], ...arguments];"
        frames = f"requestAnimationFrame(() => requestAnimationFrame(() => done((() => {{{script}}})())));"
        return self.driver.execute_async_script(later + frames, *arguments)

    def complaints(self):
        """What the console has had to say since last asked."""
        return [entry["message"] for entry in self.driver.get_log("browser")]


@pytest.fixture(scope="session")
def browser():
    chromium, driver = shutil.which("chromium"), shutil.which("chromedriver")
    try:
        from selenium import webdriver
        from selenium.webdriver.chrome.service import Service
    except ImportError:
        webdriver = None
    missing = [
        name
        for name, found in (("selenium", webdriver), ("chromium", chromium), ("chromedriver", driver))
        if not found
    ]
    if missing:
        assert not NEEDED, f"{', '.join(missing)} must be there"
        pytest.skip(f"no {', '.join(missing)}")
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as profile:
        options = webdriver.ChromeOptions()
        options.binary_location = chromium
        for flag in (*FLAGS, f"--user-data-dir={profile}"):
            options.add_argument(flag)
        options.set_capability("goog:loggingPrefs", {"browser": "ALL"})
        started = webdriver.Chrome(options=options, service=Service(driver))
        try:
            started.set_script_timeout(30)
            yield Browser(started)
        finally:
            started.quit()


@pytest.fixture(scope="session")
def pages(tmp_path_factory):
    """The pages of the bundled designs, regulated as a teacher would have them; made when first asked for."""
    folder, made = tmp_path_factory.mktemp("pages"), {}

    def page(name):
        if name not in made:
            movement = oscsim.regulate(oscsim.load(name))
            path = folder / f"{name}.html"
            made[name] = (movement, oscsim.page(movement), path)
            made[name][1].save(path)
        return made[name]

    return page
