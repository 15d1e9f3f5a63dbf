"""What can go wrong, by whose fault it is.

Raised low, decided once: only `probe/cli.py` prints these and picks exit codes. Every
message says what failed, on which card, and the one next step.
"""


class UsageError(Exception):
    """The command was asked for something it cannot do. Exit code 2."""


class HostError(Exception):
    """The PC lacks something the test needs. Exit code 3."""


class CardError(Exception):
    """The card or its driver failed. `code` is the driver's own word for it."""

    def __init__(self, what: str, code: str = "") -> None:
        super().__init__(f"{what} ({code})" if code else what)
        self.what = what
        self.code = code


class MemoryRefusedError(CardError):
    """The driver gave no (more) memory. Ends the taking of blocks, nothing else."""


class DeviceLostError(CardError):
    """The device no longer answers: nothing further can be measured on it."""


class UnsupportedError(CardError):
    """The device cannot run this at all (no fp64, say). The reason is the message."""
