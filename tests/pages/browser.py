"""Opens pages as a person does, from a file, and says what is wrong with them.

Nothing here knows a page's kind. Every look returns its faults as a list of sentences,
empty where all is well; `test_harness.py` plants each fault and sees it found.
"""

import io
import os
import unicodedata
from dataclasses import dataclass, field

from axe_playwright_python.sync_playwright import Axe
from pypdf import PdfReader

WIDTHS = (360, 768, 1280)
PAPERS = {"A4": 680, "Letter": 702}
"""Each paper, and the CSS pixels between its margins (15 mm)."""
HEIGHT = 900

BEYOND = """() => {
  const wide = document.documentElement.clientWidth, found = [];
  const say = (what, element) => found.push(
    `${what}: <${element.localName}> ${element.textContent.trim().slice(0, 40)}`);
  const scrolls = one => getComputedStyle(one).overflowX !== 'visible';
  const within = one => {  // what may scroll by itself, or is for screen readers alone
    for (let above = one.parentElement; above; above = above.parentElement)
      if (above.matches('.scroll') && scrolls(above) || above.clientWidth === 1)
        return true;
    return false;
  };
  if (document.documentElement.scrollWidth > wide)
    found.push(`scrolls sideways: ${document.documentElement.scrollWidth} > ${wide}`);
  for (const one of document.body.querySelectorAll('*')) {
    const box = one.getBoundingClientRect(), html = one instanceof HTMLElement;
    const out = box.right > wide + 0.5 || box.left < -0.5;
    const cut = html && box.width > 1 && one.scrollWidth > one.clientWidth + 1;
    if (!out && !cut || box.width + box.height === 0 || one.closest('defs, symbol'))
      continue;
    if (cut && scrolls(one) && !one.matches('.scroll')) say('cut off', one);
    if (!out || within(one)) continue;
    if (box.left < -0.5) say(`${Math.round(-box.left)} px before`, one);
    else say(`${Math.round(box.right - wide)} px beyond`, one);
  }
  return found.slice(0, 8);
}"""
SCROLLS = """() => [...document.querySelectorAll('.scroll')].filter(
  one => one.scrollWidth > one.clientWidth + 1
    && getComputedStyle(one).overflowX !== 'visible')
  .map(one => `cut off: ${one.getAttribute('aria-label')}`)"""
OPEN_ALL = "() => document.querySelectorAll('details').forEach(one => one.open = true)"
REACHABLE = """() => [...document.querySelectorAll('a[href], summary, [tabindex]')]"""
FOCUSED = f"""() => {{
  const one = document.activeElement, look = getComputedStyle(one);
  return {{
    place: ({REACHABLE})().indexOf(one),
    seen: look.outlineStyle !== 'none' && parseFloat(look.outlineWidth) > 0,
    folded: one.localName === 'summary' && !one.parentElement.open,
  }};
}}"""
SETTLED = "() => new Promise(done => requestAnimationFrame(() => done()))"
SHORTEN = """() => document.querySelectorAll('tbody tr:nth-child(n+3)').forEach(
  one => one.remove())"""


@dataclass
class Heard:
    """What a page did that no page of ours does."""

    url: str = ""
    """The page's own."""
    faults: list[str] = field(default_factory=list)

    def hear(self, context):
        """Note every message, error, dialog and request but for the page's own."""
        add = self.faults.append
        context.on("console", lambda one: add(f"console: {one.text}"))
        context.on("weberror", lambda one: add(f"error: {one.error}"))
        context.on("dialog", lambda one: (add(f"dialog: {one.message}"), one.dismiss()))
        context.on("request", self._asked)
        context.route("**/*", self._answer)

    def _asked(self, request):
        if request.url != self.url:
            self.faults.append(f"request: {request.url}")

    def _answer(self, route):
        if route.request.url == self.url:
            route.continue_()
        else:
            route.abort()


