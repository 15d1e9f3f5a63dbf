"""NVML, played by a stand-in for pynvml; names and numbers against pynvml itself.

Throttle bits and enumerations: nvml.h as nvidia-ml-py carries it.
"""

import ast
import inspect
import re
from pathlib import Path
from types import SimpleNamespace

import pynvml
import pytest

from probe.identity import nvml, sensors
from probe.identity.sensors import AmdSensors, NvmlSensors, throttle_words


class NVMLError(Exception):
    def __init__(self, value, text="Not Supported"):
        super().__init__(text)
        self.value = value


FULL = {
    "nvmlSystemGetDriverVersion": "535.183.01",
    "nvmlDeviceGetCount": 1,
    "nvmlDeviceGetHandleByIndex": "handle",
    "nvmlDeviceGetPciInfo": SimpleNamespace(
        busId=b"00000000:01:00.0", pciDeviceId=0x1B8110DE, pciSubSystemId=0x37011458
    ),
    "nvmlDeviceGetUUID": "GPU-00112233-4455-6677-8899-aabbccddeeff",
    "nvmlDeviceGetDisplayActive": 1,
    "nvmlDeviceGetName": "NVIDIA GeForce GTX 1070",
    "nvmlDeviceGetMemoryInfo": SimpleNamespace(
        total=8589934592, free=8117878784, used=472055808
    ),
    "nvmlDeviceGetCudaComputeCapability": (6, 1),
    "nvmlDeviceGetNumGpuCores": 1920,
    "nvmlDeviceGetMemoryBusWidth": 256,
    "nvmlDeviceGetMaxClockInfo": lambda handle, clock: {1: 1911, 2: 4004}[clock],
    "nvmlDeviceGetClockInfo": lambda handle, clock: {1: 1800, 2: 3802}[clock],
    "nvmlDeviceGetGpuMaxPcieLinkGeneration": 3,
    "nvmlDeviceGetMaxPcieLinkWidth": 16,
    "nvmlDeviceGetCurrPcieLinkGeneration": 1,
    "nvmlDeviceGetCurrPcieLinkWidth": 16,
    "nvmlDeviceGetVbiosVersion": "86.04.26.00.80",
    "nvmlDeviceGetTemperatureThreshold": 96,
    "nvmlDeviceGetEnforcedPowerLimit": 151000,
    "nvmlDeviceGetPowerUsage": 98500,
    "nvmlDeviceGetTemperature": 71,
    "nvmlDeviceGetFanSpeed": 44,
    "nvmlDeviceGetUtilizationRates": SimpleNamespace(gpu=97, memory=50),
    "nvmlDeviceGetCurrentClocksThrottleReasons": 0x4,
}


class Library:
    """A pynvml that answers what `answers` holds and refuses the rest."""

    NVMLError = NVMLError
    NVML_ERROR_FUNCTION_NOT_FOUND = 13

    def __init__(self, answers, *, init=None):
        self.answers = answers
        self.init = init
        self.asked = []
        self.nvmlLib = SimpleNamespace(nvmlInit_v2=self._old_init)
        self.loaded = False

    def nvmlInit(self):  # noqa: N802
        if self.init is not None:
            raise self.init

    def _LoadNvmlLibrary(self):  # noqa: N802
        self.loaded = True

    def _old_init(self):
        assert self.loaded
        return 0

    def __getattr__(self, name):
        if not name.startswith("nvml"):
            raise AttributeError(name)

        def call(*arguments):
            self.asked.append(name)
            answer = self.answers.get(name, NVMLError(3))
            if isinstance(answer, Exception):
                raise answer
            return answer(*arguments) if callable(answer) else answer

        return call


def test_everything_answered():
    sight = nvml.read(Library(FULL))
    (gpu,) = sight.devices
    assert gpu.address == "0000:01:00.0"
    assert gpu.uuid == bytes.fromhex("00112233445566778899aabbccddeeff")
    assert gpu.drives_display is True
    claim = gpu.claim
    assert claim.model == "NVIDIA GeForce GTX 1070"
    assert (claim.memory_bytes, claim.free_bytes) == (8589934592, 8117878784)
    assert (claim.pci_id, claim.subsystem) == ("10de:1b81", "1458:3701")
    assert (claim.cores, claim.bus_width_bits) == (1920, 256)
    assert claim.compute_capability == "6.1"
    assert (claim.clock_mhz, claim.memory_clock_mhz) == (1911, 4004)
    assert (claim.link_generation, claim.link_width) == (3, 16)
    assert (claim.driver, claim.firmware) == ("535.183.01", "86.04.26.00.80")
    assert "0011" not in repr(sight)


