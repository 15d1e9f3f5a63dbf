"""Makes what `reports/samples/` holds: the picture of a run and sample pages.

    python tests/make_samples.py

Run it after a change of wording or look, and review the difference. Everything comes
from the program itself: the practice card for the counterfeit, the stored record of a
real card (tests/data/golden), judged anew, for the genuine one.
"""

import contextlib
import io
import tempfile
from pathlib import Path
from unittest import mock

from rich.console import Console
from rich.terminal_theme import TerminalTheme

from probe import commands
from probe.cli import main
from reference.judge import judge
from reference.table import load
from reports import codec
from reports.page import render_page

ROOT = Path(__file__).resolve().parent.parent
SAMPLES = ROOT / "reports" / "samples"
GOLDEN = ROOT / "tests" / "data" / "golden"
WIDTH = 80
SIGN = 12.2
"""How wide the picture's letters are, and its margin."""
MARGIN = 12

PAPER = TerminalTheme(
    (250, 248, 242),
    (28, 28, 26),
    [
        (28, 28, 26),
        (140, 80, 10),
        (14, 92, 92),
        (140, 80, 10),
        (14, 92, 92),
        (90, 70, 90),
        (14, 92, 92),
        (90, 88, 82),
    ],
)
# Our own frame: rich's template fetches a font from elsewhere, ours takes what is here.
FRAME = """\
<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {wide} {height}" \
role="img">
<title>cardassay check --practice mirrored, in a terminal</title>
<style>
.{unique_id}-matrix {{ font-family: ui-monospace, "DejaVu Sans Mono", Menlo, Consolas,
  monospace; font-size: {char_height}px; line-height: {line_height}px; }}
{styles}
</style>
<defs>{lines}</defs>
<rect fill="#faf8f2" width="100%" height="100%"/>
<g transform="translate(12, 12)">
{backgrounds}
<g class="{unique_id}-matrix">
{matrix}
</g></g></svg>
"""


def picture_of_a_run() -> None:
    console = Console(
        record=True,
        width=WIDTH,
        file=io.StringIO(),
        markup=False,
        highlight=False,
        emoji=False,
    )
    with (
        tempfile.TemporaryDirectory() as folder,
        contextlib.chdir(folder),
        mock.patch.object(commands, "make_console", return_value=console),
    ):
        claim = ["--claim", "GeForce GTX 1070", "--claim-memory", "8GiB"]
        place = Path("Documents/gtx-1070")
        main(["check", "--practice", "mirrored", *claim, "--out", str(place)])
        record = codec.load(place / "record.json")
    lines = console.export_text(clear=False).count("\n")
    svg = console.export_svg(
        title="",
        theme=PAPER,
        code_format=FRAME.replace("{height}", str(24 * (lines + 2))).replace(
            "{wide}", str(2 * MARGIN + round(WIDTH * SIGN))
        ),
        unique_id="run",
    )
    (SAMPLES / "run.svg").write_text(svg, "utf-8")
    page("practice-mirrored", codec.encode(record))


def page(name: str, data: bytes) -> None:
    text = render_page(codec.decode(data), data)
    (SAMPLES / f"{name}.html").write_text(text, "utf-8")


if __name__ == "__main__":
    SAMPLES.mkdir(exist_ok=True)
    picture_of_a_run()
    for stored in sorted(GOLDEN.glob("*-sxm.json")):
        page(stored.stem, codec.encode(judge(codec.load(stored), load())))
