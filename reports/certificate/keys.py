"""Keys as files: made, written, read. Ed25519 alone (RFC 8032, keys as RFC 8410).

Public keys are PEM (RFC 7468) around the 44 bytes of a SubjectPublicKeyInfo; private
ones around the 48 bytes of a PKCS#8 key, or around those locked by a passphrase: PBES2
(RFC 8018) with scrypt (RFC 7914) and AES-256-CBC, as OpenSSL reads it too. Each has one
layout, byte for byte; whatever else a file holds is refused before any library sees it,
so no stranger's file picks the work that a passphrase costs.
"""

import base64
import os
import re
import secrets
from dataclasses import dataclass, field
from hashlib import sha256
from pathlib import Path
from typing import TYPE_CHECKING, Final

from reports.certificate.curve import SMALL
from reports.certificate.encoding import grouped
from reports.certificate.errors import KeyFileError, PassphraseError
from reports.files import contents
from reports.text import named

if TYPE_CHECKING:
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
    from cryptography.hazmat.primitives.ciphers import Cipher
    from cryptography.hazmat.primitives.ciphers.modes import CBC

FILE_LIMIT: Final = 4096
"""Largest key file read, in bytes; ours have less than 400."""
PASSPHRASE_LIMIT: Final = 1024
"""Longest passphrase, in bytes of UTF-8."""
PUBLIC_BYTES: Final = 32
_ROUNDS, _BLOCK, _LANES = 2**14, 8, 5
"""scrypt's N, r and p: 16 MiB, worth 2^17, 8, 1 by OWASP's Password Storage Cheat
Sheet, and within the memory that OpenSSL grants."""
_OPEN: Final = bytes.fromhex("302e020100300506032b657004220420")
_PUBLIC: Final = bytes.fromhex("302a300506032b6570032100")
_LOCKED: Final = bytes.fromhex(
    "30819b"  # EncryptedPrivateKeyInfo, 155 bytes
    "305706092a864886f70d01050d304a"  # by PBES2
    "302906092b06010401da47040b301c0410"  # scrypt; the salt follows
)
_AFTER_SALT: Final = bytes.fromhex(
    "02024000020108020105"  # N, r, p
    "301d060960864801650304012a0410"  # AES-256-CBC; the first block follows
)
_AFTER_BLOCK: Final = bytes.fromhex("0440")
_SALT: Final = 16
_SECRET: Final = 64
_PEM: Final = re.compile(
    rb"-----BEGIN ([A-Z ]{1,40})-----\n((?:[A-Za-z0-9+/=]{1,64}\n){1,8})"
    rb"-----END \1-----\n?"
)
_NAMES: Final = (b"PUBLIC KEY", b"PRIVATE KEY", b"ENCRYPTED PRIVATE KEY")


@dataclass(frozen=True)
class PublicKey:
    """What a signature is checked with."""

    raw: bytes
    """32 bytes (RFC 8032, section 5.1.5)."""

    @property
    def fingerprint(self) -> str:
        """SHA-256 of the key's SubjectPublicKeyInfo, 64 hexadecimal digits.

        `openssl pkey -pubin -in FILE -outform DER | sha256sum` gives the same.
        """
        return sha256(_PUBLIC + self.raw).hexdigest()

    @property
    def grouped(self) -> str:
        return grouped(self.fingerprint)

    def pem(self) -> bytes:
        return _to_pem(b"PUBLIC KEY", _PUBLIC + self.raw)


