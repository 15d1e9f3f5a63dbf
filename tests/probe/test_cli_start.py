"""Start-up, help and the schema: what other programs and impatient people rely on."""

import json
import os
import subprocess
import sys
from pathlib import Path

import jsonschema
import pytest
from command_line import command, keep_table

from probe import cli
from probe.options import VERSION
from probe.practice import conditions

ROOT = Path(__file__).parents[2]
HEAVY = (
    "numpy", "pyopencl", "rich", "msgspec", "jinja2", "psutil", "pynvml", "json",
    "tomllib", "reports", "reference",
)  # fmt: skip


def loaded_by(code):
    """Return which of the heavy modules a fresh interpreter has after some code."""
    ended = subprocess.run(
        [sys.executable, "-I", "-c", code + "\nprint([*sys.modules])"],
        cwd=ROOT,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        capture_output=True,
        text=True,
        timeout=60,
        check=True,
    )
    modules = ended.stdout.splitlines()[-1]
    return [name for name in HEAVY if f"'{name}'" in modules]


def after_main(*argv):
    return loaded_by(
        f"import sys; sys.path.insert(0, {str(ROOT)!r})\n"
        f"from probe import cli; cli.main({list(argv)!r})"
    )


@pytest.mark.parametrize(
    "argv", [("--help",), ("check", "--help"), ("--version",), ("nonsense",)]
)
def test_help_loads_nothing_heavy(argv):
    assert after_main(*argv) == []


def test_practice_needs_no_opencl(tmp_path):
    out = str(tmp_path)
    seen = after_main("check", "--practice", "--quiet", "--out", out)
    assert "numpy" in seen  # the check can see what it looks for
    assert "pyopencl" not in seen
    assert "pynvml" not in seen


def test_help_ends_well_and_names_the_exit_codes(capsys):
    for argv in (["--help"], ["check", "--help"]):
        assert cli.main(argv) == 0
        out = capsys.readouterr().out
        assert "3 could not test or undetermined, 70 a bug of ours" in out
        assert max(map(len, out.splitlines())) <= 80


def test_version(capsys):
    assert cli.main(["--version"]) == 0
    assert capsys.readouterr().out == f"cardassay {VERSION}\n"
    text = (ROOT / "pyproject.toml").read_text("utf-8")
    assert f'\nversion = "{VERSION}"\n' in text


def test_python_m_probe_is_the_same():
    ended = subprocess.run(
        [sys.executable, "-m", "probe", "--version"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    assert (ended.returncode, ended.stdout) == (0, f"cardassay {VERSION}\n")


@pytest.fixture(scope="module")
def schema():
    ended = subprocess.run(
        [sys.executable, "-m", "probe", "schema"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        timeout=60,
        check=True,
    )
    return json.loads(ended.stdout)


def test_the_schema_is_a_schema(schema):
    jsonschema.Draft202012Validator.check_schema(schema)
    assert schema["$schema"] == "https://json-schema.org/draft/2020-12/schema"


@pytest.mark.parametrize("name", conditions.NAMES)
def test_records_follow_the_schema_and_the_contract(
    name, schema, capsys, tmp_path, monkeypatch
):
    keep_table(monkeypatch)
    ended = command(
        capsys, tmp_path, "--practice", name, "--claim", "GeForce GTX 1070",
        "--claim-memory", "8GiB", "--quiet", "--patience", "1",
    )  # fmt: skip
    raw = ended.raw
    jsonschema.Draft202012Validator(schema).validate(raw)
    assert raw["schema"] == 1
    assert raw["practice"] is True
    assert {"layer", "model", "memory_bytes"} <= set(raw["claims"][0])
    assert {"claimed_bytes", "proven_bytes", "blocks"} <= set(raw["capacity"])
    for block in raw["capacity"]["blocks"]:
        assert {"state", "counts"} <= set(block)
    assert isinstance(raw["rates"], list)
    for finding in raw["findings"]:
        assert {
            "strength", "claim", "measured", "envelope", "sentence",
        } <= set(finding)  # fmt: skip
    assert raw["verdict"]["outcome"] in {
        "as claimed", "not as claimed", "faulty", "undetermined",
    }  # fmt: skip
    assert raw["verdict"]["reasons"]


def test_a_spoilt_record_does_not_follow_the_schema(
    schema, capsys, tmp_path, monkeypatch
):
    keep_table(monkeypatch)
    raw = command(capsys, tmp_path, "--practice", "--quiet").raw
    validator = jsonschema.Draft202012Validator(schema)
    for spoil in ({"practice": "no"}, {"schema": 2}, {"verdict": {}}, {"seconds": -1}):
        assert not validator.is_valid(raw | spoil)
