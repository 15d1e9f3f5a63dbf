"""Finding rows, and what a broken data file is told."""

import shutil

import pytest

from reference.errors import TableError
from reference.table import DATA, load

SOURCED = '[sources.my-notes]\ntitle = "Notes"\npublisher = "me"\ndate = "2026"\n'


def models(rows):
    return sorted({row.model for row in rows})


@pytest.mark.parametrize(
    "name",
    [
        "GeForce GTX 1070",
        "NVIDIA GeForce GTX 1070",
        "nvidia geforce gtx1070",
        "GTX 1070",
        "GeForce GTX 1070/PCIe/SSE2",
        "GP104 [GeForce GTX 1070]",
        "GTX 1070 8GB",
        "GTX-1070 (8 GB)",
    ],
)
def test_one_name_in_many_spellings(table, name):
    assert models(table.resolve(name)) == ["GeForce GTX 1070"]
    assert {row.units for row in table.resolve(name)} == {15, 16}


@pytest.mark.parametrize(
    ("name", "found"),
    [
        ("GTX 1070 Ti", ["GeForce GTX 1070 Ti"]),
        ("GTX 1060", ["GeForce GTX 1060", "GeForce GTX 1060 3GB",
                      "GeForce GTX 1060 5GB", "GeForce GTX 1060 6GB"]),
        ("GeForce GTX 1060 3GB", ["GeForce GTX 1060", "GeForce GTX 1060 3GB"]),
        ("RTX 2070 SUPER", ["GeForce RTX 2070 SUPER"]),
        ("NVIDIA H100 80GB HBM3", ["H100 80GB HBM3"]),
        ("NVIDIA H100 PCIe", ["H100 PCIe"]),
        ("NVIDIA H200", ["H200", "H200 NVL"]),
        ("NVIDIA TITAN X (Pascal)", ["TITAN X (Pascal)"]),
        ("GeForce GTX TITAN X", ["GeForce GTX TITAN X"]),
        ("Radeon RX 580", ["Radeon RX 580"]),
        ("Radeon RX 580 Series", ["Radeon RX 580"]),
        ("AMD Radeon RX 580 2048SP", ["Radeon RX 580 2048SP"]),
        ("Radeon (TM) RX 480 Graphics", ["Radeon RX 480"]),
        ("AMD Radeon RX 6700 XT (navi22, LLVM 15.0.7, DRM 3.54, 6.5)",
         ["Radeon RX 6700 XT"]),
        ("Intel(R) Arc(TM) A770 Graphics", ["Arc A770"]),
        ("GTX 1070 16GB", []),
        ("NVIDIA H100 80GB HBM3 MIG 1g.10gb", []),
        ("GeForce GTX 1077", []),
        ("", []),
        ("NVIDIA", []),
    ],
)  # fmt: skip
def test_names_mean_what_they_say(table, name, found):
    assert models(table.resolve(name)) == found


def test_a_compiler_target_means_every_card_of_its_chip(table):
    rows = table.resolve("gfx1010:xnack-")
    assert {row.chip for row in rows} == {"Navi 10"}
    assert {"Radeon RX 5600 XT", "Radeon RX 5700"} < {row.model for row in rows}
    assert set(rows) == {row for row in table.variants if row.chip == "Navi 10"}


def test_near_misses_are_offered(table):
    assert table.near("GTX 1070 Tii")[0] == "GeForce GTX 1070 Ti"
    assert "Radeon RX 580" in table.near("RX 580 8G OC")
    assert "GeForce RTX 3080" in table.near("ASUS RTX 3080 10GB TUF")
    assert len(table.near("GTX 1070", limit=2)) == 2
    assert table.near("zzzz") == ()


def test_rows_by_pci_id(table):
    assert models(table.by_pci("10DE:1B81")) == ["GeForce GTX 1070"]
    assert models(table.by_pci("10de:2330")) == ["H100 80GB HBM3"]
    assert models(table.by_pci("10de:2335")) == ["H200"]
    assert models(table.by_pci("1002:67df", revision="E7")) == ["Radeon RX 580"]
    assert len(models(table.by_pci("1002:67df", revision="99"))) > 4
    assert table.by_pci("10de:ffff") == ()


@pytest.mark.parametrize(
    ("pci", "chip"),
    [
        ("10de:1b8f", "GP104"),
        ("10de:1be1", "GP104"),
        ("10de:0dc9", "GF106"),
        ("10de:1244", "GF116"),
        ("10de:1020", None),  # a block of two chips
        ("1002:67df", None),
        ("10de:xyz", None),
        ("", None),
    ],
)
def test_chips_by_id_window(table, pci, chip):
    assert table.chip_by_window(pci) == chip


def write(path, text):
    path.write_text(text)
    return path


