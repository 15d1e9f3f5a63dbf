"""What page and command line say of every certificate: one place, no wording twice."""

from typing import Final

PROVES: Final = (
    (
        "The record in it, stock number and operator are, byte for byte, what the "
        "owner of this key signed."
    ),
    "The record's own verdict was “as claimed”, at standard depth or deeper.",
)
PROVES_NOT: Final = (
    (
        "Who owns the key: compare its fingerprint with the one that the seller "
        "publishes elsewhere."
    ),
    (
        "That the owner is honest, tested this very card, or told the date truly: the "
        "clock is theirs."
    ),
    (
        "How the card is today: firmware can be rewritten and parts can fail after the "
        "test. Test it again where you can."
    ),
)
CHECK: Final = "cardassay verify FILE --key FINGERPRINT"
