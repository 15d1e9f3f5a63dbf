"""What belongs to the chip and not to its firmware, and traces of who changed what.

A chip's own register and the ids of its other functions are out of a firmware's reach:
another chip's there is another chip. Firmware images, versions and driver packages can
be honest and foreign at once, so they raise doubt and never decide. What is missing is
unknown: functions may be hidden, and a virtual machine may rearrange them.
"""

import re
from collections.abc import Iterator

from reference.case import Case
from reference.rules._say import a, either, find
from reports.record import Finding, Strength

_PACKAGE_ID = re.compile(r"VEN_([0-9A-F]{4})&DEV_([0-9A-F]{4})", re.IGNORECASE)
_LINES = {
    "10de": re.compile(r"^nvidia_dev\.([0-9a-f]{4})(?:\.|$)", re.IGNORECASE),
    "1002": re.compile(r"^amd([0-9a-f]{4})(?:\.|$)", re.IGNORECASE),
}
"""How makers name the line of a card in their driver packages: by its device id."""
_PACKAGES = (
    "Microsoft: DEVPKEY_Device_MatchingDeviceId",
    "Published lines of makers' driver packages",
)
_WITHOUT_ANALOG = 6.0
"""From this compute capability on no display engine has an analog output."""
_AUDIO, _SERIAL = "0403", "0c03"
_KINDS = {_AUDIO: "audio", _SERIAL: "USB"}


def silicon_id(case: Case) -> Iterator[Finding]:
    """Compare the number in the chip's own register with the claimed model's chips."""
    if case.is_part or not case.rows:
        return
    wanted = _chips(case)
    for number in sorted({claim.chip_id for claim in case.reported if claim.chip_id}):
        chips = case.table.chips_by_silicon(number)
        if not chips:
            yield find(
                "silicon-id", "supporting", "open",
                claim=a(either(sorted(wanted))), measured=number,
                envelope=either(sorted(wanted)),
                sentence=f"The chip's own register says {number}, which the table does "
                "not know.",
                sources=("nouveau",),
            )  # fmt: skip
            continue
        fits = bool(wanted & set(chips))
        said = f"The chip itself says that it is {a(either(chips))}"
        yield find(
            "silicon-id", "strong" if fits else "decisive",
            "agrees" if fits else "contradicts",
            claim=a(either(sorted(wanted))), measured=f"{number}, {a(either(chips))}",
            envelope=either(sorted(wanted)),
            sentence=f"{said}, as on {a(case.model)}." if fits else f"{said}, which no "
            f"{case.model} is made of: its register holds {number}.",
            sources=("envytools", "nouveau"),
        )  # fmt: skip


def sibling_function(case: Case) -> Iterator[Finding]:
    """Compare the ids of the slot's other functions with the chip that has them."""
    layers = case.record.card.layers
    if layers is None or case.is_part:
        return
    own = _own_ids(case)
    wanted = _chips(case) if case.rows else _by_ids(case)
    makers = {one.partition(":")[0] for one in own}
    known = [
        (one, chips)
        for one in layers.functions
        if (chips := case.table.chips_by_function(one.pci_id))
        and (not makers or one.pci_id.partition(":")[0] in makers)
    ]
    if not wanted or not known:
        return
    foreign = [(one, chips) for one, chips in known if not wanted & set(chips)]
    one, chips = (foreign or known)[0]
    kind = _KINDS.get(one.device_class, "further")
    said = f"Its {kind} function {one.pci_id} belongs to the chip {either(chips)}"
    strength: Strength = "supporting"
    if foreign:
        sure = one.pci_id.startswith("10de:") and bool(case.rows)
        strength = "decisive" if sure and not layers.virtual_machine else "strong"
        if case.rows:
            said += f", which no {case.model} is made of."
        else:
            said += f", its PCI id to {either(sorted(wanted))}: two chips speak there."
    else:
        said += f", as on {a(case.model)}." if case.rows else ", like its PCI id."
    yield find(
        "sibling-function", strength, "contradicts" if foreign else "agrees",
        claim=a(either(sorted(wanted))),
        measured=f"{one.pci_id}, {a(either(chips))}", envelope=either(sorted(wanted)),
        sentence=said, sources=("envytools", "pci-ids"),
    )  # fmt: skip


def firmware_version(case: Case) -> Iterator[Finding]:
    """Compare the chip that a firmware of this version is made for. NVIDIA."""
    if case.is_part or {row.vendor for row in case.rows} != {"NVIDIA"}:
        return
    if any(not one.startswith("10de:") for one in _own_ids(case)):
        return
    wanted = _chips(case)
    told: dict[tuple[str, ...], str] = {}
    for version in sorted({one.firmware for one in case.reported if one.firmware}):
        chips = case.table.chips_by_firmware(version)
        if chips:
            told[chips] = version
    for chips, version in told.items():
        fits = bool(wanted & set(chips))
        said = f"Its firmware {version} is of the kind made for {either(chips)}"
        yield find(
            "firmware-version", "supporting" if fits else "strong",
            "agrees" if fits else "contradicts",
            claim=a(either(sorted(wanted))), measured=f"{version}, for {either(chips)}",
            envelope=either(sorted(wanted)),
            sentence=f"{said}, as on {a(case.model)}." if fits
            else f"{said}, which no {case.model} is made of.",
            sources=("envytools-prefixes", "printed-cards"),
        )  # fmt: skip


