"""Sensors of a card: clocks, temperature, power, and why it holds back.

Read while the card works, so a reading must stay cheap (3 ms at most): what a card
once refused is not asked again. What is not known is None.
"""

from pathlib import Path
from typing import Any, Final, Protocol

from probe.identity.address import count
from probe.identity.link_sysfs import LinkState
from probe.identity.nvml import MEMORY_CLOCK, SM_CLOCK, SOURCE, Nvml
from reports.record import Sample
from reports.text import plain

_THROTTLE: Final = (
    (0x04, "power cap"),
    (0x20, "thermal slowdown (software)"),
    (0x40, "thermal slowdown (hardware)"),
    (0x80, "power brake"),
)
"""Bits of NVML's clock event reasons (nvml.h). Left out, because they slow nothing
down that was asked for: idle 0x1, application clocks 0x2, synchronised boost 0x10,
display clock 0x100."""
_HARDWARE_SLOWDOWN: Final = 0x08
_HARDWARE_REASONS: Final = 0x40 | 0x80
_GPU_SENSOR: Final = 0
_SLOWDOWN_THRESHOLD: Final = 1
"""nvmlTemperatureSensors_t and nvmlTemperatureThresholds_t of nvml.h."""
_FULL_PWM = 255
_MOST: Final = 1e18


class Sensors(Protocol):
    """Something that can be read again and again."""

    @property
    def source(self) -> str: ...

    @property
    def slowdown_c(self) -> float | None: ...

    @property
    def power_limit_w(self) -> float | None: ...

    def read(self, at_seconds: float, phase: str) -> Sample: ...


def throttle_words(bits: int) -> tuple[str, ...]:
    """Return why the card runs slower than it could, in plain words."""
    words = [word for bit, word in _THROTTLE if bits & bit]
    if bits & _HARDWARE_SLOWDOWN and not bits & _HARDWARE_REASONS:
        words.append("hardware slowdown")
    return tuple(words)


class NvmlSensors:
    """A GPU's sensors through NVML. Temperatures °C, power W, clocks MHz."""

    source = SOURCE

    def __init__(self, library: Nvml, handle: object) -> None:
        self._library = library
        self._handle = handle
        self._silent: set[str] = set()
        slowdown = library.number(
            "nvmlDeviceGetTemperatureThreshold",
            handle,
            _SLOWDOWN_THRESHOLD,
        )
        limit = library.number("nvmlDeviceGetEnforcedPowerLimit", handle)
        if limit is None:
            limit = library.number("nvmlDeviceGetPowerManagementLimit", handle)
        milliwatts = _real(limit)
        self.slowdown_c = _real(slowdown) or None
        self.power_limit_w = milliwatts / 1000 if milliwatts else None
        self.read(0.0, "first")  # the slow one: 4 ms, later ones well below 1 ms

    def read(self, at_seconds: float, phase: str) -> Sample:
        """Read everything that this card answers."""
        power = self._number("nvmlDeviceGetPowerUsage")
        busy = self._ask("nvmlDeviceGetUtilizationRates")
        memory = self._ask("nvmlDeviceGetMemoryInfo")
        return Sample(
            at_seconds=at_seconds,
            phase=phase,
            core_mhz=self._number("nvmlDeviceGetClockInfo", SM_CLOCK),
            memory_mhz=self._number("nvmlDeviceGetClockInfo", MEMORY_CLOCK),
            temperature_c=self._number("nvmlDeviceGetTemperature", _GPU_SENSOR),
            power_w=None if power is None else power / 1000,
            fan_percent=self._number("nvmlDeviceGetFanSpeed"),
            utilisation_percent=_real(getattr(busy, "gpu", None)),
            memory_used_bytes=count(getattr(memory, "used", None)),
            link_generation=self._link("nvmlDeviceGetCurrPcieLinkGeneration"),
            link_width=self._link("nvmlDeviceGetCurrPcieLinkWidth"),
            throttle=throttle_words(self._reasons()),
        )

    def _reasons(self) -> int:
        """Return the reasons' bits; every driver knows the older name, asked first."""
        for name in (
            "nvmlDeviceGetCurrentClocksThrottleReasons",
            "nvmlDeviceGetCurrentClocksEventReasons",
        ):
            bits = self._ask(name)
            if isinstance(bits, int):
                return bits
        return 0

    def _link(self, function: str) -> int | None:
        """Return a figure of the link; a card on no PCI Express says 0."""
        return count(self._ask(function)) or None

    def _ask(self, function: str, *arguments: object) -> Any:  # noqa: ANN401
        key = f"{function}{arguments}"
        if key in self._silent:
            return None
        answer = self._library.ask(function, self._handle, *arguments)
        if answer is None:
            self._silent.add(key)
        return answer

    def _number(self, function: str, *arguments: object) -> float | None:
        return _real(self._ask(function, *arguments))


