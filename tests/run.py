#!/usr/bin/env python3
"""The one test command: `python3 tests/run.py [PYTEST ARGUMENTS]`.

Brings what the tests need to a fresh Debian or Ubuntu, as root (packages by apt) or as
anyone else (packages by pip, into the environment), then runs every check. The tests
see one OpenCL device only, the CPU: no graphics card in this PC is touched. Standard
library only. What can't be brought is said, and the tests that need it fail; those
of pages are skipped without a browser, unless CARDASSAY_MUST_HAVE_BROWSER is set.
"""

import hashlib
import os
import shutil
import signal
import subprocess
import sys
import tempfile
import venv
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import browsers

ROOT = Path(__file__).resolve().parent.parent
OLDEST = (3, 11)
VENDORS = Path("/etc/OpenCL/vendors")
CODE = ("probe", "reference", "reports", "tests")
WORKERS = ("-n", str(min((os.cpu_count() or 1) + 1, 4)))
"""One more than processors: many tests wait for processes of their own."""
PACKAGES = {
    "pocl-opencl-icd": "an OpenCL device that is the CPU",
    "opencl-c-headers": "what the counterfeit layer is compiled with",
    "gcc": "compiles the counterfeit layer",
    "libc6-dev": "compiles the counterfeit layer",
    "oclgrind": "watches the kernels' memory accesses",
    "seabios": "real expansion ROMs to read",
    "ipxe-qemu": "real expansion ROMs of two images",
    "file": "an independent reader of them",
}
ROMS = (Path("/usr/share/seabios"), Path("/usr/lib/ipxe/qemu"))
HEADER = Path("/usr/include/CL/cl_layer.h")
PROGRAMS = ("gcc", "oclgrind", "file")
STATIC = (
    ("ruff", "check", *CODE),
    ("ruff", "format", "--check", *CODE),
    ("mypy",),
    ("lint-imports", "--no-logo"),
)
LOOK = """
import pyopencl
names = [p.name for p in pyopencl.get_platforms() for d in p.get_devices()
         if d.type & pyopencl.device_type.CPU and "oclgrind" not in p.name.lower()]
raise SystemExit(len(names) != 1)
"""


def say(text: str) -> None:
    print(f"\n== {text}", flush=True)


def call(*command: str | Path, **environment: str) -> bool:
    """Run a command where the project lies; whether it succeeded."""
    done = subprocess.run(
        command, cwd=ROOT, env={**os.environ, **environment}, check=False
    )
    return done.returncode == 0


def apt(*names: str) -> bool:
    """Install Debian packages; False where that cannot be (not root, no apt)."""
    if os.name != "posix" or os.geteuid() != 0 or shutil.which("apt-get") is None:
        return False
    quiet = {"DEBIAN_FRONTEND": "noninteractive"}
    return call("apt-get", "update", "-qq", **quiet) and call(
        *("apt-get", "install", "-y", "-qq", "--no-install-recommends", *names), **quiet
    )


def tool(folder: Path, name: str) -> Path:
    return folder / ("Scripts" if os.name == "nt" else "bin") / name


def environment() -> Path:
    """Return the Python environment to test in: the active one, else `.venv`."""
    if sys.prefix != sys.base_prefix:
        return Path(sys.prefix)
    folder = ROOT / ".venv"
    if tool(folder, "python").exists() and tool(folder, "pip").exists():
        return folder
    say(f"environment {folder}")
    try:
        import ensurepip  # noqa: F401, PLC0415 - Debian ships it apart
    except ImportError:
        apt("python3-venv")
    venv.create(folder, clear=True, symlinks=os.name != "nt")
    if not call(tool(folder, "python"), "-m", "ensurepip", "--default-pip"):
        raise SystemExit("tests: no pip: apt-get install python3-venv")
    return folder


def install(folder: Path) -> None:
    """Install the project and its test extra, unless that is as it was."""
    stamp = folder / ".cardassay-tests"
    wanted = hashlib.sha256(f"{ROOT}\n".encode())  # where it lies, and what it needs
    wanted.update((ROOT / "pyproject.toml").read_bytes())
    if stamp.exists() and stamp.read_text() == wanted.hexdigest():
        return
    say("install")
    pip = (tool(folder, "python"), "-m", "pip", "--disable-pip-version-check")
    # What is used is compiled when it is used: not one file in five is.
    lean = ("--quiet", "--no-compile")
    if not call(*pip, "install", *lean, "--editable", ".[test]"):
        raise SystemExit("tests: the project could not be installed")
    stamp.write_text(wanted.hexdigest())