def test_rows_can_be_added_and_overridden_for_one_run(table, tmp_path):
    mine = write(
        tmp_path / "mine.toml",
        'vendor = "NVIDIA"\nfamily = "Mine"\nsource = "my-notes"\n'
        + SOURCED
        + """
[[card]]
model = "GeForce GTX 1070"
chip = "GP104"
units = 15
base_mhz = 1400
memory = [{ mib = 8192, type = "GDDR5", bus_bits = 256, rate_mtps = 8008 }]

[[card]]
model = "GeForce GTX 1071"
chip = "GP104"
units = 17
base_mhz = 1500
memory = [{ mib = 8192, type = "GDDR5", bus_bits = 256, rate_mtps = 8000 }]
""",
    )
    changed = load(mine)
    assert models(changed.resolve("GTX 1071")) == ["GeForce GTX 1071"]
    desktop = [r for r in changed.resolve("GTX 1070") if r.units == 15]
    assert [row.base_mhz for row in desktop] == [1400]
    assert [r for r in changed.resolve("GTX 1070") if r.units == 16]
    gone = [row for row in table.variants if row not in changed.variants]
    assert {(row.model, row.units, row.form) for row in gone} == {
        ("GeForce GTX 1070", 15, "desktop")
    }
    assert changed.sha256 != table.sha256
    assert load().sha256 == table.sha256


def test_all_mistakes_of_an_added_file_are_told_at_once(tmp_path):
    broken = write(
        tmp_path / "mine.toml",
        """vendor = "NVIDIA"
family = "Mine"
source = "my-notes"
colour = "green"

[[card]]
model = "GeForce GTX 1070"
chip = "GP104"
units = "fifteen"
base_mhz = 1400
memory = [{ mib = 8192, type = "GDDR5", bus_bits = 256 }]

[[card]]
chip = "GP104"
units = 2000
base_mhz = nan
memory = []
pci = ["10de:1B81"]
""",
    )
    with pytest.raises(TableError) as caught:
        load(broken)
    assert str(caught.value).splitlines() == [
        "mine.toml: colour: unknown key",
        "mine.toml: card[1].units: Expected `int`, got `str`",
        "mine.toml: card[1].memory[1].rate_mtps: missing",
        "mine.toml: card[2].model: missing",
        "mine.toml: card[2].units: Expected `int` <= 1024",
        "mine.toml: card[2].base_mhz: Expected `int`, got `float`",
        "mine.toml: card[2].memory: Expected `array` of length >= 1",
        (
            "mine.toml: card[2].pci[1]: Expected `str` matching regex "
            "'^(10de|1002|8086):[0-9a-f]{4}$'"
        ),
        "mine.toml: source: no source 'my-notes'",
    ]


def test_the_sound_cards_of_a_broken_file_are_checked_too(tmp_path):
    broken = write(
        tmp_path / "mine.toml",
        """vendor = "NVIDIA"
family = "Mine"
source = "memory"

[[card]]
model = "A"
units = 1

[[card]]
model = "B"
chip = "GP104"
units = 21
base_mhz = 1000
memory = [
  { mib = 8192, type = "GDDR5", bus_bits = 256, rate_mtps = 8000 },
  { mib = 8192, type = "GDDR5", bus_bits = 256, rate_mtps = 8000 },
]
source = ["memory", "hearsay"]
""",
    )
    with pytest.raises(TableError) as caught:
        load(broken)
    assert caught.value.mistakes == (
        "mine.toml: card[1].chip: missing",
        "mine.toml: card[1].base_mhz: missing",
        "mine.toml: card[1].memory: missing",
        "mine.toml: card[2] (B).units: 21 of a chip that has 20",
        "mine.toml: card[2] (B).source: no source 'hearsay'",
        (
            "mine.toml: card[2] (B): the row b/gp104-21/1000/8192-gddr5-256-8000 is "
            "there already"
        ),
    )


def test_an_overriding_row_leaves_other_forms_alone(table, tmp_path):
    mine = write(
        tmp_path / "mine.toml",
        """vendor = "NVIDIA"
family = "Mine"
source = "memory"

[[card]]
model = "GeForce GTX 1070"
chip = "GP104"
units = 15
base_mhz = 1506
boost_mhz = 1684
memory = [{ mib = 8192, type = "GDDR5", bus_bits = 256, rate_mtps = 8000 }]
""",
    )
    before, after = table.resolve("GTX 1070"), load(mine).resolve("GTX 1070")
    assert {row.boost_mhz for row in after if row.form == "desktop"} == {1684}
    assert [row for row in after if row.form == "laptop"] == [
        row for row in before if row.form == "laptop"
    ]
    assert next(row.id for row in after if row.form == "desktop") in {
        row.id for row in before
    }