def test_old_driver_answers_almost_nothing():
    known = ("nvmlDeviceGetCount", "nvmlDeviceGetHandleByIndex", "nvmlDeviceGetName")
    library = Library(
        {name: FULL[name] for name in known}, init=NVMLError(13, "Function Not Found")
    )
    sight = nvml.read(library)
    (gpu,) = sight.devices
    assert library.loaded
    assert gpu.claim.model == "NVIDIA GeForce GTX 1070"
    assert gpu.claim.memory_bytes is None
    assert gpu.address is None
    assert gpu.drives_display is None
    assert sight.library is not None
    assert sight.library.refused["nvmlDeviceGetMemoryInfo"] == "Not Supported"


def test_no_library():
    sight = nvml.read(Library({}, init=NVMLError(12, "NVML Shared Library Not Found")))
    assert sight.library is None
    assert sight.notes == ("NVML was not asked: NVML Shared Library Not Found.",)


def test_one_gpu_is_lost():
    def handle(index):
        if index == 0:
            raise NVMLError(15, "GPU is lost")
        return "handle"

    answers = FULL | {"nvmlDeviceGetCount": 2, "nvmlDeviceGetHandleByIndex": handle}
    sight = nvml.read(Library(answers))
    assert len(sight.devices) == 1
    assert sight.notes == ("NVML gives no access to its GPU 0: GPU is lost.",)


def test_board_cut_into_instances_claims_no_memory():
    sight = nvml.read(Library(FULL | {"nvmlDeviceGetMigMode": [1, 1]}))
    (gpu,) = sight.devices
    assert gpu.partitioned
    assert gpu.claim.memory_bytes is None
    assert gpu.claim.free_bytes is None


def test_hostile_answers():
    sight = nvml.read(
        Library(
            FULL
            | {
                "nvmlDeviceGetName": "\x1b[2JGeForce\n" + "x" * 500,
                "nvmlDeviceGetVbiosVersion": UnicodeDecodeError(
                    "utf-8", b"\xff", 0, 1, "invalid start byte"
                ),
                "nvmlDeviceGetNumGpuCores": 2**64 - 1,
                "nvmlDeviceGetUUID": "GPU-zz",
                "nvmlDeviceGetPciInfo": SimpleNamespace(busId="rubbish"),
            }
        )
    )
    (gpu,) = sight.devices
    assert gpu.claim.model is not None
    assert gpu.claim.model.startswith("�[2JGeForce x")
    assert len(gpu.claim.model) == 256
    assert gpu.claim.firmware is None
    assert gpu.claim.cores is None
    assert gpu.uuid is None
    assert gpu.address is None


def test_every_name_asked_is_pynvmls():
    """A misspelt name would read as a card that answers nothing."""
    names = {
        node.value
        for source in (nvml, sensors)
        for node in ast.walk(ast.parse(inspect.getsource(source)))
        if isinstance(node, ast.Constant)
        and isinstance(node.value, str)
        and re.fullmatch("nvml[A-Z][A-Za-z]+", node.value)
    }
    assert len(names) >= 20
    assert [name for name in sorted(names) if not hasattr(pynvml, name)] == []


def test_numbers_are_pynvmls():
    assert nvml.SM_CLOCK == pynvml.NVML_CLOCK_SM
    assert nvml.MEMORY_CLOCK == pynvml.NVML_CLOCK_MEM
    assert sensors._GPU_SENSOR == pynvml.NVML_TEMPERATURE_GPU
    assert sensors._SLOWDOWN_THRESHOLD == pynvml.NVML_TEMPERATURE_THRESHOLD_SLOWDOWN


@pytest.mark.parametrize(
    ("bits", "words"),
    [
        (pynvml.nvmlClocksEventReasonNone, ()),
        (pynvml.nvmlClocksEventReasonGpuIdle, ()),
        (pynvml.nvmlClocksEventReasonApplicationsClocksSetting, ()),
        (pynvml.nvmlClocksEventReasonDisplayClockSetting, ()),
        (pynvml.nvmlClocksEventReasonSyncBoost, ()),
        (pynvml.nvmlClocksEventReasonSwPowerCap, ("power cap",)),
        (
            pynvml.nvmlClocksEventReasonSwThermalSlowdown,
            ("thermal slowdown (software)",),
        ),
        (pynvml.nvmlClocksEventReasonHwSlowdown, ("hardware slowdown",)),
        (
            pynvml.nvmlClocksEventReasonHwSlowdown
            | pynvml.nvmlClocksEventReasonHwThermalSlowdown,
            ("thermal slowdown (hardware)",),
        ),
        (
            pynvml.nvmlClocksEventReasonHwSlowdown
            | pynvml.nvmlClocksEventReasonHwPowerBrakeSlowdown
            | pynvml.nvmlClocksEventReasonSwPowerCap,
            ("power cap", "power brake"),
        ),
    ],
)
def test_throttle_words(bits, words):
    assert throttle_words(bits) == words


