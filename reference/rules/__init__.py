"""The rules: each compares claim and measurement in one respect.

A rule is a pure function from a case to findings. It knows no other rule, no order and
no verdict. `ANY_DEVICE` rules hold for whatever computes; `CARD` rules compare with
genuine cards and are asked only about graphics cards. What only a stand-in platform
(Mesa and the like) says of name, memory or units decides nothing, nor does the name of
a whole family ("Series").

| rule               | strongest it can say     | because                              |
|--------------------|--------------------------|--------------------------------------|
| graphics-card      | open                     | no genuine card to compare with      |
| heat               | supporting explanation   | a worn cooler is no counterfeit      |
| crash-place        | strong contradiction     | drivers crash, but not by memory size|
| cut-off            | open                     | once is no accusation                |
| guarded            | open                     | the same; but not tested to the end  |
| model-known        | open                     | what the table lacks is not judged   |
| reported-model     | decisive contradiction   | the card itself disowns the name;    |
|                    | strong for AMD siblings  | drivers mix up models of one id      |
| names-agree        | strong contradiction     | a layer was edited, unknown which    |
| pci-id             | decisive contradiction   | straps reach one chip's ids only;    |
|                    | strong, same chip        | another model's id can be flashed    |
|                    | supporting, AMD same chip| ids are shared among models          |
| silicon-id         | decisive contradiction   | a chip's own register is not written |
| sibling-function   | decisive contradiction   | its other functions belong to a chip;|
|                    | strong in a virtual      | AMD's are shared; machines rearrange |
|                    | machine, and for AMD     |                                      |
| firmware-version   | strong contradiction     | firmware can be another card's       |
| firmware-image     | strong contradiction     | the same; supporting on the same chip|
| driver-package     | strong contradiction     | packages are edited for honest cards |
| analog-output      | supporting contradiction | converters exist                     |
| link-maximum       | supporting contradiction | from memory                          |
| eye-die-marking    | strong contradiction     | people misread, markings are printed |
| eye-analog-output  | strong where nothing was | converters exist                     |
|                    | measured; supporting     |                                      |
| eye-power-plugs    | strong contradiction     | thriftier boards: far too little only|
| eye-memory-size,   | strong contradiction     | chips are overlooked and miscounted  |
|   eye-bus-width    |                          |                                      |
| eye-memory-proven  | supporting contradiction | the same                             |
| eye-contacts,      | supporting contradiction | boards differ; stickers are the      |
|   eye-label        |                          | seller's                             |
| read-...           | strong contradiction     | firmware can be rewritten; a bad read|
|                    |                          | stays open and moves nothing         |
| compute-capability | decisive contradiction   | its code has to run on the chip      |
| gfx-target         | decisive contradiction   | as above; strong within a generation,|
|                    |                          | where users override it              |
| compute-units      | decisive contradiction   | units cut off cannot be counted back;|
|                    |                          | AMD's spare ones can: supporting     |
| lane-count         | decisive contradiction   | the same, as NVML counts             |
| counted-units      | decisive contradiction   | the silicon counts itself: NVIDIA, a |
|                    |                          | clear staircase; strong else         |
| told-units         | strong contradiction     | a driver tells another count than    |
|                    |                          | runs at a time                       |
| lane-cycles        | strong contradiction     | another generation, at any clock     |
| warp-width         | strong contradiction     | the same                             |
| resident-groups    | supporting contradiction | drivers may keep some local memory   |
| measured-chip      | strong contradiction     | a ranking may be led astray; agrees  |
| own-word           | strong contradiction     | the same, for the card's own word    |
| other-card         | open                     | nothing against it, yet another card |
|                    |                          | fits what was measured as well       |
| lesser-memory      | open                     | the same, with less memory           |
| bus-width          | decisive contradiction   | channels are counted, not written;   |
|                    | strong on server cards   | stacks of memory may be switched off |
| listing-memory     | decisive contradiction   | beyond every driver's allowance      |
| memory-size        | decisive contradiction   | a size never made, and not proven;   |
|                    | strong below, save on    | other drivers are known to show much |
|                    | NVIDIA's desktop cards   | less than there is                   |
| memory-bits        | decisive contradiction   | foreign tags in every pass; strong   |
|                    |                          | from one pass of a broken-off run    |
|                    | or fault                 | wrong cells of any other kind        |
| proven-capacity    | strong contradiction     | a driver may have its reasons        |
| spilled-memory     | open: strong from 5 % on | the PC's memory says nothing of it   |
| ...-results        | fault                    | arithmetic is exact, or broken       |
|                    | open                     | where not one result is right: the   |
|                    |                          | driver did not run the test          |
| soak-results       | fault; open as above     | the same, under lasting load         |
| memory-soak        | fault                    | wrong cells under lasting load       |
|                    | open                     | one wrong cell in a whole soak; cells|
|                    |                          | that go missing under load alone     |
|                    | supporting explanation   | where the proof missed memory anyway |
| rate-kept          | supporting explanation   | heat slows every card                |
| soak               | supporting agreement     | it says how well, not what, a card is|
| ...-rate           | strong contradiction     | slow has innocent causes; explains   |
|                    |                          | only as far as the clock goes        |
| one-variant        | strong contradiction     | a fact of a variant may be wrong here|
| too-fast           | open                     | the measurement may be off           |
| ...-ratio          | strong contradiction     | a compiler may spoil one of the two  |
"""

from collections.abc import Callable, Iterable

from reference.case import Case
from reference.rules import (
    bus,
    device,
    endurance,
    firmware,
    guarding,
    identity,
    inspection,
    lasting,
    layers,
    measured,
    memory,
    rates,
    rivals,
    silicon,
    structure,
    variants,
)
from reports.record import Finding

Rule = Callable[[Case], Iterable[Finding]]

ANY_DEVICE: tuple[Rule, ...] = (
    device.graphics_card,
    device.heat,
    guarding.guarded,
    endurance.crash_place,
    endurance.cut_off,
    memory.memory_bits,
    rates.wrong_results,
    lasting.soak,
)
CARD: tuple[Rule, ...] = (
    identity.model_known,
    identity.listing_model,
    identity.layers_agree,
    silicon.pci_id,
    silicon.compute_capability,
    silicon.gfx_target,
    silicon.compute_units,
    structure.counted_units,
    structure.told_units,
    structure.lane_cycles,
    structure.warp_width,
    structure.resident_groups,
    layers.silicon_id,
    layers.sibling_function,
    layers.firmware_version,
    layers.firmware_image,
    layers.driver_package,
    layers.analog_output,
    layers.link_maximum,
    inspection.die_marking,
    inspection.analog_output,
    inspection.power_plugs,
    inspection.memory_chips,
    inspection.contacts,
    inspection.labels,
    firmware.firmware_read,
    bus.bus_width,
    memory.listing_memory,
    memory.memory_size,
    memory.spilled,
    memory.proven_capacity,
    rates.rates,
    rates.too_fast,
    variants.one_variant,
    rates.ratios,
    measured.measured_chip,
    measured.own_word,
    rivals.other_card,
    rivals.lesser_memory,
)
