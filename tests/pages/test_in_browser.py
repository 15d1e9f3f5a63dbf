"""Every kind of page in a real browser: quiet, fitting, printable, reachable, whole."""

import pytest
from pages import browser as looks
from pages.kinds import KINDS

EACH = pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.name)
BUILT = pytest.mark.parametrize(
    "kind", [kind for kind in KINDS if kind.audited], ids=lambda kind: kind.name
)


@EACH
def test_it_fits_every_width(window, pages_of_kinds, kind):
    """Folded and open; with letters of twice the size (WCAG 2.2, 1.4.4 and 1.4.10)."""
    file, carries = pages_of_kinds(kind)
    page, _ = window.open(file)
    read = looks.squeezed(page.inner_text("body"))
    for text in kind.texts(carries):
        assert looks.squeezed(text) in read
    faults = [f for width in looks.WIDTHS for f in looks.beyond(page, width)]
    looks.unfold(page)
    faults += [f for width in looks.WIDTHS for f in looks.beyond(page, width)]
    page.emulate_media(color_scheme="dark")
    faults += looks.beyond(page, 320)  # 1280 at 400 %
    page.evaluate("() => { document.documentElement.style.fontSize = '200%' }")
    assert faults + looks.beyond(page, 640) == []


@EACH
def test_it_prints_on_few_sheets_with_nothing_cut(window, pages_of_kinds, kind):
    file, carries = pages_of_kinds(kind)
    page, _ = window.open(file)
    heads = {looks.squeezed(one) for one in page.locator("h2").all_inner_texts()}
    for paper, width in looks.PAPERS.items():
        assert looks.beyond_paper(page, width) == []
        paged = looks.printed(page, paper)
        assert paged.faults == ()
        assert len(paged.texts) <= kind.most_sheets
        whole = "".join(paged.texts)
        for text in kind.texts(carries):
            assert looks.squeezed(text) in whole
        assert not heads & set(paged.last_lines)
        assert paged.lines[-1] > 2, "hardly anything on the last sheet"
    looks.unfold(page)
    assert looks.beyond_paper(page, min(looks.PAPERS.values())) == []


@BUILT
def test_all_is_reached_and_opened_by_keys(window, pages_of_kinds, kind):
    page, _ = window.open(pages_of_kinds(kind)[0])
    assert looks.walk(page) == []
    assert page.locator("details:not([open])").count() == 0


@EACH
def test_what_it_carries_is_saved_byte_for_byte(window, pages_of_kinds, kind, tmp_path):
    """The files saved by the page's own links make the same page again."""
    file, carries = pages_of_kinds(kind)
    page, _ = window.open(file)
    saved = {}
    for ident in carries:
        link = page.locator(f"#{ident}")
        with page.expect_download() as waiting:
            link.click()
        waiting.value.save_as(tmp_path / ident)
        assert waiting.value.suggested_filename == link.get_attribute("download")
        saved[ident] = (tmp_path / ident).read_bytes()
    assert saved == carries
    assert kind.page(saved) == file.read_bytes()


@EACH
def test_it_asks_for_nothing_and_complains_of_nothing(scripted, pages_of_kinds, kind):
    """Scripts are on here: a planted one would run, or be refused aloud."""
    page, faults = scripted.open(pages_of_kinds(kind)[0])
    looks.unfold(page)
    page.emulate_media(color_scheme="dark")
    looks.settle(page)
    assert faults == []


@BUILT
def test_it_is_accessible(unguarded, pages_of_kinds, kind):
    """The tool puts its script in: the page's policy is set aside for that alone."""
    page, _ = unguarded.open(pages_of_kinds(kind)[0])
    looks.unfold(page)
    assert looks.audit(page, 360, "light") == []
    assert looks.audit(page, 1280, "dark") == []