def test_sensors_of_a_card_that_answers():
    found = NvmlSensors(nvml.Nvml(library=Library(FULL)), "handle")
    assert (found.slowdown_c, found.power_limit_w) == (96.0, 151.0)
    sample = found.read(1.5, "fp32")
    assert (sample.at_seconds, sample.phase) == (1.5, "fp32")
    assert (sample.core_mhz, sample.memory_mhz) == (1800.0, 3802.0)
    assert (sample.temperature_c, sample.power_w) == (71.0, 98.5)
    assert (sample.fan_percent, sample.utilisation_percent) == (44.0, 97.0)
    assert sample.memory_used_bytes == 472055808
    assert (sample.link_generation, sample.link_width) == (1, 16)
    assert sample.throttle == ("power cap",)


def test_what_was_refused_once_is_not_asked_again():
    library = Library({"nvmlDeviceGetTemperature": 60})
    found = NvmlSensors(nvml.Nvml(library=library), "handle")
    assert (found.slowdown_c, found.power_limit_w) == (None, None)
    before = len(library.asked)
    first = found.read(0.0, "idle")
    second = found.read(1.0, "idle")
    assert library.asked[before:] == ["nvmlDeviceGetTemperature"] * 2
    assert (first.temperature_c, second.temperature_c) == (60.0, 60.0)
    assert second.power_w is None
    assert second.throttle == ()


@pytest.mark.parametrize("told", [0, -1, 2**64, None, "3", True, 3.0])
def test_a_link_that_is_told_oddly_is_not_told(told):
    library = Library({"nvmlDeviceGetCurrPcieLinkGeneration": told})
    sample = NvmlSensors(nvml.Nvml(library=library), "handle").read(0.0, "idle")
    assert (sample.link_generation, sample.link_width) == (None, None)


def monitor(root: Path, **files: str) -> Path:
    folder = root / "hwmon/hwmon3"
    folder.mkdir(parents=True)
    for name, text in files.items():
        (folder / name).write_text(text + "\n")
    return root


def test_linux_monitor_of_an_amd_card(tmp_path):
    # kernel documentation gpu/amdgpu/thermal.rst: millidegrees, microwatts, hertz
    monitor(
        tmp_path,
        temp1_label="edge",
        temp1_input="61000",
        temp1_crit="100000",
        temp2_label="junction",
        temp2_input="74000",
        temp2_crit="110000",
        power1_average="120000000",
        power1_cap="185000000",
        freq1_input="1366000000",
        freq2_input="2000000000",
        pwm1="51",
    )
    (tmp_path / "gpu_busy_percent").write_text("99\n")
    (tmp_path / "mem_info_vram_used").write_text("34603008\n")
    (tmp_path / "current_link_speed").write_text("8.0 GT/s PCIe\n")
    (tmp_path / "current_link_width").write_text("16\n")
    found = AmdSensors.of(tmp_path)
    assert found is not None
    assert (found.slowdown_c, found.power_limit_w) == (110.0, 185.0)
    sample = found.read(2.0, "fp32")
    assert sample.temperature_c == 74.0
    assert sample.power_w == 120.0
    assert sample.core_mhz == pytest.approx(1366.0)
    assert sample.memory_mhz == pytest.approx(2000.0)
    assert sample.fan_percent == pytest.approx(20.0)
    assert (sample.utilisation_percent, sample.memory_used_bytes) == (99.0, 34603008)
    assert (sample.link_generation, sample.link_width) == (3, 16)
    assert sample.throttle == ()


def test_linux_monitor_with_a_temperature_alone(tmp_path):
    monitor(tmp_path, temp1_input="55000")
    found = AmdSensors.of(tmp_path)
    assert found is not None
    assert (found.slowdown_c, found.power_limit_w) == (None, None)
    sample = found.read(0.0, "idle")
    assert sample.temperature_c == 55.0
    assert sample.core_mhz is None
    assert sample.memory_used_bytes is None
    assert (sample.link_generation, sample.link_width) == (None, None)


def test_no_linux_monitor(tmp_path):
    assert AmdSensors.of(tmp_path) is None
