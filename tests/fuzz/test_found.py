"""What fuzzing and reading the code found: each once, so that it stays found.

Times are of processor, with room for a busy machine; what they forbid took minutes.
"""

import json
import os
import stat
import time
from contextlib import contextmanager
from pathlib import Path
from types import SimpleNamespace

import msgspec
import pytest
from fuzz import devices, registry, seeds
from msgspec.structs import replace

from probe.identity import nvml
from probe.identity.sensors import AmdSensors, NvmlSensors
from probe.opencl import programs
from reference import compiled, gather, names
from reference.ask import ask
from reference.errors import TableError
from reference.judge import judge
from reference.table import Table
from reports import codec
from reports.errors import RecordError
from reports.page import extract_record, record_bytes, render_page
from reports.rejudged import compare, encode_rejudged
from reports.text import inert

ROWS = Path("rows.toml")


@contextmanager
def quickly(seconds=2.0):
    begun = time.process_time()
    yield
    assert time.process_time() - begun < seconds


def mistakes_of(text):
    with pytest.raises(TableError) as caught:
        gather.overlaid(seeds.few_rows(), ROWS, text.encode())
    return caught.value.mistakes


# -------------------------------------------------------------------- files of cards


@pytest.mark.parametrize("number", ["9" * 5000, "-" + "1" * 4301])
def test_a_number_of_thousands_of_digits(number):
    said = "rows.toml: not TOML: a number of too many digits"
    assert mistakes_of(f"vendor = {number}") == (said,)


@pytest.mark.parametrize(
    "text",
    [
        "a" + ".a" * 50_000 + " = 1",
        "[a" + ".a" * 50_000 + "]",
        "x = {" + "a." * 50_000 + "b = 1}",
        '"a"' + ' . "a"' * 50_000 + " = 1",
    ],
)
def test_a_key_of_thousands_of_parts(text):
    with quickly():
        assert mistakes_of(text) == ("rows.toml: a key of more than 9 parts",)


def test_dots_in_texts_and_remarks_are_no_parts():
    dots = ".".join("abcdefghijklmnop")
    lines = f'# {dots}\nremarks = [\'{dots}\', """{dots}\n"x" {dots}"""] # {dots}\n'
    text = seeds.CARDS.decode().replace('remarks = ["Made up."]\n', lines)
    assert gather.overlaid(seeds.few_rows(), ROWS, text.encode()).variants


@pytest.mark.parametrize("text", ['a = "x', "a = '''x.x.x", 'a = """' + "." * 30, "'"])
def test_texts_that_never_end(text):
    assert mistakes_of(text)[0].startswith("rows.toml: not TOML: ")


def test_a_row_that_computes_next_to_nothing():
    text = seeds.CARDS.decode().replace("fp64 = 4.0", "fp64 = 5e-324")
    said = "rows.toml: card[1].fp64: Expected `float` >= 0.0009765625"
    assert mistakes_of(text) == (said,)


def test_thousands_of_mistakes_are_counted_not_told():
    told = mistakes_of("".join(f"k{number} = 1\n" for number in range(5000)))
    assert len(told) == 101
    assert told[-1].endswith(" further mistakes")


def test_mistakes_quote_no_orders_to_the_terminal():
    hostile = r"X\u001b[31m\ncardassay: all is well\u202e"
    text = seeds.CARDS.decode().replace("GeForce GTX 1070", hostile)
    told = mistakes_of(text.replace('"GP104"', '"GP999"'))
    assert told
    assert all(line.isprintable() for line in told)


def test_a_compiled_table_whose_text_is_none():
    data = registry.compiled.pack(seeds.few_rows())
    shape, body = data[32:64], data[64:].replace(b"NVIDIA", b"\xff\xfeIDIA")
    sealed = registry._seal(shape + body)
    assert compiled.unpack(sealed, seeds.few_rows().sha256) is None


# ------------------------------------------------------------------------------ names


@pytest.mark.parametrize(
    "name",
    [
        " x" * 100_000,
        "a" + " ,(" * 100_000,
        "(llvm " * 50_000,
        "/pcie" * 50_000,
        "1 " * 100_000,
    ],
)
def test_names_without_end(name):
    table = Table(seeds.few_rows())
    with quickly():
        assert names.split_size(name) is None
        assert table.resolve(name) == ()
        assert table.near(name) == ()
        assert not ask(table, name).rows