def is_device(folder: Path, library: str, vendors: Path) -> bool:
    """Whether this driver shows exactly one device, a CPU; then `vendors` names it."""
    vendors.mkdir(exist_ok=True)
    (vendors / "cpu.icd").write_text(library + "\n")
    seen = {"OCL_ICD_VENDORS": str(vendors), "OPENCL_LAYERS": ""}
    found = subprocess.run(
        [tool(folder, "python"), "-c", LOOK],
        env={**os.environ, **seen},
        capture_output=True,
        check=False,
    )
    return found.returncode == 0


def find_device(folder: Path, vendors: Path) -> bool:
    """Look through the drivers installed, pocl first."""
    files = sorted(VENDORS.glob("*.icd"), key=lambda file: "pocl" not in file.name)
    drivers = [file.read_text().strip() for file in files]
    bundled = folder / "lib" / "libintelocl.so"
    drivers += [str(bundled)] if bundled.exists() else []
    return any(is_device(folder, driver, vendors) for driver in drivers)


def is_complete() -> bool:
    """Whether what the packages bring, beside a device and a browser, is there."""
    roms = all(place.exists() for place in ROMS)
    return HEADER.exists() and roms and all(map(shutil.which, PROGRAMS))


def bring_packages() -> None:
    """Install, all at once, what is seen to lack before anything of ours runs."""
    lacking: list[str] = []
    if not is_complete() or not any(VENDORS.glob("*.icd")):
        lacking += PACKAGES
    if browsers.find() is None:
        lacking += browsers.PACKAGES
    if lacking:
        say(f"packages: {' '.join(lacking)}")
        apt(*lacking)
        browsers.find.cache_clear()


def find_browser() -> None:
    """Say it where there is no Chromium to open the pages with."""
    if browsers.find() is None:
        fate = "will fail" if os.environ.get(browsers.MUST) else "are SKIPPED"
        print(f"tests: {browsers.NONE}")
        print(f"tests: without it the tests of pages in tests/pages {fate}")


def bring(folder: Path, vendors: Path) -> None:
    """See to an OpenCL device, a compiler, its headers, oclgrind and real ROMs."""
    if find_device(folder, vendors) and is_complete():
        return
    say(f"packages: {' '.join(PACKAGES)}")
    if apt(*PACKAGES) and find_device(folder, vendors):
        return
    for name, purpose in PACKAGES.items():
        print(f"tests: apt-get install {name}: {purpose}")
    if find_device(folder, vendors):
        return
    say("an OpenCL device by pip: intel-opencl-rt")
    pip = (tool(folder, "python"), "-m", "pip", "install", "--quiet")
    if not call(*pip, "intel-opencl-rt", "intel-cmplr-lib-rt") or not find_device(
        folder, vendors
    ):
        print("tests: no OpenCL device: the tests that need one will fail")


def check(folder: Path, arguments: list[str], scratch: Path) -> int:
    """Run every check; the exit code of the first that failed."""
    settings = {
        "OCL_ICD_VENDORS": str(scratch / "vendors"),
        "OPENCL_LAYERS": "",
        "POCL_CACHE_DIR": str(scratch / "pocl"),
        "PYOPENCL_NO_CACHE": "1",
        "PATH": f"{tool(folder, '')}{os.pathsep}{os.environ['PATH']}",
        "PYTHONDONTWRITEBYTECODE": "",  # each run's processes would compile all anew
    }
    seen = {**os.environ, **settings}

    def run(name: str, *rest: str, stdout: int | None = None) -> tuple[int, str]:
        done = subprocess.run(
            [tool(folder, name), *rest],
            cwd=ROOT,
            env=seen,
            stdout=stdout,
            stderr=stdout and subprocess.STDOUT,
            text=True,
            check=False,
        )
        return done.returncode, done.stdout or ""

    with ThreadPoolExecutor(1) as beside:  # pytest leaves a processor idle at times
        reading = [beside.submit(run, *step, stdout=subprocess.PIPE) for step in STATIC]
        say(" ".join(("pytest", *(arguments or WORKERS))))
        result = run("python", "-m", "pytest", *(arguments or WORKERS))[0]
        for step, read in zip(STATIC, reading, strict=True):
            say(" ".join(step))
            code, told = read.result()
            print(told, end="", flush=True)
            result = result or code
    return result


def main() -> int:
    if sys.version_info < OLDEST:
        print("tests: Python 3.11 or newer is needed: apt-get install python3.11-venv")
        return 2
    # In the background a shell has it ignored, and so it would be by all tests of it.
    signal.signal(signal.SIGINT, signal.default_int_handler)
    folder = environment()
    with ThreadPoolExecutor(1) as beside:
        packages = beside.submit(bring_packages)
        install(folder)
        packages.result()
    with tempfile.TemporaryDirectory(prefix="cardassay-tests-") as scratch:
        bring(folder, Path(scratch) / "vendors")
        find_browser()
        return check(folder, sys.argv[1:], Path(scratch))


if __name__ == "__main__":
    sys.exit(main())
