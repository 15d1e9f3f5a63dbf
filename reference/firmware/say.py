"""How checks of firmware word a finding. Nothing is judged here."""

from collections.abc import Iterable

from reports.firmware_report import Bearing, FirmwareFinding, Strength

_LIMIT = 1000


def find(
    rule: str,
    strength: Strength,
    bearing: Bearing,
    *,
    sentence: str,
    claim: str = "",
    measured: str = "",
    envelope: str = "",
    sources: Iterable[str] = (),
) -> FirmwareFinding:
    """Return a finding; long texts are cut."""
    return FirmwareFinding(
        rule=rule,
        strength=strength,
        bearing=bearing,
        claim=claim[:_LIMIT],
        measured=measured[:_LIMIT],
        envelope=envelope[:_LIMIT],
        sentence=sentence[: 2 * _LIMIT],
        sources=tuple(sources),
    )
