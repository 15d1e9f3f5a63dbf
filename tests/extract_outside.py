"""Makes the extracts of others' tables that `tests/outside` reads, from files given.

    python tests/extract_outside.py --pci-ids pci.ids --amdgpu-ids amdgpu.ids ...

Each extract keeps the columns that a check needs and names source and licence at its
head. What is left out is what the reference table never holds: other vendors' devices,
built-in graphics, audio functions.
"""

import argparse
import csv
import io
import json
import re
from pathlib import Path

TARGET = Path(__file__).parent / "data" / "outside"
_CHIP = re.compile(r"^(G[FKMPVAHB]\d|GB\d|TU\d|AD\d)")
_NOT_A_CARD = re.compile(r"audio|usb|ucsi|switch|smu|bridge|controller", re.IGNORECASE)

PCI_IDS = """\
# The PCI ID repository (https://pci-ids.ucw.cz), state of 2026-08-22: NVIDIA devices
# from Fermi on, AMD devices from 6600 to 7fff, Intel DG2 and Battlemage. Maintained by
# Albert Pool, Martin Mares and other volunteers; GPL-2+ or 3-clause BSD, used here
# under the latter.
"""
AMDGPU_IDS = """\
# libdrm, data/amdgpu.ids, state of 2025-07-30: device, revision, marketing name.
# Copyright Advanced Micro Devices and contributors; MIT licence.
"""
NVIDIA_NAMES = """\
# NVIDIA's open kernel modules 595.45.04, 2026-03-05, table of chips and names: device,
# subsystem (0000:0000: any), marketing name. Copyright NVIDIA Corporation; MIT licence.
"""
ROCM = """\
# ROCm documentation, GPU hardware specifications, state of 2025-03-21: as printed.
# Copyright Advanced Micro Devices; MIT licence.
"""
PRINTED = """\
# What drivers printed about real cards, collected from public reports up to 2026: facts
# only. kind and remark are judgement, all else is as printed; empty: not printed.
"""
LISTINGS = """\
# What operating systems printed about real cards' slots, collected from public sources
# up to 2026: facts only. Display function, and the other functions of its slot.
"""
FIRMWARE = """\
# Firmware versions that drivers and kernels printed about real cards, collected from
# public sources up to 2026: facts only; empty: not printed.
"""
CHIP_LINES = """\
# What kernels printed of NVIDIA chips' own registers, collected from public sources up
# to 2026: facts only. chip_id_hex: NV_PMC_BOOT_0; empty: not printed.
"""
FUNCTIONS = """\
# The PCI ID repository (https://pci-ids.ucw.cz), state of 2026-08-22: audio, USB and
# USB-C functions of NVIDIA's and AMD's graphics cards. Maintained by Albert Pool,
# Martin Mares and others; GPL-2+ or 3-clause BSD, used here under the latter.
"""
OLDER = """\
# The PCI ID repository (https://pci-ids.ucw.cz), state of 2026-08-22: NVIDIA devices
# from G80 to GT218. Maintained by Albert Pool, Martin Mares and others; GPL-2+ or
# 3-clause BSD, used here under the latter.
"""
WIKIPEDIA = """\
# Wikipedia, lists of NVIDIA, AMD and Intel graphics processing units, read by machine
# on 2025-06-16: figures as printed there (GB/s, GFLOP/s). By Wikipedia's authors, CC
# BY-SA 4.0.
"""


def pci_ids(path):
    vendor, lines = "", []
    for line in path.read_text(errors="replace").splitlines():
        if re.match(r"[0-9a-f]{4}\s", line):
            vendor = line[:4]
        found = re.match(r"\t([0-9a-f]{4})\s+(.*)", line)
        if not found or vendor not in {"10de", "1002", "8086"}:
            continue
        device, name = found.groups()
        wanted = {
            "10de": bool(_CHIP.match(name)),
            "1002": "6600" <= device <= "7fff",
            "8086": bool(re.match(r"(DG2|Battlemage)", name)),
        }[vendor]
        if wanted and not _NOT_A_CARD.search(name):
            lines.append(f"{vendor}:{device}\t{name}\n")
    return PCI_IDS + "".join(lines)


def amdgpu_ids(path):
    lines = []
    for line in path.read_text().splitlines():
        found = re.match(r"([0-9A-F]{4}),\s*([0-9A-F]{2}),\s*(.*)", line)
        if found and found[1] >= "6600":
            lines.append("\t".join(part.strip() for part in found.groups()) + "\n")
    return AMDGPU_IDS + "".join(lines)


def nvidia_names(path):
    with path.open() as file:
        rows = [
            f"{row['device_id']}\t{row['subsystem_vendor']}:{row['subsystem_id']}"
            f"\t{row['name']}\n"
            for row in csv.DictReader(file, delimiter="\t")
        ]
    return NVIDIA_NAMES + "".join(rows)


