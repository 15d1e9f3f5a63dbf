"""What can be wrong with what goes into a pack."""

from reports.errors import RecordError


class EvidenceError(RecordError):
    """A listing, a photo or a case cannot be used: the message says which, and why."""