def test_what_no_card_can_be_is_told_too(tmp_path):
    broken = write(
        tmp_path / "mine.toml",
        """vendor = "AMD"
family = "Mine"
source = "nowhere"

[[card]]
model = "A"
chip = "GP104"
units = 21
base_mhz = 1400
boost_mhz = 1300
memory = [{ mib = 8192, type = "HBM", bus_bits = 512, rate_mtps = 1000 }]
pci = ["10de:1b81"]

[[card]]
model = "B"
chip = "GX999"
units = 1
base_mhz = 1000
memory = [{ mib = 8192, type = "GDDR5", bus_bits = 256, rate_mtps = 8000 }]
""",
    )
    with pytest.raises(TableError) as caught:
        load(broken)
    assert caught.value.mistakes == (
        "mine.toml: source: no source 'nowhere'",
        "mine.toml: card[1] (A).chip: GP104 is NVIDIA's, not AMD's",
        "mine.toml: card[1] (A).units: 21 of a chip that has 20",
        "mine.toml: card[1] (A).boost_mhz: below base_mhz",
        "mine.toml: card[1] (A).pci: 10de:1b81 is not AMD's",
        "mine.toml: card[1] (A).memory[1].bus_bits: 512 on a 256-bit chip",
        "mine.toml: card[1] (A).memory[1].type: no band for HBM in pascal-6.1",
        "mine.toml: card[2] (B).chip: no chip 'GX999' in chips.toml",
    )


@pytest.mark.parametrize(
    ("text", "told"),
    [
        (None, "cannot be read: No such file or directory"),
        ("a = [", "mine.toml: not TOML: "),
        ("vendor = 1", "mine.toml: vendor: Expected `str`, got `int`"),
    ],
)
def test_a_missing_or_broken_file_is_one_clear_error(tmp_path, text, told):
    path = tmp_path / "mine.toml"
    if text is not None:
        path.write_text(text)
    with pytest.raises(TableError) as caught:
        load(path)
    assert told in str(caught.value)
    assert "Traceback" not in str(caught.value)


def test_a_row_that_is_there_twice_is_told(tmp_path):
    data = tmp_path / "data"
    shutil.copytree(DATA, data)
    shutil.copy(data / "cards" / "nvidia_900.toml", data / "cards" / "twice.toml")
    with pytest.raises(TableError, match="is there already"):
        load(data=data)


def test_broken_shipped_files_are_told_with_their_place(tmp_path):
    data = tmp_path / "data"
    shutil.copytree(DATA, data)
    chips = data / "chips.toml"
    chips.write_text(
        chips.read_text()
        .replace('windows = ["0dc0-0ddf"]', 'windows = ["0e20-0e3f"]')
        .replace('windows = ["0e20-0e3f"]', 'windows = ["0e21-0e3f"]', 1)
        .replace('architecture = "gcn-4"', 'architecture = "gcn-9"', 1)
    )
    kinds = data / "architectures.toml"
    kinds.write_text(
        kinds.read_text().replace("clock = [0.60, 1.18]", "clock = [1.20, 1.18]", 1)
    )
    cards = data / "cards" / "nvidia_900.toml"
    seen = '[[seen]]\nmodel = "Y"\nchip = "X"\npci = "10de:13c2"\nsource = "memory"\n'
    cards.write_text(cards.read_text() + seen)
    number = cards.read_text().count("[[seen]]")
    with pytest.raises(TableError) as caught:
        load(data=data)
    told = caught.value.mistakes
    assert "architectures.toml: fermi-2.0.clock: 1.2 is above 1.18" in told
    assert "chips.toml: GF104.windows: 0e21-0e3f is no run of blocks of 32 ids" in told
    assert "chips.toml: GF106.windows: 0e20-0e3f is GF104's too" in told
    assert (
        f"nvidia_900.toml: seen[{number}] (Y).chip: no chip 'X' in chips.toml" in told
    )
    assert "chips.toml: Ellesmere.architecture: no architecture 'gcn-9'" in told


def test_a_table_inside_a_row_is_blamed_by_key(tmp_path):
    data = tmp_path / "data"
    shutil.copytree(DATA, data)
    kinds = data / "architectures.toml"
    kinds.write_text(
        kinds.read_text()
        .replace("fp64 = [16, 16]", "fp99 = [16, 16]", 1)
        .replace("memory = { GDDR5 = [0.45, 1.12]", 'memory = { GDDR5 = ["x", 9]', 1)
    )
    with pytest.raises(TableError) as caught:
        load(data=data)
    place = "architectures.toml: fermi-2.0"
    assert caught.value.mistakes == (
        f"{place}.results.fp99 (key): Invalid enum value 'fp99'",
        f"{place}.memory.GDDR5: Expected `float`, got `str`",
    )


def test_a_huge_file_is_not_read(tmp_path):
    path = tmp_path / "huge.toml"
    with path.open("wb") as file:
        file.truncate(9 * 2**20)
    with pytest.raises(TableError, match="larger than 1048576 bytes, not read"):
        load(path)
