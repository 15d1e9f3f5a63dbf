"""`cardassay key`, `certify` and `verify`: files, clock and passphrase; prints results.

What a certificate is made of, and whether it holds, is `reports.certificate`'s.
"""

import argparse
import json
import os
import re
import stat
import sys
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from probe import commands, passphrases, places
from probe.cli import Exit
from probe.errors import UsageError
from probe.options import VERSION
from reports import codec
from reports.certificate import keys, wording
from reports.certificate.encoding import grouped
from reports.certificate.errors import RefusedError
from reports.certificate.keys import SigningKey
from reports.certificate.making import Certified
from reports.certificate.making import certify as make
from reports.certificate.refusals import MAX_AGE_DAYS, refusals
from reports.page import record_bytes
from reports.terminal import encodable
from reports.text import named, plain

if TYPE_CHECKING:
    from reports.certificate.checking import Verified
    from reports.record import Record

_KEEP = (
    "Publish the fingerprint where buyers find it; keep a copy of the private file "
    "where nobody else comes."
)
_KEY_NAME = "signing.key"
_FINGERPRINT = re.compile(r"[0-9a-f]{64}")
_OTHERS = stat.S_IRWXG | stat.S_IRWXO
_SENTENCE = 1024


def key(asked: argparse.Namespace) -> Exit:
    """Make a key, or show the fingerprint of one. Raises UsageError, RecordError."""
    if asked.action == "show":
        path = Path(asked.key)
        public = keys.parse_public(keys.read_file(path), asked.key)
        say(f"Fingerprint: {public.grouped}")
        return Exit.AS_CLAIMED
    passphrase = ""
    if asked.passphrase_file:
        passphrase = passphrases.from_file(asked.passphrase_file)
    elif asked.passphrase:
        passphrase = passphrases.ask_new()
    private = Path(asked.out) if asked.out else _default_key()
    public_path = private.with_name(f"{private.name}.pub")
    made = keys.new_key()
    keys.write_pair(made, private, public_path, passphrase)
    lines = [
        f"Private key, for you alone: {named(private)}",
        f"Public key, for everybody: {named(public_path)}",
        f"Fingerprint: {made.public.grouped}",
        _KEEP,
    ]
    if not passphrase:
        lines.append("It has no passphrase: whoever has the file can sign with it.")
    if os.name == "nt":
        lines.append("Who may read it is up to the rights of its folder.")
    say("\n".join(lines))
    return Exit.AS_CLAIMED


def certify(asked: argparse.Namespace) -> Exit:
    """Certify a record; say where page and file lie. Raises our errors."""
    path = Path(asked.record)
    stored = record_bytes(codec.read(path), asked.record)
    page = Path(asked.out) if asked.out else path.with_name("certificate.html")
    small = page.with_suffix(".json")
    _free(page, small)
    now = datetime.now(UTC)
    try:
        _refuse(stored, asked, now)
        made = certify_record(
            stored,
            stock_no=asked.stock_no,
            operator=asked.operator,
            key=load_key(asked.key, asked.passphrase_file),
            max_age_days=asked.max_age,
            now=now,
            name=asked.record,
        )
    except RefusedError as refused:
        commands.aside(f"cardassay: {refused}")
        return Exit.NOT_AS_CLAIMED
    codec.save(made.certificate, small)
    codec.save(made.page, page)
    say(
        f"Certificate: {named(page)}\n"
        f"The same as a small file, to go with the record: {named(small)}\n"
        f"Signed by the key {grouped(made.fingerprint)}"
    )
    return Exit.AS_CLAIMED


def _refuse(stored: bytes, asked: argparse.Namespace, now: datetime) -> None:
    """Raise RefusedError before anyone is asked for a passphrase in vain."""
    record = codec.decode(stored, asked.record)
    reasons = refusals(record, now, asked.max_age) or judged_anew(
        record, Path(asked.reference) if asked.reference else None
    )
    if reasons:
        raise RefusedError(named(asked.record), reasons)


def certify_record(
    stored: bytes,
    *,
    stock_no: str,
    operator: str,
    key: SigningKey,
    max_age_days: int = MAX_AGE_DAYS,
    now: datetime | None = None,
    name: str = "record",
) -> Certified:
    """Certify a record's stored bytes; writes nothing. For whoever runs many.

    Raises RefusedError with every reason, RecordError, CertificateError.
    """
    return make(
        stored,
        stock_no=stock_no,
        operator=operator,
        key=key,
        now=now or datetime.now(UTC),
        program=VERSION,
        max_age_days=max_age_days,
        name=name,
    )


