"""Every kind of page in a real browser: quiet, fitting, printable, reachable, whole."""

import pytest
from pages import browser as looks
from pages.kinds import KINDS

EACH = pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.name)


@EACH
def test_it_asks_for_nothing_and_complains_of_nothing(browser, pages_of_kinds, kind):
    """Scripts are on here: a planted one would run, or be refused aloud."""
    file, _ = pages_of_kinds(kind)
    with looks.opened(browser, file, java_script_enabled=True) as (page, faults):
        looks.unfold(page)
        page.emulate_media(color_scheme="dark")
        page.screenshot()
        assert faults == []


@EACH
def test_it_fits_every_width(browser, pages_of_kinds, kind):
    """Folded and open; with letters of twice the size (WCAG 2.2, 1.4.4 and 1.4.10)."""
    file, carries = pages_of_kinds(kind)
    with looks.opened(browser, file) as (page, _):
        shown = looks.squeezed(page.inner_text("body"))
        for text in kind.texts(carries):
            assert looks.squeezed(text) in shown
        faults = [f for width in looks.WIDTHS for f in looks.beyond(page, width)]
        looks.unfold(page)
        faults += [f for width in looks.WIDTHS for f in looks.beyond(page, width)]
        page.emulate_media(color_scheme="dark")
        faults += looks.beyond(page, 320)  # 1280 at 400 %
        page.evaluate("() => { document.documentElement.style.fontSize = '200%' }")
        assert faults + looks.beyond(page, 640) == []


@EACH
def test_it_prints_on_few_sheets_with_nothing_cut(browser, pages_of_kinds, kind):
    file, carries = pages_of_kinds(kind)
    with looks.opened(browser, file) as (page, _):
        heads = {looks.squeezed(one) for one in page.locator("h2").all_inner_texts()}
        for paper, width in looks.PAPERS.items():
            page.emulate_media(media="print")
            assert looks.beyond(page, width) == []
            page.emulate_media(media=None)
            paged = looks.printed(page, paper)
            assert paged.faults == ()
            assert len(paged.texts) <= kind.most_sheets
            whole = "".join(paged.texts)
            for text in kind.texts(carries):
                assert looks.squeezed(text) in whole
            assert not heads & set(paged.last_lines)
            assert paged.lines[-1] > 2, "hardly anything on the last sheet"


@pytest.mark.parametrize(("width", "scheme"), [(360, "light"), (1280, "dark")])
@pytest.mark.parametrize(
    "kind", [kind for kind in KINDS if kind.audited], ids=lambda kind: kind.name
)
def test_it_is_accessible(browser, pages_of_kinds, kind, width, scheme):
    """The tool puts its script in: the page's policy is set aside for that alone."""
    file, _ = pages_of_kinds(kind)
    asked = {"java_script_enabled": True, "bypass_csp": True, "width": width}
    with looks.opened(browser, file, **asked) as (page, _):
        looks.unfold(page)
        assert looks.axe(page, width, scheme) == []


@EACH
def test_all_is_reached_and_opened_by_keys(browser, pages_of_kinds, kind):
    file, _ = pages_of_kinds(kind)
    with looks.opened(browser, file) as (page, _):
        assert looks.walk(page) == []
        assert page.locator("details:not([open])").count() == 0


@EACH
def test_what_it_carries_is_saved_byte_for_byte(
    browser, pages_of_kinds, kind, tmp_path
):
    """The files saved by the page's own links make the same page again."""
    file, carries = pages_of_kinds(kind)
    saved = {}
    with looks.opened(browser, file, accept_downloads=True) as (page, _):
        for ident in carries:
            link = page.locator(f"#{ident}")
            with page.expect_download() as waiting:
                link.click()
            waiting.value.save_as(tmp_path / ident)
            assert waiting.value.suggested_filename == link.get_attribute("download")
            saved[ident] = (tmp_path / ident).read_bytes()
    assert saved == carries
    assert kind.page(saved) == file.read_bytes()