def rocm(path):
    keep = ("Model", "LLVM target name", "VRAM (GiB)", "Compute Units",
            "L2 Cache (MiB)", "Infinity Cache (MiB)", "L3 Cache (MiB)",
            "table")  # fmt: skip
    return ROCM + _columns(path, keep)


def printed(path):
    keep = ("implementation", "device_name", "board_name", "global_mem_mib",
            "compute_units", "cc_or_gfx", "kind", "remark")  # fmt: skip
    return PRINTED + _columns(
        path, keep, lambda row: row["device_name"] or row["board_name"]
    )


def listings(path):
    keep = ("display_vendor", "display_device", "revision", "printed_name",
            "sibling1_device", "sibling2_device", "sibling3_device")  # fmt: skip
    return LISTINGS + _columns(path, keep, lambda row: row["quality"] == "printed")


def firmware_versions(path):
    keep = ("card_name", "pci_id", "chip", "firmware_version")
    return FIRMWARE + _columns(path, keep)


def chip_lines(path):
    keep = ("chip_id_hex", "chip_name", "bios_version", "vram_MiB", "mem_type")
    return CHIP_LINES + _columns(path, keep, lambda row: row["chip_id_hex"])


def pci_functions(path):
    lines = []
    for vendor, device, name in _devices(path):
        first = {"10de": "0be2", "1002": "7300"}.get(vendor, "g")
        mine = re.search(r"audio|usb 3|ucsi| usb$", name, re.IGNORECASE)
        if mine and device >= first and not re.search("MCP|Theater", name):
            lines.append(f"{vendor}:{device}\t{name}\n")
    return FUNCTIONS + "".join(lines)


def pci_older(path):
    pattern = re.compile(r"^(G8\d|G9\d|GT2\d\d)")
    return OLDER + "".join(
        f"{vendor}:{device}\t{name}\n"
        for vendor, device, name in _devices(path)
        if vendor == "10de" and pattern.match(name) and not _NOT_A_CARD.search(name)
    )


def _devices(path):
    vendor = ""
    for line in path.read_text(errors="replace").splitlines():
        if re.match(r"[0-9a-f]{4}\s", line):
            vendor = line[:4]
        found = re.match(r"\t([0-9a-f]{4})\s+(.*)", line)
        if found:
            yield vendor, *found.groups()


def wikipedia(path):
    lines = []
    for row in json.loads(path.read_text()).values():
        names = [
            str(value)
            for key, value in row.items()
            if re.match("(branding and )?model", key.casefold())
        ]
        name = next((one for one in names if one != "nan"), "")
        name = re.sub(r"\[[^\]]*\]", "", name).strip()
        bandwidth = _figures(row, lambda key: "bandwidth" in key and "infin" not in key)
        speed = _figures(row, lambda key: "single" in key or "fp32" in key
                         or key in {"processing power (gflops)",
                                    "performance (gflops)"})  # fmt: skip
        if name and speed:
            lines.append([str(row["Vendor"]), name, bandwidth, speed])
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(["vendor", "name", "bandwidth_gbps", "fp32_gflops"])
    writer.writerows(lines)
    return WIKIPEDIA + out.getvalue()


def _figures(row, wanted):
    """All numbers of the first column wanted, blanks between; T as thousands."""
    for key, value in row.items():
        if wanted(key.casefold()) and str(value) != "nan":
            text = re.sub(r"\[[^\]]*\]", " ", str(value)).replace(",", "")
            scale = 1000 if "TFLOPS" in key else 1
            found = re.findall(r"\d+(?:\.\d+)?", text)
            if found:
                return " ".join(f"{float(one) * scale:g}" for one in found)
    return ""


def _columns(path, keep, wanted=lambda _: True):
    with path.open() as file:
        rows = [row for row in csv.DictReader(file) if wanted(row)]
    out = io.StringIO()
    writer = csv.DictWriter(out, keep, extrasaction="ignore", lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    return out.getvalue()


MAKERS = {
    "pci_ids.tsv": pci_ids,
    "amdgpu_ids.tsv": amdgpu_ids,
    "nvidia_names.tsv": nvidia_names,
    "rocm_specifications.csv": rocm,
    "printed_cards.csv": printed,
    "wikipedia_figures.csv": wikipedia,
    "printed_slots.csv": listings,
    "printed_firmware.csv": firmware_versions,
    "printed_chip_ids.csv": chip_lines,
    "pci_functions.tsv": pci_functions,
    "pci_older.tsv": pci_older,
}


def main():
    parser = argparse.ArgumentParser(description=__doc__)
    for name, maker in MAKERS.items():
        option = "--" + maker.__name__.replace("_", "-")
        parser.add_argument(option, type=Path, metavar="FILE", help=f"makes {name}")
    asked = parser.parse_args()
    TARGET.mkdir(parents=True, exist_ok=True)
    for name, maker in MAKERS.items():
        path = getattr(asked, maker.__name__)
        if path is not None:
            (TARGET / name).write_text(maker(path))
            print(TARGET / name)


if __name__ == "__main__":
    main()