def test_a_long_blank_hides_no_word_behind_a_name():
    wide = "GeForce GTX 1070" + " " * 1000 + "Ti"
    assert names.key(wide) == names.key("GeForce GTX 1070 Ti")


# ---------------------------------------------------------------------------- drivers


@pytest.mark.parametrize(
    "log", ["error " + "B" * 10**6, "/" * 10**6, "error\n" * 10**5]
)
def test_build_logs_without_end(log):
    with quickly():
        programs.complaint(log)


@pytest.mark.parametrize(
    ("home", "log"),
    [
        ("/home/jane roe", "/home/jane roe/.cache/x.cl:1:2: error: bad"),
        (r"C:\Users\Jane Roe", r"C:\Users\Jane Roe\AppData\x.cl:1:2: error: bad"),
    ],
)
def test_a_build_log_does_not_name_the_user(home, log, monkeypatch):
    monkeypatch.setattr(Path, "home", lambda: home)
    assert programs.complaint(log) == "x.cl:1:2: error: bad"


def test_a_home_at_the_root_takes_no_slashes(monkeypatch):
    monkeypatch.setattr(Path, "home", lambda: "/")
    assert programs.complaint("error: a / b") == "error: a  b"
    assert programs.complaint("error: 10 bad") == "error: 10 bad"


def test_a_library_that_counts_billions_of_cards():
    answers = {"nvmlDeviceGetCount": 2**62}
    with quickly():
        sight = nvml.read(devices._Library(answers))
    assert len(sight.notes) == 256


@pytest.mark.parametrize("used", [-1, 2**63, 2**64 - 1, True, "x"])
def test_used_memory_that_cannot_be(used):
    answers = {"nvmlDeviceGetMemoryInfo": SimpleNamespace(used=used)}
    library = nvml.Nvml(library=devices._Library(answers))
    assert NvmlSensors(library, "handle").read(0.0, "x").memory_used_bytes is None


@pytest.mark.parametrize("told", [1e31, -1e31, 10**400, float("inf"), float("nan")])
def test_a_reading_that_no_record_holds(told):
    answers = {
        "nvmlDeviceGetUtilizationRates": SimpleNamespace(gpu=told),
        "nvmlDeviceGetTemperatureThreshold": told,
        "nvmlDeviceGetEnforcedPowerLimit": told,
        "nvmlDeviceGetPowerUsage": told,
    }
    sensors = NvmlSensors(nvml.Nvml(library=devices._Library(answers)), "handle")
    assert (sensors.slowdown_c, sensors.power_limit_w) == (None, None)
    sample = sensors.read(0.0, "x")
    assert (sample.utilisation_percent, sample.power_w) == (None, None)


def test_used_memory_below_nothing(tmp_path):
    (tmp_path / "hwmon/hwmon0").mkdir(parents=True)
    (tmp_path / "mem_info_vram_used").write_text("-5\n")
    assert AmdSensors.of(tmp_path).read(0.0, "x").memory_used_bytes is None


# ---------------------------------------------------------------------------- records


def record_with(path, value):
    tree = json.loads(seeds.slim_records()[0])
    at = tree
    for key in path[:-1]:
        at = at[key]
    at[path[-1]] = value
    return json.dumps(tree).encode()


@pytest.mark.parametrize(
    ("path", "value"),
    [
        (("card", "index"), -1),
        (("card", "index"), 10**30),
        (("capacity", "blocks", 0, "mirror_distance_bytes"), 10**4000),
        (("capacity", "blocks", 0, "mirror_distance_bytes"), -(2**63) - 1),
        (("findings",), [{}] * 2000),
        (("verdict", "reasons"), ["x"] * 1025),
        (("rates", 0, "sample_seconds"), [0.1] * (2**16 + 1)),
    ],
)
def test_figures_and_numbers_of_things_that_no_run_gives(path, value):
    assert codec.decode(record_with(("practice",), True)).practice
    with pytest.raises(RecordError, match="not a cardassay record: "):
        codec.decode(record_with(path, value))


