"""Opens pages as a person does, from a file, and says what is wrong with them.

Nothing here knows a page's kind. Every look returns its faults as a list of sentences,
empty where all is well; `test_harness.py` plants each fault and sees it found.
"""

import contextlib
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
  if (document.documentElement.scrollWidth > wide)
    found.push(`scrolls sideways: ${document.documentElement.scrollWidth} > ${wide}`);
  const clips = new Set(), tiny = new Set();
  for (const one of document.body.querySelectorAll('*')) {
    if (one.closest('defs, symbol, title, desc')) continue;
    const box = one.getBoundingClientRect();
    if (box.width === 0 && box.height === 0) continue;
    const flow = one.ownerSVGElement ? 'visible' : getComputedStyle(one).overflowX;
    if (flow !== 'visible') {
      if (one.matches('.scroll')) clips.add(one);
      else if (box.width <= 1) tiny.add(one);
      else if (one.localName !== 'svg' && one.scrollWidth > one.clientWidth + 1)
        say('cut off', one);
    }
    let above = one.parentElement;
    while (above && !clips.has(above) && !tiny.has(above)) above = above.parentElement;
    if (above) continue;
    if (box.right > wide + 0.5) say(`${Math.round(box.right - wide)} px beyond`, one);
    if (box.left < -0.5) say(`${Math.round(-box.left)} px before`, one);
  }
  return found.slice(0, 8);
}"""
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
SHORTEN = """() => document.querySelectorAll('tbody tr:nth-child(n+5)').forEach(
  one => one.remove())"""


@dataclass
class Heard:
    """What a page did that no page of ours does."""

    faults: list[str] = field(default_factory=list)

    def hear(self, context, url):
        """Note every message, error, dialog and request but for `url` itself."""
        add = self.faults.append
        context.on("console", lambda one: add(f"console: {one.text}"))
        context.on("weberror", lambda one: add(f"error: {one.error}"))
        context.on("dialog", lambda one: (add(f"dialog: {one.message}"), one.dismiss()))
        context.on(
            "request",
            lambda one: None if one.url == url else add(f"request: {one.url}"),
        )
        context.route(
            "**/*",
            lambda route: (
                route.continue_() if route.request.url == url else route.abort()
            ),
        )


def launch(playwright, path):
    """Start the browser at `path`; as root it has no sandbox of its own."""
    root = os.name == "posix" and os.geteuid() == 0
    return playwright.chromium.launch(
        executable_path=path, args=["--no-sandbox"] if root else []
    )


@contextlib.contextmanager
def opened(browser, file, *, width=1280, **settings):
    """Open a file in a context of its own, offline; yield the page and what it did.

    Scripts are off unless `settings` turn them on: a page has to be whole without.
    """
    settings = {"java_script_enabled": False, **settings}
    context = browser.new_context(
        offline=True, viewport={"width": width, "height": HEIGHT}, **settings
    )
    heard = Heard()
    heard.hear(context, file.as_uri())
    try:
        page = context.new_page()
        page.goto(file.as_uri())
        yield page, heard.faults
    finally:
        context.close()


def unfold(page):
    """Open all that is folded."""
    page.evaluate(OPEN_ALL)


def beyond(page, width):
    """Return what does not fit into this width. Only `.scroll` may scroll within."""
    page.set_viewport_size({"width": width, "height": HEIGHT})
    return [f"at {width}: {fault}" for fault in page.evaluate(BEYOND)]


def axe(page, width, scheme):
    """Return every violation that axe-core finds, by all its rules.

    Of each table four rows are looked at: the others are like them, and take long.
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
        if at["place"] < 0:
            break
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
