"""The three readers of an inventory, announced before each is asked, or left out."""

from collections.abc import Callable

from probe.identity import nvml as nvml_layer
from probe.identity import opencl as opencl_layer
from probe.identity.bus import BusSight
from probe.identity.cards import bus_of_this_system
from probe.identity.nvml import NvmlSight
from probe.identity.opencl import OpenClSight
from probe.survival.talk import LayerName

Readers = tuple[
    Callable[[], OpenClSight], Callable[[], NvmlSight], Callable[[], BusSight]
]


def readers(
    without: dict[LayerName, str], asking: Callable[[LayerName], None]
) -> Readers:
    """Return what `cards.find` asks; a layer of `without` is silent and says why."""

    def opencl() -> OpenClSight:
        if "opencl" in without:
            return OpenClSight(notes=(without["opencl"],))
        asking("opencl")
        return opencl_layer.read()

    def nvml() -> NvmlSight:
        if "nvml" in without:
            return NvmlSight(notes=(without["nvml"],))
        asking("nvml")
        return nvml_layer.read()

    def bus() -> BusSight:
        if "bus" in without:
            return BusSight(notes=(without["bus"],))
        asking("bus")
        return bus_of_this_system()

    return opencl, nvml, bus
