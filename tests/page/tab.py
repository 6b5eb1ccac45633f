"""A server on a thread, and a tab of a real browser that says what is wrong with what it shows."""

from __future__ import annotations

import threading
from contextlib import contextmanager
from pathlib import Path

import uvicorn

from optimizer.page.app import application
from optimizer.page.folder import Folder
from optimizer.page.house import House
from optimizer.page.serve import listening

LOOKS = Path(__file__).with_name("looks.js").read_text(encoding="utf-8")
#: numbers what can be used, and writes down what the focus comes to; of radio buttons one stands
#: for all, which the arrows reach
USABLE = """() => {
  document.activeElement.blur();
  scrollTo(0, 0);
  window.came = [];
  document.addEventListener("focusin", (event) => window.came.push(event.target.dataset.at));
  const kinds = "a[href], button:not(:disabled), input:not([type=hidden]), select, textarea, "
    + "summary, pre[tabindex]";
  const seen = [...document.querySelectorAll(kinds)].filter((el) =>
    el.checkVisibility({ visibilityProperty: true }) && (el.type !== "radio" || el.checked));
  return Object.fromEntries(
    seen.map((el, at) => [el.dataset.at = String(at), el.outerHTML.slice(0, 120)]));
}"""
PHONE, DESK = (360, 740), (1280, 800)
#: bytes of a page with all that it loads
MOST_BYTES = 150_000


@contextmanager
def serving(folder, phone=False):
    """Serve a folder on a thread of this process; gives its house."""
    doors, sockets = listening(None, phone)
    house = House(Folder.of(folder), doors)
    server = uvicorn.Server(
        uvicorn.Config(application(house), log_level="critical", ws="none", lifespan="on")
    )
    thread = threading.Thread(target=server.run, args=(sockets,))
    thread.start()
    try:
        yield house
    finally:
        house.closing = True
        server.should_exit = True
        thread.join(10)
        for one in sockets:
            one.close()


class Tab:
    """A page of the browser that notes what it should not see."""

    def __init__(self, chromium, size, scheme):
        width, height = size
        self.context = chromium.new_context(
            viewport={"width": width, "height": height}, color_scheme=scheme
        )
        self.context.set_default_timeout(15_000)
        self.page = self.context.new_page()
        self.faults: list[str] = []
        self.page.on("console", lambda said: self.faults.append(said.text))
        self.page.on("pageerror", lambda error: self.faults.append(str(error)))
        self.page.on("request", self._asked)

    def __enter__(self):
        return self

    def __exit__(self, kind, error, trace):
        self.context.close()
        assert kind is not None or not self.faults, self.faults

    def _asked(self, request):
        if not request.url.startswith("http://127.0.0.1:"):
            self.faults.append(f"asked for {request.url}")

    def becomes(self, size, scheme):
        """Show the same page at another size and in other colours."""
        self.page.set_viewport_size({"width": size[0], "height": size[1]})
        self.page.emulate_media(color_scheme=scheme)

    def looks(self):
        """Open everything that is folded, and look at it all."""
        self.page.wait_for_load_state("load")
        for summary in self.page.query_selector_all("details:not([open]) > summary"):
            summary.evaluate("el => { el.parentElement.open = true; }")
        wrong = self.page.evaluate(LOOKS)
        assert not wrong, wrong
        assert self.weight() < MOST_BYTES, self.weight()

    def rules(self):
        """Hold it against the rules of axe-core; what is folded was opened by `looks`."""
        wrong = violations(self.page)
        assert not wrong, wrong

    def keys(self):
        """Go through the page with Tab alone; every thing that can be used must come by."""
        wanted = self.page.evaluate(USABLE)
        for _ in range(len(wanted) + 5):  # and a little more, for the browser's own stops
            self.page.keyboard.press("Tab")
        came = self.page.evaluate("() => window.came")
        left = [html for at, html in wanted.items() if at not in came]
        assert not left, left

    def weight(self):
        """Bytes of the page as it is now, and of everything that it loads."""
        return self.page.evaluate(
            "() => performance.getEntriesByType('resource').concat("
            "performance.getEntriesByType('navigation'))"
            ".filter((one) => one.initiatorType !== 'fetch')"
            ".reduce((sum, one) => sum + (one.encodedBodySize || 0), 0)"
        )


def violations(page):
    """What axe-core finds against the rules of accessibility: rule, and what breaks it.

    The debugger of the browser runs it, so that the policy of the page stays as it is.
    """
    from axe_playwright_python.sync_playwright import Axe

    # of rules that hold nothing is listed, which is quicker
    found = Axe().run(page, options={"resultTypes": ["violations"]}).response["violations"]
    return [(one["id"], node["html"][:200]) for one in found for node in one["nodes"]]