def firmware_image(case: Case) -> Iterator[Finding]:
    """Compare the function that a kept firmware image is made for with the card's."""
    layers, own = case.record.card.layers, _own_ids(case)
    if layers is None or case.is_part or not own or not case.rows:
        return
    for image in sorted(layers.images, key=repr):
        if image.pci_id is None:
            continue
        fits = image.pci_id in own
        chips = _owners(case, image.pci_id)
        strange = bool(chips) and not chips & (_chips(case) | _by_ids(case))
        said = f"Its firmware ({image.source}) is made for {image.pci_id}"
        whose = f", {a(either(sorted(chips)))}" if chips else ""
        yield find(
            "firmware-image", "strong" if strange else "supporting",
            "agrees" if fits else "contradicts",
            claim=either(sorted(own)), measured=f"{image.pci_id}{whose}",
            envelope=either(sorted(own)),
            sentence=f"{said}, as is the card." if fits
            else f"{said}{whose}; the card shows {either(sorted(own))}.",
            sources=("PCI Firmware Specification: expansion ROM",),
        )  # fmt: skip


def driver_package(case: Case) -> Iterator[Finding]:
    """Look for a driver package that was edited for, or forced onto, the card."""
    layers, own = case.record.card.layers, _own_ids(case)
    package = layers.package if layers is not None else None
    if package is None or len(own) != 1 or not case.is_card:
        return
    (ids,) = own
    maker, _, device = ids.partition(":")
    found = _PACKAGE_ID.search(package.matching_id or "")
    matched = found[2].casefold() if found and found[1].casefold() == maker else None
    line = _LINES[maker].match(package.line or "") if maker in _LINES else None
    named = line[1].casefold() if line else None
    foreign = [(one, f"{maker}:{one}") for one in (named, matched) if one not in
               (None, device)]  # fmt: skip
    if foreign:
        told = foreign[0][1]
        holders = sorted({row.model for row in case.table.by_pci(told)})
        whose = f", {a(either(holders, 3))}" if holders else ""
        said = (
            f"Windows drives it by the line of a driver package that is for "
            f"{told}{whose}; the card is {ids}: the package was edited, or forced "
            "onto the card."
        )
    elif named or matched:
        told, whose = ids, ""
        said = "Windows drives it by its own line of the driver package."
    else:
        return
    yield find(
        "driver-package", "strong" if foreign else "supporting",
        "contradicts" if foreign else "agrees",
        claim=ids, measured=f"{told}{whose}", envelope=ids, sentence=said,
        sources=_PACKAGES,
    )  # fmt: skip


def analog_output(case: Case) -> Iterator[Finding]:
    """Look for an analog output on a chip whose display engine has none. NVIDIA.

    Boards with a converter exist, and the list of outputs is the firmware's.
    """
    layers = case.record.card.layers
    if layers is None or not case.rows:
        return
    sets = [chip.compute_capability for chip in case.chips.values()]
    analog = [one for one in layers.outputs if one.startswith(("VGA", "DVI-I"))]
    if not analog or any(one is None or float(one) < _WITHOUT_ANALOG for one in sets):
        return
    yield find(
        "analog-output", "supporting", "contradicts",
        claim="digital outputs", measured=either(analog), envelope="digital outputs",
        sentence=f"Its driver lists an analog output ({either(analog)}); "
        f"{a(case.model)} has none, unless its maker put a converter on the board.",
        sources=("nouveau",),
    )  # fmt: skip


def link_maximum(case: Case) -> Iterator[Finding]:
    """Compare the fastest link of the card's own port with the model's. NVIDIA."""
    layers = case.record.card.layers
    made = [row.pcie for row in case.all_rows if row.pcie]
    told = [one.link_generation for one in case.reported if one.link_generation]
    virtual = layers is not None and bool(layers.virtual_machine)
    makers = {row.vendor for row in case.all_rows}
    if not made or not told or virtual or makers != {"NVIDIA"} or case.is_part:
        return
    best = max(int(link.partition(" ")[0]) for link in made)
    if max(told) == best:
        return
    faster = max(told) > best
    yield find(
        "link-maximum", "supporting", "contradicts" if faster else "open",
        claim=f"PCIe {best}.0", measured=f"PCIe {max(told)}.0",
        envelope=f"PCIe {best}.0",
        sentence=f"Its port knows PCIe {max(told)}.0; {a(case.model)} knows "
        f"{best}.0" + ("." if faster else ". Older boards hold some cards back."),
        sources=("memory", *case.sources),
    )  # fmt: skip


def _chips(case: Case) -> set[str]:
    """Return the chips of which a genuine one may be made.

    Lenient in memory and in what a name may leave out ("OEM"); where the name was only
    looked up by the PCI id, that id's chips as well.
    """
    models = {row.model for row in case.all_rows}
    chips = {row.chip for model in models for row in case.table.resolve(model)}
    chips |= case.table.chips_seen(case.all_rows)
    return chips | _by_ids(case) if case.loose else chips


def _own_ids(case: Case) -> set[str]:
    return {claim.pci_id.casefold() for claim in case.reported if claim.pci_id}


def _by_ids(case: Case) -> set[str]:
    return {chip for one in _own_ids(case) for chip in _owners(case, one)}


def _owners(case: Case, pci_id: str) -> set[str]:
    """Return the chips that carry a PCI id, by the table or by its range."""
    window = case.table.chip_by_window(pci_id)
    rows = {row.chip for row in case.table.by_pci(pci_id)}
    return rows or ({window} if window else set())