@dataclass(frozen=True)
class SigningKey:
    """What signatures are made with. Shows its secret to nobody."""

    _secret: "Ed25519PrivateKey" = field(repr=False)

    @property
    def public(self) -> PublicKey:
        return PublicKey(self._secret.public_key().public_bytes_raw())

    def sign(self, message: bytes) -> bytes:
        """Return the signature, 64 bytes."""
        return self._secret.sign(message)

    def pem(self, passphrase: str = "") -> bytes:
        """Return the private key as a file's content, locked if there is a passphrase.

        Raises PassphraseError for one that is too long.
        """
        plain = _OPEN + self._secret.private_bytes_raw()
        if not passphrase:
            return _to_pem(b"PRIVATE KEY", plain)
        salt, first = secrets.token_bytes(_SALT), secrets.token_bytes(_SALT)
        cipher = _cipher(passphrase, salt, first).encryptor()
        pad = _SECRET - len(plain)
        locked = cipher.update(plain + bytes([pad]) * pad) + cipher.finalize()
        return _to_pem(
            b"ENCRYPTED PRIVATE KEY",
            _LOCKED + salt + _AFTER_SALT + first + _AFTER_BLOCK + locked,
        )


def new_key() -> SigningKey:
    """Return a key from the system's randomness."""
    from cryptography.hazmat.primitives.asymmetric.ed25519 import (  # noqa: PLC0415 - start-up
        Ed25519PrivateKey,
    )

    return SigningKey(Ed25519PrivateKey.generate())


def public_key(raw: bytes) -> PublicKey:
    """Return the key of 32 bytes. Raises KeyFileError where they can be none."""
    if len(raw) != PUBLIC_BYTES:
        raise KeyFileError(f"a public key has {PUBLIC_BYTES} bytes, not {len(raw)}")
    if raw in SMALL:
        raise KeyFileError("a public key of small order proves nothing")
    return PublicKey(raw)


def parse_public(data: bytes, name: str) -> PublicKey:
    """Return the public key that a file's bytes are. Raises KeyFileError."""
    kind, der = _from_pem(data, name)
    if kind != b"PUBLIC KEY":
        raise KeyFileError(
            f"{named(name)}: this is the private key, which stays with its owner; "
            "name the public one beside it (.pub)"
        )
    if not der.startswith(_PUBLIC):
        raise KeyFileError(f"{named(name)}: not an Ed25519 public key")
    try:
        return public_key(der[len(_PUBLIC) :])
    except KeyFileError as error:
        raise KeyFileError(f"{named(name)}: {error}") from None


def is_locked(data: bytes) -> bool:
    """Whether a passphrase is needed to read this private key."""
    return data.startswith(b"-----BEGIN ENCRYPTED ")


def parse_private(data: bytes, name: str, passphrase: str = "") -> SigningKey:
    """Return the private key that a file's bytes are.

    Raises KeyFileError; PassphraseError where a passphrase is missing or wrong.
    """
    from cryptography.hazmat.primitives.asymmetric.ed25519 import (  # noqa: PLC0415 - start-up
        Ed25519PrivateKey,
    )

    kind, der = _from_pem(data, name)
    if kind == b"PUBLIC KEY":
        raise KeyFileError(
            f"{named(name)}: this is a public key; signing takes the private one"
        )
    if kind == b"ENCRYPTED PRIVATE KEY":
        der = _unlocked(der, name, passphrase)
    if not der.startswith(_OPEN) or len(der) != len(_OPEN) + PUBLIC_BYTES:
        raise KeyFileError(f"{named(name)}: not an Ed25519 private key")
    return SigningKey(Ed25519PrivateKey.from_private_bytes(der[len(_OPEN) :]))


def read_file(path: Path) -> bytes:
    """Return a key file's bytes. Raises KeyFileError."""
    try:
        return contents(path, FILE_LIMIT)
    except OSError as error:
        raise KeyFileError(f"{named(path)}: cannot be read: {error.strerror}") from None