def judged_anew(record: "Record", extra: Path | None = None) -> tuple[str, ...]:
    """Return why today's table is against certifying; empty where it is not.

    A verdict is a line in a file that anybody can write: it has to follow from the
    measurements beside it. Rows that somebody added may name a model that the table
    lacks, and never bear out what it knows to be false. Raises TableError.
    """
    from reference import table  # noqa: PLC0415 - start-up
    from reference.judge import judge  # noqa: PLC0415 - start-up

    verdict = judge(record, table.load(extra)).verdict
    if verdict is not None and verdict.outcome == "as claimed" and extra is not None:
        shipped = judge(record, table.load()).verdict
        if shipped is not None and shipped.outcome == "not as claimed":
            verdict = shipped
    if verdict is not None and verdict.outcome == "as claimed":
        return ()
    said = plain(verdict.sentence, _SENTENCE) if verdict else "No verdict."
    return (f"Judged again by today's table of cards, it is not as claimed: {said}",)


def load_key(path: str | None, passphrase_file: str | None) -> SigningKey:
    """Return the private key, unlocked. Raises UsageError, KeyFileError."""
    file = Path(path) if path else _default_key()
    if not path and not file.exists():
        raise UsageError(
            f"there is no key at {named(file)}; make one with `cardassay key new`, or "
            "name yours with --key"
        )
    data = keys.read_file(file)
    if os.name != "nt" and file.stat().st_mode & _OTHERS:
        commands.aside(
            f"cardassay: {named(file)}: others on this PC may read this private key; "
            f"`chmod 600` makes it yours alone"
        )
    passphrase = ""
    if keys.is_locked(data):
        passphrase = (
            passphrases.from_file(passphrase_file)
            if passphrase_file
            else passphrases.ask_once(named(file))
        )
    return keys.parse_private(data, str(file), passphrase)


def verify(asked: argparse.Namespace) -> Exit:
    """Check a certificate; say what it proves. Raises UsageError, RecordError."""
    from reports.certificate.checking import verify as check  # noqa: PLC0415 - start-up

    found = check(
        codec.read(Path(asked.certificate)),
        codec.read(Path(asked.record)) if asked.record else None,
        now=datetime.now(UTC),
        name=asked.certificate,
        expected=_expected(asked.key),
    )
    say(_json(found) if asked.json else _told(found, named_key=bool(asked.key)))
    if not found.holds:
        return Exit.NOT_AS_CLAIMED
    return Exit.AS_CLAIMED if found.complete else Exit.COULD_NOT_TEST


def say(text: str) -> None:
    """Print lines as they are, with no sign that standard output cannot take."""
    sys.stdout.write(encodable(text, sys.stdout.encoding or "ascii") + "\n")


def _told(found: "Verified", *, named_key: bool) -> str:
    said = found.statement
    if not found.holds:
        broken = [f"- {one.what}: {one.why}" for one in found.checks if not one.holds]
        return "\n".join(("This certificate does not hold.", *broken))
    head = "It holds: unchanged since it was signed."
    if not found.complete:
        head = "The statement holds; the record was not given, so it proves little."
    lines = [
        head,
        f"Signed by the key {found.public.grouped}",
        f"on {said.signed[:10]} {said.signed[11:16]} UTC, by the signer's clock.",
        f"Stock number: {said.stock_no}",
        f"Operator: {said.operator}",
        f"Record: SHA-256 {grouped(said.record_sha256)}, {said.record_bytes} bytes",
    ]
    if found.record is not None and found.record.verdict is not None:
        lines.append(f"Verdict: {plain(found.record.verdict.sentence, _SENTENCE)}")
    lines += [f"Note: {note}" for note in found.notes]
    if not found.complete:
        lines.append("Next: name the record after the certificate.")
    proves = wording.PROVES if found.complete else ()
    if proves:
        lines += ["What it proves:", *(f"- {line}" for line in proves)]
    not_proven = wording.PROVES_NOT[1:] if named_key else wording.PROVES_NOT
    lines += ["What it does not prove:", *(f"- {line}" for line in not_proven)]
    return "\n".join(lines)


def _json(found: "Verified") -> str:
    import msgspec  # noqa: PLC0415 - start-up

    told = {
        "holds": found.holds,
        "complete": found.complete,
        "fingerprint": found.public.fingerprint,
        "statement": msgspec.to_builtins(found.statement),
        "checks": [
            {
                "what": one.what,
                "holds": one.holds,
                "why": None if one.holds else one.why,
            }
            for one in found.checks
        ],
        "notes": list(found.notes),
    }
    return json.dumps(told, indent=1)


def _expected(given: str | None) -> str | None:
    """Return the fingerprint that a key's file or a person's words stand for."""
    if given is None:
        return None
    bare = re.sub(r"[\s:]", "", given).lower()
    if _FINGERPRINT.fullmatch(bare):
        return bare
    return keys.parse_public(keys.read_file(Path(given)), given).fingerprint


def _free(*paths: Path) -> None:
    for path in paths:
        if path.exists():
            raise UsageError(
                f"{named(path)}: is there already; name another file with --out"
            )


def _default_key() -> Path:
    folder = places.state_folder()
    if folder is None:
        raise UsageError(
            "this PC has no place for the program's own files; name a file"
        )
    return folder / _KEY_NAME
