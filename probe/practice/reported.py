"""What the layers of a practice card say it is, true or not.

Words only: nothing here measures, and nothing here decides what the silicon does.

Sources: PCI ids from the PCI ID repository (pci.ids); compute capability from NVIDIA's
list of CUDA GPUs; units, clocks and bus width from NVIDIA's product pages. Memory is
reported as the Windows driver does, in whole GiB.
"""

from dataclasses import dataclass

from reports.record import Claim, Layer

_DRIVER = "456.71"
"""A driver of 2020 that serves Kepler and Pascal alike."""


@dataclass(frozen=True, kw_only=True)
class Reported:
    """One identity as its firmware and driver present it."""

    model: str
    vendor: str = "NVIDIA Corporation"
    pci_id: str
    subsystem: str
    revision: str = "a1"
    memory_bytes: int
    units: int
    cores: int | None
    compute_capability: str | None
    clock_mhz: int
    memory_clock_mhz: int
    bus_bits: int
    firmware: str | None
    driver: str = _DRIVER
    layers: tuple[Layer, ...] = ("opencl", "nvml", "pci")
    sensors: str | None = "NVML"
    """Which sensor interface answers; None: none does."""

    def claims(self, memory_bytes: int, free_bytes: int) -> tuple[Claim, ...]:
        """Return every layer's claim for so much reported memory."""
        said = {
            "opencl": Claim(
                layer="opencl",
                source="OpenCL device query",
                model=self.model,
                vendor=self.vendor,
                memory_bytes=memory_bytes,
                compute_units=self.units,
                compute_capability=self.compute_capability,
                clock_mhz=self.clock_mhz,
                driver=self.driver,
            ),
            "nvml": Claim(
                layer="nvml",
                source="NVML device query",
                model=self.model,
                memory_bytes=memory_bytes,
                pci_id=self.pci_id,
                subsystem=self.subsystem,
                cores=self.cores,
                compute_capability=self.compute_capability,
                clock_mhz=self.clock_mhz,
                memory_clock_mhz=self.memory_clock_mhz,
                bus_width_bits=self.bus_bits,
                link_generation=3,
                link_width=16,
                driver=self.driver,
                firmware=self.firmware,
                free_bytes=free_bytes,
            ),
            "pci": Claim(
                layer="pci",
                source="PCI configuration space",
                vendor=self.vendor,
                pci_id=self.pci_id,
                subsystem=self.subsystem,
                revision=self.revision,
                link_generation=3,
                link_width=16,
            ),
        }
        return tuple(said[layer] for layer in self.layers if layer in said)


GTX_1070 = Reported(
    model="GeForce GTX 1070",
    pci_id="10de:1b81",
    subsystem="10de:119d",
    memory_bytes=8 << 30,
    units=15,
    cores=1920,
    compute_capability="6.1",
    clock_mhz=1683,
    memory_clock_mhz=4004,
    bus_bits=256,
    firmware="86.04.26.00.80",
)

GTX_1080_OVER_1070 = Reported(
    model="GeForce GTX 1080",
    pci_id="10de:1b80",
    subsystem="10de:119e",
    memory_bytes=8 << 30,
    units=15,  # the driver counts what the chip has
    cores=1920,
    compute_capability="6.1",
    clock_mhz=1733,
    memory_clock_mhz=4004,
    bus_bits=256,
    firmware="86.04.17.00.01",
)

GTX_1080 = Reported(
    model="GeForce GTX 1080",
    pci_id="10de:1b80",
    subsystem="10de:119e",
    memory_bytes=8 << 30,
    units=20,
    cores=2560,
    compute_capability="6.1",
    clock_mhz=1733,
    memory_clock_mhz=5005,
    bus_bits=256,
    firmware="86.04.17.00.01",
)

GTX_650 = Reported(
    model="GeForce GTX 650",
    pci_id="10de:0fc6",
    subsystem="1458:362b",
    memory_bytes=2 << 30,
    units=2,
    cores=384,
    compute_capability="3.0",
    clock_mhz=1058,
    memory_clock_mhz=2500,
    bus_bits=128,
    firmware="80.07.35.00.05",
)

NEVER_MADE = Reported(
    model="Tarn Graphics T800",
    vendor="Tarn Graphics",
    pci_id="f00d:0800",
    subsystem="f00d:0001",
    revision="01",
    memory_bytes=8 << 30,
    units=15,
    cores=None,
    compute_capability=None,
    clock_mhz=1683,
    memory_clock_mhz=4004,
    bus_bits=256,
    firmware=None,
    driver="1.0.4",
    layers=("opencl", "pci"),
    sensors=None,
)