class AmdSensors:
    """A card's sensors through Linux's hardware monitor: amdgpu, radeon, nouveau.

    Files: kernel documentation, gpu/amdgpu/thermal.rst and hwmon/sysfs-interface.rst.
    A monitor gives no reasons for holding back: `throttle` stays empty.
    """

    source = "Linux's hardware monitor (hwmon)"

    def __init__(self, card: Path, monitor: Path) -> None:
        self._card = card
        self._monitor = monitor
        self._silent: set[Path] = set()
        self._link = LinkState(card)
        self._temperature = _hottest_sensor(monitor)
        critical = _number(monitor / f"{self._temperature}_crit")
        limit = _number(monitor / "power1_cap")
        self.slowdown_c = critical / 1000 if critical else None
        self.power_limit_w = limit / 1e6 if limit else None

    @classmethod
    def of(cls, card: Path) -> "AmdSensors | None":
        """Return the sensors of a card's sysfs directory; None where it has none."""
        monitors = sorted(card.glob("hwmon/hwmon*"))
        return cls(card, monitors[0]) if monitors else None

    def read(self, at_seconds: float, phase: str) -> Sample:
        """Read everything that this card answers."""
        monitor = self._monitor
        power = self._get(monitor / "power1_average", 1e-6)
        if power is None:
            power = self._get(monitor / "power1_input", 1e-6)
        used = self._get(self._card / "mem_info_vram_used", 1)
        generation, width = self._link.read()
        return Sample(
            at_seconds=at_seconds,
            phase=phase,
            core_mhz=self._get(monitor / "freq1_input", 1e-6),
            memory_mhz=self._get(monitor / "freq2_input", 1e-6),
            temperature_c=self._get(monitor / f"{self._temperature}_input", 1e-3),
            power_w=power,
            fan_percent=self._get(monitor / "pwm1", 100 / _FULL_PWM),
            utilisation_percent=self._get(self._card / "gpu_busy_percent", 1),
            memory_used_bytes=None if used is None else count(int(used)),
            link_generation=generation,
            link_width=width,
        )

    def _get(self, path: Path, scale: float) -> float | None:
        if path in self._silent:
            return None
        value = _number(path)
        if value is None:
            self._silent.add(path)
            return None
        return value * scale


def _real(value: object) -> float | None:
    """Return a reading; None for what is none: no record could hold it."""
    if not isinstance(value, (int, float)) or not abs(value) <= _MOST:
        return None
    return float(value)


def _number(path: Path) -> int | None:
    try:
        value = int(path.read_text(encoding="ascii", errors="replace").strip())
    except (OSError, ValueError):
        return None
    return value if abs(value) <= 2**63 - 1 else None


def _hottest_sensor(monitor: Path) -> str:
    """Return the sensor by which the card slows down: junction, else the first."""
    for label in sorted(monitor.glob("temp*_label")):
        try:
            word = plain(label.read_bytes())
        except OSError:
            continue
        if word == "junction":
            return label.name.removesuffix("_label")
    return "temp1"
