"""What can be wrong with a ledger. Messages name it without its password."""

from reports.errors import RecordError


class LedgerError(RecordError):
    """The ledger cannot be used: it is none, is missing, or is newer than we are."""


class UnreachableError(LedgerError):
    """Its server does not answer, or refuses."""
