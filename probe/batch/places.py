"""The folder of a batch: one folder in it for each stock number.

Knows names and files. What they say of a card is `settling.py`'s.
"""

import contextlib
from dataclasses import dataclass
from pathlib import Path

from probe.batch.numbers import folder_name, scanned
from probe.errors import UsageError
from probe.folder import Folder, documents, move_aside
from reports import codec
from reports.errors import RecordError
from reports.files import contents
from reports.ledger.entry import stock_key
from reports.text import named

NUMBER = "stock-no.txt"
NAME = "cardassay_batch"
_LIMIT = 4096


@dataclass(frozen=True)
class Place:
    """Where one card's documents lie."""

    path: Path
    number: str

    @property
    def record(self) -> Path:
        return Folder(self.path).record_path

    @property
    def journal(self) -> Path:
        return Folder(self.path).journal_path

    @property
    def certificate(self) -> Path:
        """The page; the small file lies beside it as .json."""
        return self.path / "certificate.html"

    def clear(self) -> None:
        """Make it, and move an earlier test's documents aside under their time.

        A certificate must not lie beside the record of another test. Raises
        RecordError, OSError.
        """
        self.path.mkdir(parents=True, exist_ok=True)
        codec.save(f"{self.number}\n".encode(), self.path / NUMBER)
        self.move_documents()

    def move_documents(self) -> None:
        """Move an earlier test's documents aside. Raises OSError."""
        self.move_certificate()
        folder = Folder(self.path)
        for path in (folder.record_path, folder.page_path, folder.journal_path):
            move_aside(path)

    def move_certificate(self) -> None:
        """Move an earlier certificate aside. Raises OSError."""
        move_aside(self.certificate)
        move_aside(self.certificate.with_suffix(".json"))


@dataclass(frozen=True)
class Shelf:
    """The folder of a batch."""

    path: Path

    def place(self, number: str) -> Place:
        """Return a number's place, be it there already or not."""
        key = stock_key(number)
        for place in self.places():
            if stock_key(place.number) == key:
                return place
        return Place(self.path / folder_name(number), number)

    def places(self) -> tuple[Place, ...]:
        """Return all places that are there, by name."""
        try:
            found = sorted(self.path.glob(f"*/{NUMBER}"))
        except OSError:
            return ()
        places = []
        for file in found:
            with contextlib.suppress(OSError, UsageError, RecordError):
                number = scanned(contents(file, _LIMIT).decode("utf-8", "replace"))
                if number:
                    places.append(Place(file.parent, number))
        return tuple(places)


def open_shelf(asked: str | None) -> Shelf:
    """Return the folder asked for, else the usual one, made. Raises UsageError."""
    path = documents() / NAME
    if asked is not None:
        if not asked.strip():
            raise UsageError("--out: no folder is named")
        path = Path(asked)
        with contextlib.suppress(RuntimeError):  # ~somebody
            path = path.expanduser()
    try:
        path.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise UsageError(
            f"cannot write in {named(path)}: {error.strerror or error}; choose another "
            "folder with --out"
        ) from None
    return Shelf(path.absolute())
