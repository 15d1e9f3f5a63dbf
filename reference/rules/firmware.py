"""What a read of the card's firmware says, as findings of the card.

The comparisons are `reference/firmware/`'s; they are made anew here, from what the
record holds and with today's table. Firmware can be rewritten, every byte of it: never
decisive. A bad read is a fault of the reading, not of the card: it stays open and
moves nothing.
"""

from collections.abc import Iterator
from typing import Final

from msgspec.structs import replace

from reference.case import Case
from reference.rules._say import find
from reports.record import Finding

_SAID_ELSEWHERE: Final = frozenset({"firmware-model-known"})
_PREFIX: Final = "firmware-"


def firmware_read(case: Case) -> Iterator[Finding]:
    """Give each finding of the firmware that the record holds a read of."""
    from reference.firmware import findings, look  # noqa: PLC0415 - they use our words

    report = case.record.firmware_report
    if report is None or case.is_part:
        return
    claim = case.model if case.all_rows and not case.loose else None
    card = look.card_on_record(replace(case.record, identified=case.identified))
    try:
        judged = findings.judge(
            report.comparison, report.image, case.table, claim=claim, card=card
        )
    except (LookupError, TypeError, ValueError):  # a record that somebody made up
        yield find(
            "read-report", "supporting", "open", measured="not of our making",
            sentence="What the record holds as a read of its firmware is at odds with "
            "itself: no read gives that. It was left aside.",
        )  # fmt: skip
        return
    broken = any(
        one.bearing == "fault" and one.strength == "strong" for one in judged.findings
    )
    for one in judged.findings:
        if one.rule in _SAID_ELSEWHERE:
            continue
        fault = one.bearing == "fault"
        weak = fault or broken
        yield find(
            f"read-{one.rule.removeprefix(_PREFIX)}",
            "supporting" if weak else one.strength,
            "open" if fault else one.bearing,
            claim=one.claim,
            measured=one.measured,
            envelope=one.envelope,
            sentence=one.sentence,
            sources=one.sources,
        )
