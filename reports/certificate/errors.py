"""What can be wrong with a key or a certificate. Messages name file and next step."""

from reports.errors import RecordError


class KeyFileError(RecordError):
    """A key could not be read or made."""


class PassphraseError(KeyFileError):
    """The key is locked, and the passphrase is missing or wrong."""


class CertificateError(RecordError):
    """What should be a certificate is none."""


class RefusedError(RecordError):
    """A record that must not be certified; `reasons` are whole sentences."""

    def __init__(self, name: str, reasons: tuple[str, ...]) -> None:
        super().__init__(f"{name}: not certified. " + " ".join(reasons))
        self.reasons = reasons