def write_pair(key: SigningKey, private: Path, public: Path, passphrase: str) -> None:
    """Write both halves; neither is ever written over another file.

    The private file has mode 600 from its first moment. Windows knows no such mode:
    there the rights of the folder count. Raises KeyFileError.
    """
    pairs = ((private, key.pem(passphrase), 0o600), (public, key.public.pem(), 0o644))
    made: list[Path] = []
    try:
        for path, data, mode in pairs:
            flags = os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0)
            with os.fdopen(os.open(path, flags, mode), "wb") as file:
                made.append(path)
                file.write(data)
                file.flush()
                os.fsync(file.fileno())
    except OSError as error:
        for path in made:
            path.unlink(missing_ok=True)
        if isinstance(error, FileExistsError):
            raise KeyFileError(
                f"{named(error.filename)}: is there already, and no key is ever "
                "written over; name another file with --out"
            ) from None
        raise KeyFileError(
            f"{named(private)}: cannot be written: {error.strerror}"
        ) from None


def _unlocked(der: bytes, name: str, passphrase: str) -> bytes:
    salt_at = len(_LOCKED)
    mid = salt_at + _SALT
    first_at = mid + len(_AFTER_SALT)
    end = first_at + _SALT
    locked = der[end + len(_AFTER_BLOCK) :]
    fits = (
        der.startswith(_LOCKED)
        and der[mid:first_at] == _AFTER_SALT
        and der[end : end + len(_AFTER_BLOCK)] == _AFTER_BLOCK
        and len(locked) == _SECRET
    )
    if not fits:
        raise KeyFileError(
            f"{named(name)}: locked in a way not known here; make a key with "
            "`cardassay key new`"
        )
    if not passphrase:
        raise PassphraseError(
            f"{named(name)}: this key is locked; name the file that holds its "
            "passphrase with --passphrase-file"
        )
    cipher = _cipher(passphrase, der[salt_at:mid], der[first_at:end]).decryptor()
    plain = cipher.update(locked) + cipher.finalize()
    size = len(_OPEN) + PUBLIC_BYTES
    pad = _SECRET - size
    if not plain.startswith(_OPEN) or plain[size:] != bytes([pad]) * pad:
        raise PassphraseError(
            f"{named(name)}: the passphrase is wrong, or the file is damaged"
        )
    return plain[:size]


def _cipher(passphrase: str, salt: bytes, first: bytes) -> "Cipher[CBC]":
    from cryptography.hazmat.primitives.ciphers import (  # noqa: PLC0415 - start-up
        Cipher,
        algorithms,
        modes,
    )
    from cryptography.hazmat.primitives.kdf.scrypt import (  # noqa: PLC0415 - start-up
        Scrypt,
    )

    try:
        secret = passphrase.encode("utf-8")
    except UnicodeEncodeError:
        raise PassphraseError("the passphrase is no text") from None
    if len(secret) > PASSPHRASE_LIMIT:
        raise PassphraseError(f"the passphrase is longer than {PASSPHRASE_LIMIT} bytes")
    kdf = Scrypt(salt=salt, length=32, n=_ROUNDS, r=_BLOCK, p=_LANES)
    return Cipher(algorithms.AES256(kdf.derive(secret)), modes.CBC(first))


def _to_pem(kind: bytes, der: bytes) -> bytes:
    body = base64.b64encode(der)
    lines = b"".join(body[at : at + 64] + b"\n" for at in range(0, len(body), 64))
    return b"-----BEGIN %b-----\n%b-----END %b-----\n" % (kind, lines, kind)


def _from_pem(data: bytes, name: str) -> tuple[bytes, bytes]:
    """Return kind and content; line ends may have become those of Windows."""
    if len(data) > FILE_LIMIT:
        raise KeyFileError(f"{named(name)}: larger than {FILE_LIMIT} bytes, not read")
    found = _PEM.fullmatch(data.replace(b"\r\n", b"\n"))
    if found is None or found[1] not in _NAMES:
        raise KeyFileError(f"{named(name)}: not a key; `cardassay key new` makes one")
    body = found[2].replace(b"\n", b"")
    try:
        der = base64.b64decode(body, validate=True)
    except ValueError:
        raise KeyFileError(f"{named(name)}: the key is damaged") from None
    if base64.b64encode(der) != body:
        raise KeyFileError(f"{named(name)}: the key is damaged")
    return found[1], der
