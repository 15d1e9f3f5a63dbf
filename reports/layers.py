"""What was read of a card beside the claims of its layers: ids, names, images.

Types alone. Nothing here names a single card or its owner: no serial number, no UUID.
What is absent was not there or could not be asked: unknown, never suspicious.
"""

from typing import Annotated

from msgspec import Meta

from reports.base import Base, Count, Text

FunctionNumber = Annotated[int, Meta(ge=0, le=7)]


class Function(Base, frozen=True, kw_only=True):
    """Another function of the card's slot. Its ids belong to the chip."""

    number: FunctionNumber
    """1 of `0000:01:00.1`."""
    pci_id: Text
    device_class: Text
    """Class and sub-class, as `0403`: audio."""


class DriverPackage(Base, frozen=True, kw_only=True):
    """Windows: by which line of which driver package the card is driven."""

    hardware_ids: tuple[Text, ...] = ()
    """What the system made from the card's own ids."""
    matching_id: Text | None = None
    """The id of the line that matched."""
    line: Text | None = None
    """The name of the line's text in the package, as `nvidia_dev.1b81`."""


class FirmwareImage(Base, frozen=True, kw_only=True):
    """One image of the card's firmware that a driver or the PC's firmware keeps."""

    source: Text
    size_bytes: Count
    sha256: Text
    pci_id: Text | None = None
    """The display function that the image says it is made for."""


class Sighting(Base, frozen=True, kw_only=True):
    """One further thing that a layer tells, as it tells it."""

    source: Text
    name: Text
    value: Text


class Layers(Base, frozen=True, kw_only=True):
    """Everything of this kind that was read of one card."""

    functions: tuple[Function, ...] = ()
    outputs: tuple[Text, ...] = ()
    """Connectors as the driver names them, from the firmware's list: `HDMI-A-1`."""
    package: DriverPackage | None = None
    images: tuple[FirmwareImage, ...] = ()
    virtual_machine: bool | None = None
    """Whether the system runs in one: functions may be rearranged there."""
    further: tuple[Sighting, ...] = ()