def test_a_record_that_tells_a_thing_twice():
    data = seeds.slim_records()[0]
    twice = data.replace(b'"practice":', b'"practice": true, "practice":', 1)
    with pytest.raises(RecordError, match="contains the field `practice` twice"):
        codec.decode(twice)
    escaped = data.replace(b'"practice":', b'"pr\\u0061ctice": true, "practice":', 1)
    with pytest.raises(RecordError, match="contains the field `practice` twice"):
        codec.decode(escaped)


def test_a_record_written_another_way_is_read_all_the_same():
    data = seeds.slim_records()[0]
    again = json.dumps(json.loads(data), indent=7, sort_keys=True).encode()
    assert codec.decode(again) == codec.decode(data)
    floats = data.replace(b": 0.0,", b": 0e0,")
    assert floats != data
    assert codec.decode(floats) == codec.decode(data)


MANY = {
    "findings": lambda one, number: replace(one, rule=f"r{number}", sources=("x",) * 9),
    "claims": lambda one, number: replace(one, model=f"GTX {number} " + "(," * 100),
}


@pytest.mark.parametrize("name", MANY)
def test_half_as_many_as_a_record_holds_are_judged_and_shown_in_seconds(name):
    record = seeds.records()[0]
    few = getattr(record, name)
    many = [MANY[name](few[number % len(few)], number) for number in range(512)]
    record = replace(record, **{name: tuple(many)})
    with quickly(15.0):
        after = judge(record, registry.few())
        compare(record, after)
        render_page(codec.decode(codec.encode(record)))


ORDERS = "\x7f\x9b31m\x85\u061c\u200e\u202e\u2066\u2028\ufeff\U000e0041"


def test_json_orders_no_terminal_about():
    data = msgspec.json.encode({"a": ORDERS, ORDERS: "é🂡"})
    safe = inert(data)
    assert json.loads(safe) == json.loads(data)
    assert not registry._CONTROL.search(safe.decode())
    assert "é🂡" in safe.decode()


def test_a_hostile_record_stays_harmless_as_json():
    record = codec.decode(record_with(("verdict", "sentence"), ORDERS))
    for text in (codec.encode(record), encode_rejudged(compare(record, record))):
        assert not registry._CONTROL.search(text.decode().replace("\n", ""))
        assert "\\u202e" in text.decode()


def test_a_record_is_no_more_readable_than_the_user_wants(tmp_path):
    before = os.umask(0o077)
    try:
        codec.save(b"x", tmp_path / "record.json")
    finally:
        os.umask(before)
    assert stat.S_IMODE((tmp_path / "record.json").stat().st_mode) == 0o600


# ------------------------------------------------------------------------------ pages

LINK = 'href="data:application/json;base64,'


@pytest.mark.parametrize(
    "text",
    [
        "<a ",
        "<!--",
        "<![CDATA[",
        '<a id="record" ',
        LINK,
        f"<a {LINK}",
        f'{LINK}"',
        "<",
    ],
)
def test_pages_without_end(text):
    page = b"<p>" + text.encode() * (4 * 2**20 // len(text))
    with quickly(), pytest.raises(RecordError, match="x: the page carries no record"):
        record_bytes(page, "x")


def test_a_page_with_two_records():
    link = f'<a id="record" {LINK}e30=">'
    assert extract_record(f"<p>{link}") == b"{}"
    with pytest.raises(RecordError, match="the page carries more than one record"):
        extract_record(f"<p>{link}<p>{link}")


@pytest.mark.parametrize(
    "tag",
    [
        f'<a {LINK}e30=" id="other">',
        f'<b id="record" {LINK}e30=">',
        f'<a id="record" {LINK}e30=',
        f'<a id="record" {LINK}e30="',
        f'id="record" {LINK}e30=">',
    ],
)
def test_links_that_are_not_ours(tag):
    with pytest.raises(RecordError, match="the page carries no record"):
        extract_record(tag)


@pytest.mark.parametrize("code", ["e30", "e3 0=", "e30=\n", "é", "%65"])
def test_a_link_that_is_damaged(code):
    with pytest.raises(RecordError, match="the record in the page is damaged"):
        extract_record(f'<a id="record" {LINK}{code}">')
