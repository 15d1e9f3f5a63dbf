"""Makes `data/outside/debian_roms.csv`: what an independent reader says of real ROMs.

    python tests/extract_roms.py

Needs Debian's packages seabios, ipxe-qemu and file (as root: apt-get install). The
facts are those of file(1); the ROMs themselves (LGPL-3, GPL-2) are not copied.
"""

import csv
import hashlib
import re
import subprocess
from pathlib import Path

TARGET = Path(__file__).parent / "data" / "outside" / "debian_roms.csv"
FOLDERS = (
    ("seabios", Path("/usr/share/seabios"), "vgabios-*.bin"),
    ("ipxe-qemu", Path("/usr/lib/ipxe/qemu"), "*.rom"),
)
HEAD = """\
# Expansion ROMs as Debian 12 ships them, and what file(1) 5.44 reads of the first image
# of each: length in units of 512 bytes, place of the PCI data structure, device, and
# whether it is marked as the last. Facts only; SeaBIOS is LGPL-3, iPXE GPL-2.
"""
FIELDS = ("package", "path", "sha256", "units", "place", "device", "last")
_LENGTH = re.compile(r"ROM Ext\..*?\((\d+)\*512\)")
_PCI = re.compile(r"at (0x[0-9a-f]+) PCI .*?device=(?:0x)?([0-9a-f]{4})")


def told(path):
    """Return what file(1) says of a ROM, or None where it knows none."""
    done = subprocess.run(
        ["file", "-b", path], capture_output=True, text=True, check=True
    )
    length, pci = _LENGTH.search(done.stdout), _PCI.search(done.stdout)
    if not length:
        return None
    return {
        "units": length[1],
        "place": pci[1] if pci else "",
        "device": pci[2] if pci else "",
        "last": "yes" if "last ROM" in done.stdout else "",
    }


def main():
    rows = []
    for package, folder, pattern in FOLDERS:
        for path in sorted(folder.glob(pattern)):
            digest = hashlib.sha256(path.read_bytes()).hexdigest()
            rows.append(
                {"package": package, "path": path, "sha256": digest, **told(path)}
            )
    with TARGET.open("w", newline="") as file:
        file.write(HEAD)
        writer = csv.DictWriter(file, FIELDS, lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)


if __name__ == "__main__":
    main()
