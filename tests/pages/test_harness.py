"""The looks of `browser.py` find what is planted: a check that cannot fail is none."""

import os

import browsers
import pytest
from pages import browser as looks
from pages.kinds import KINDS

POLICY = b'<meta http-equiv="Content-Security-Policy"'
PLAIN = "<!doctype html><html lang=en><title>t</title><body><main><h1>t</h1>"

SPOKEN = {
    "inline script": "<script>document.title = 'x'</script>",
    "inline event handler": "<p onclick='alert(1)'>p</p><svg onload='alert(2)'/>",
    "inline style violates": "<p style='color: red'>p</p><style>p { top: 0 }</style>",
    "Loading the image": "<img alt=a src='http://127.0.0.1:9/a.png'>",
    "Framing": "<iframe title=f src='http://127.0.0.1:9/'></iframe>",
    "Loading the stylesheet": "<link rel=stylesheet href='http://127.0.0.1:9/a.css'>",
}
UNGUARDED = {
    "console: said": "<script>console.log('said')</script>",
    "error: thrown": "<script>throw Error('thrown')</script>",
    "dialog: asked": "<script>alert('asked')</script>",
    "request: http://127.0.0.1:9/a.png": "<img alt=a src='http://127.0.0.1:9/a.png'>",
    "request: file:///": "<img alt=a src='beside.png'>",
}
BEYOND = {
    "broad": "<div style='width: 900px'>broad</div>",
    "scrolls sideways": f"<p>{'W' * 200}</p>",
    "32 px before: <p> left": "<p style='margin-left: -40px'>left</p>",
    "cut off: <p> lost": f"<p style='overflow: hidden'>lost{'W' * 200}</p>",
    "<rect>": "<svg width='10' height='9'><rect width='900' height='9'/></svg>",
    "<hr>": "<div style='overflow-x: auto'><hr style='width: 900px'></div>",
    "sideways: ": (
        "<style>p::before { content: 'much too long a head'; white-space: nowrap; "
        "font-size: 90px }</style><p>p</p>"
    ),
}
BARRED = {
    "image-alt": "<img src='data:,'>",
    "color-contrast": (
        "<style>@media (prefers-color-scheme: dark) { b { color: #333; background: "
        "#222 } }</style><p><b>faint</b></p>"
    ),
    "link-name": "<a href='#'></a>",
    "heading-order": "<h4>deep</h4>",
    "empty-table-header": "<table><tr><th scope='col'></th></tr></table>",
}
STOPS = {
    "met [1, 0] of 2": "<a href='#' tabindex='2'>a</a><a href='#' tabindex='1'>b</a>",
    "stop 0 does not show": "<a href='#' style='outline: none'>a</a>",
    "met [0] of 2": "<a href='#'>a</a><a href='#' tabindex='-1'>b</a>",
}


@pytest.fixture
def plant(tmp_path):
    """Write a page, always the same file; return it."""
    file = tmp_path / "planted.html"

    def planted(page):
        file.write_bytes(page if isinstance(page, bytes) else page.encode("utf-8"))
        return file

    return planted


def ours(pages_of_kinds, planted):
    """Return a real page of ours with something put into it."""
    file, _ = pages_of_kinds(next(one for one in KINDS if one.name == "report-minimal"))
    page = file.read_bytes()
    assert page.count(b"</main>") == page.count(POLICY) == 1
    return page.replace(b"</main>", "".join(planted).encode("utf-8") + b"</main>")


def test_what_our_policy_refuses_is_heard(scripted, pages_of_kinds, plant):
    page, faults = scripted.open(plant(ours(pages_of_kinds, SPOKEN.values())))
    looks.settle(page)
    said = "\n".join(faults)
    assert [one for one in SPOKEN if one not in said] == []
    assert "dialog" not in said
    assert page.title().startswith("Assay sheet")


def test_what_a_page_without_a_policy_does_is_heard(scripted, plant):
    page, faults = scripted.open(plant(PLAIN + "".join(UNGUARDED.values())))
    looks.settle(page)
    said = "\n".join(faults)
    assert [one for one in UNGUARDED if one not in said] == []


def test_what_does_not_fit_is_seen(window, plant):
    inner = "<div style='width: 900px'>broad</div>"
    fits = f"{PLAIN}<div class=scroll style='overflow-x: auto'>{inner}</div>"
    page, _ = window.open(plant(fits))
    assert looks.beyond(page, 360) == []
    assert "cut off" in "\n".join(looks.beyond_paper(page, 360))
    for said, html in BEYOND.items():
        page, _ = window.open(plant(PLAIN + html))
        assert said in "\n".join(looks.beyond(page, 360))


def test_what_keeps_somebody_out_is_seen(unguarded, pages_of_kinds, plant):
    page, _ = unguarded.open(plant(ours(pages_of_kinds, BARRED.values())))
    dark = "\n".join(looks.audit(page, 360, "dark"))
    assert [one for one in BARRED if one not in dark] == []


def test_what_keys_do_not_reach_is_seen(window, plant):
    for said, html in STOPS.items():
        page, _ = window.open(plant(PLAIN + html))
        assert said in "\n".join(looks.walk(page))


def test_what_is_wrong_on_paper_is_seen(window, plant):
    html = (
        "<p>first</p><div style='height: 330mm'></div><h2>Lonely</h2>"
        "<p style='break-before: page'>last</p>"
    )
    page, _ = window.open(plant(PLAIN + html))
    paged = looks.printed(page, "A4")
    assert paged.texts == ("tfirst", "Lonely", "last")
    assert paged.last_lines[1] == "Lonely"
    assert paged.lines == (2, 1, 1)


@pytest.mark.skipif(os.name == "nt", reason="a shell's script")
def test_a_file_that_is_no_browser_is_none(tmp_path, monkeypatch):
    """As Ubuntu's chromium-browser without its snap: it is there and starts nothing."""
    stub = tmp_path / "chromium"
    stub.write_text("#!/bin/sh\necho 'requires the chromium snap' >&2\nexit 1\n")
    stub.chmod(0o755)
    monkeypatch.setenv("PATH", str(tmp_path))
    assert browsers.find.__wrapped__() is None
    stub.write_text("#!/bin/sh\necho 'Chromium 1.0'\n")
    assert browsers.find.__wrapped__() == str(stub)
