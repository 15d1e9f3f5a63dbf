"""Rows of the table as the plain data that `reports` shows and prints as JSON.

Turns and counts; finds nothing, shows nothing, touches no card.
"""

from reference.envelope import results
from reference.rows import Variant
from reference.table import Table
from reports import known

OPTIONAL = (
    "l2_kib", "pci_ids", "pcie", "power_w", "power_plugs", "outputs", "launch",
    "fp64_per_clock", "boost_mhz", "llc_mib", "last_made", "fp16_per_clock",
)  # fmt: skip
"""The facts that a row may lack, as the coverage counts them."""
_RARE = frozenset({"boost_mhz", "llc_mib", "last_made", "fp16_per_clock"})
"""Facts that many cards do not have: they do not count as a lack."""


def as_known(row: Variant, table: Table) -> known.KnownCard:
    """Return a row with what its chip and architecture add, as plain data."""
    chip, kind = table.chip(row), table.architecture(row)
    return known.KnownCard(
        vendor=row.vendor,
        family=row.family,
        model=row.model,
        aliases=row.aliases,
        form=row.form,
        chip=row.chip,
        chip_names=chip.names,
        architecture=row.architecture,
        compute_capability=chip.compute_capability,
        gfx_targets=chip.gfx,
        unit_name=kind.unit_name,
        units=row.units,
        chip_units=chip.units,
        shaders=row.shaders,
        base_mhz=row.base_mhz,
        boost_mhz=row.boost_mhz,
        shader_mhz=row.shader_mhz,
        processors=row.processors,
        memory_bytes=row.memory_bytes,
        memory_type=row.memory_type,
        bus_width_bits=row.bus_bits,
        data_rate_mtps=row.rate_mtps,
        bandwidth_gbps=round(row.bandwidth / 1e9, 3),
        fp32_gflops=round(row.fp32 / 1e9, 1),
        fp64_per_clock=results("fp64", row, kind),
        fp16_per_clock=results("fp16", row, kind),
        ecc=row.ecc,
        l2_kib=row.l2_kib,
        llc_mib=row.llc_mib,
        pci_ids=row.pci,
        pci_revisions=row.revisions,
        pci_subsystems=row.subsystems,
        pcie=row.pcie,
        power_w=row.power_w,
        power_plugs=row.power_plugs,
        outputs=row.outputs,
        launch=row.launch,
        last_made=row.last_made,
        remarks=row.remarks,
        conflicts=tuple(
            known.KnownConflict(
                field=one.field, says=one.says, used=one.used, why=one.why
            )
            for one in row.conflicts
        ),
        odd=row.odd,
        not_judged=row.not_judged,
        source=", ".join(row.sources),
        from_memory=row.from_memory,
    )


def count(table: Table) -> known.Coverage:
    """Return how much the table holds, by vendor, generation and field."""
    cards = [as_known(row, table) for row in table.variants]
    vendors = ("NVIDIA", "AMD", "Intel")
    families = sorted(
        {(card.vendor, card.family) for card in cards},
        key=lambda one: (vendors.index(one[0]), _since(cards, one)),
    )
    usual = [field for field in OPTIONAL if field not in _RARE]
    groups = []
    for vendor, family in families:
        mine = [c for c in cards if (c.vendor, c.family) == (vendor, family)]
        facts = sum(_has(card, field) for card in mine for field in usual)
        groups.append(
            known.FamilyCount(
                vendor=vendor,
                family=family,
                models=len({card.model for card in mine}),
                variants=len(mine),
                facts=facts / (len(usual) * len(mine)),
            )
        )
    return known.Coverage(
        version=table.version,
        sha256=table.sha256,
        models=len({card.model for card in cards}),
        variants={v: sum(card.vendor == v for card in cards) for v in vendors},
        families=tuple(groups),
        fields=tuple(
            known.FieldCount(
                field=field,
                known={
                    v: sum(_has(c, field) for c in cards if c.vendor == v)
                    for v in vendors
                },
            )
            for field in OPTIONAL
        ),
    )


def _since(cards: list[known.KnownCard], family: tuple[str, str]) -> str:
    """Return the first launch of a family, to put generations in order."""
    launches = [c.launch for c in cards if (c.vendor, c.family) == family and c.launch]
    return min(launches, default="9")


def _has(card: known.KnownCard, field: str) -> bool:
    """Whether a fact is known; an empty list of plugs or sockets is a fact too."""
    value = getattr(card, field)
    return value not in ((), None) or (
        value == () and field in {"power_plugs", "outputs"}
    )
