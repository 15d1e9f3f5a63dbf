"""The compiled table is a copy of the TOML files, and is not believed otherwise."""

import hashlib
import shutil

import pytest

from reference import compile as compiling
from reference import compiled, gather
from reference.table import DATA, load


@pytest.fixture
def data(tmp_path):
    return shutil.copytree(DATA, tmp_path / "data")


def test_the_committed_copy_is_what_the_toml_files_give():
    files = gather.sources(DATA)
    copy = compiled.unpack((DATA / compiled.NAME).read_bytes(), gather.digest(files))
    stale = f"{compiled.NAME} is stale: run `python -m reference.compile`"
    assert copy is not None, stale
    fresh = gather.gather(files)
    for field in fresh.__struct_fields__:
        if field != "names":
            assert getattr(copy, field) == getattr(fresh, field), (field, stale)
    assert copy.names == compiled.index(fresh), stale


def test_both_ways_lead_to_the_same_table(data, table):
    (data / compiled.NAME).unlink()
    other = load(data=data)
    assert other.sha256 == table.sha256
    assert other.variants == table.variants
    assert other.resolve("RX 580 8GB") == table.resolve("RX 580 8GB")
    compiling.write(data)
    assert (data / compiled.NAME).read_bytes() == compiled.pack(
        gather.gather(gather.sources(DATA))
    )


@pytest.mark.parametrize("harm", ["empty", "cut", "flipped", "foreign", "unpackable"])
def test_a_copy_that_is_not_sound_is_not_believed(harm):
    digest = gather.digest(gather.sources(DATA))
    sound = compiled.pack(gather.gather(gather.sources(DATA)))
    assert compiled.unpack(sound, digest) is not None
    body = sound[32:] + b"\xc1"
    harmed = {
        "empty": b"",
        "cut": sound[:-1],
        "flipped": sound[:5000] + bytes([sound[5000] ^ 1]) + sound[5001:],
        "foreign": sound,
        "unpackable": hashlib.sha256(body).digest() + body,
    }[harm]
    assert compiled.unpack(harmed, "0" * 64 if harm == "foreign" else digest) is None


def test_a_changed_toml_file_is_read_instead_of_the_copy(data, table):
    cards = data / "cards" / "nvidia_10.toml"
    text = cards.read_text()
    cards.write_text(text.replace("GeForce GTX 1070", "GeForce GTX 1071"))
    changed = load(data=data)
    assert changed.resolve("GeForce GTX 1071")
    assert changed.sha256 != table.sha256


def test_an_added_file_changes_what_the_hash_stands_for(tmp_path, table):
    added = tmp_path / "mine.toml"
    added.write_text('vendor = "AMD"\nfamily = "Mine"\nsource = "memory"\n')
    first = load(added)
    assert first.variants == table.variants
    added.write_text(added.read_text() + "# a word more\n")
    assert len({table.sha256, first.sha256, load(added).sha256}) == 3