class Window:
    """One window, offline, that files are opened in one after the other.

    Scripts are off unless `settings` turn them on: a page has to be whole without.
    """

    def __init__(self, browser, **settings):
        settings = {"java_script_enabled": False, **settings}
        self._context = browser.new_context(offline=True, **settings)
        self._heard = Heard()
        self._heard.hear(self._context)
        self.page = self._context.new_page()
        self.page.set_default_timeout(20_000)

    def open(self, file):
        """Open a file afresh; return the page and what it does from now on."""
        self._heard.url = file.as_uri()
        self._heard.faults.clear()
        self.page.emulate_media(media="null", color_scheme="light")
        self.page.set_viewport_size({"width": 1280, "height": HEIGHT})
        self.page.goto(self._heard.url)
        return self.page, self._heard.faults

    def close(self):
        self._context.close()


def launch(playwright, path):
    """Start the browser at `path`; as root it has no sandbox of its own."""
    root = os.name == "posix" and os.geteuid() == 0
    return playwright.chromium.launch(
        executable_path=path,
        args=["--disable-gpu", *(("--no-sandbox",) if root else ())],
    )


def settle(page):
    """Wait until what the page wanted to do was done, and told."""
    page.evaluate(SETTLED)


def unfold(page):
    """Open all that is folded."""
    page.evaluate(OPEN_ALL)


def beyond(page, width):
    """Return what does not fit into this width. Only `.scroll` may scroll within."""
    page.set_viewport_size({"width": width, "height": HEIGHT})
    return [f"at {width}: {fault}" for fault in page.evaluate(BEYOND)]


def beyond_paper(page, width):
    """Return what does not fit on paper of this width, where nothing scrolls."""
    page.emulate_media(media="print")
    faults = [*beyond(page, width), *page.evaluate(SCROLLS)]
    page.emulate_media(media="null")
    return faults


def audit(page, width, scheme):
    """Return every violation that axe-core finds, by all its rules.

    Of each table two rows are looked at: the others are like them, and take long.
    """
    page.evaluate(SHORTEN)
    page.set_viewport_size({"width": width, "height": HEIGHT})
    page.emulate_media(color_scheme=scheme)
    found = Axe().run(page).response["violations"]
    return [
        f"{one['id']}: {one['help']}: {node['html'][:120]}"
        for one in found
        for node in one["nodes"][:3]
    ]


def walk(page):
    """Go from top to bottom by Tab, opening all that is folded by Enter.

    Returns what was missed, met out of order, or did not show that it was met.
    """
    count = page.evaluate(f"() => ({REACHABLE})().length")
    met, faults = [], []
    for _ in range(count + 1):
        page.keyboard.press("Tab")
        at = page.evaluate(FOCUSED)
        if at["place"] < 0 or at["place"] in met:
            break  # out of the page, or round again
        met.append(at["place"])
        if not at["seen"]:
            faults.append(f"stop {at['place']} does not show that it has the focus")
        if at["folded"]:
            page.keyboard.press("Enter")
    if met != list(range(count)):
        faults.append(f"Tab met {met} of {count}")
    return faults


@dataclass(frozen=True)
class Print:
    """A page on paper."""

    texts: tuple[str, ...]
    """Each sheet's text, squeezed."""
    last_lines: tuple[str, ...]
    lines: tuple[int, ...]
    faults: tuple[str, ...]


def printed(page, paper):
    """Print a page as a browser does by default: without backgrounds."""
    data = page.pdf(format=paper, print_background=False)
    texts, last, lines, faults = [], [], [], []
    for number, sheet in enumerate(PdfReader(io.BytesIO(data)).pages, 1):
        text = sheet.extract_text()
        rows = [row for row in text.splitlines() if row.strip()]
        texts.append(squeezed(text))
        last.append(squeezed(rows[-1]) if rows else "")
        lines.append(len(rows))
        if not rows:
            faults.append(f"{paper}: sheet {number} is empty")
    return Print(tuple(texts), tuple(last), tuple(lines), tuple(faults))


def squeezed(text):
    """Return a text without its spaces and ligatures, which no PDF keeps."""
    return "".join(unicodedata.normalize("NFKC", text).split())
