"""Set Stavelight up in this checkout, and start it.

    python3 app/start.py                  open the sample project
    python3 app/start.py ANYTHING         hand ANYTHING to the stavelight command
    python3 app/start.py --test [...]     pass the tests; the rest goes to pytest

The first run makes the virtual environment .venv in the checkout and installs what pyproject.toml
asks for. On Debian and Ubuntu, as root or with a sudo that asks for no password, it also installs
the few system libraries that Qt needs; elsewhere it names those that are missing. Later runs find
all that done. Without a display the sample project is written to the folder output instead.

Only the standard library is used, and no question is asked.
"""

import ctypes
import hashlib
import importlib.util
import json
import os
import shlex
import shutil
import subprocess
import sys
from collections.abc import Iterable
from pathlib import Path

CHECKOUT = Path(__file__).resolve().parent.parent
ENVIRONMENT = CHECKOUT / ".venv"
STAMP = ENVIRONMENT / "stavelight-setup.json"
OUTPUT = CHECKOUT / "output"
OLDEST_PYTHON = (3, 11)

if sys.version_info < OLDEST_PYTHON:  # before anything that an older Python cannot read
    for name in ("python3.13", "python3.12", "python3.14", "python3.11"):
        newer = shutil.which(name)
        works = newer and subprocess.call([newer, "-c", ""], stderr=subprocess.DEVNULL) == 0
        if newer and works and os.name != "nt":
            os.execv(newer, [newer, *sys.argv])
    sys.exit(
        "Stavelight needs Python 3.11 or newer; this is Python "
        f"{sys.version_info[0]}.{sys.version_info[1]}. Install a newer one from "
        "https://www.python.org/downloads/ or from the packages of your system."
    )

# Which Debian package brings which library; as `ldd` tells for the libraries and platform plugins
# of PySide6-Essentials 6.10 to 6.11.
QT_LIBRARIES = {
    "libstdc++.so.6": "libstdc++6",
    "libGL.so.1": "libgl1",
    "libEGL.so.1": "libegl1",
    "libX11.so.6": "libx11-6",
    "libxkbcommon.so.0": "libxkbcommon0",
    "libdbus-1.so.3": "libdbus-1-3",
    "libfontconfig.so.1": "libfontconfig1",
    "libglib-2.0.so.0": "libglib2.0-0",
}
X11_LIBRARIES = {
    "libX11-xcb.so.1": "libx11-xcb1",
    "libxkbcommon-x11.so.0": "libxkbcommon-x11-0",
    "libxcb-cursor.so.0": "libxcb-cursor0",
    "libxcb-icccm.so.4": "libxcb-icccm4",
    "libxcb-image.so.0": "libxcb-image0",
    "libxcb-keysyms.so.1": "libxcb-keysyms1",
    "libxcb-randr.so.0": "libxcb-randr0",
    "libxcb-render.so.0": "libxcb-render0",
    "libxcb-render-util.so.0": "libxcb-render-util0",
    "libxcb-shape.so.0": "libxcb-shape0",
    "libxcb-shm.so.0": "libxcb-shm0",
    "libxcb-sync.so.1": "libxcb-sync1",
    "libxcb-util.so.1": "libxcb-util1",
    "libxcb-xfixes.so.0": "libxcb-xfixes0",
    "libxcb-xkb.so.1": "libxcb-xkb1",
}
WAYLAND_LIBRARIES = {
    "libwayland-client.so.0": "libwayland-client0",
    "libwayland-cursor.so.0": "libwayland-cursor0",
}


class SetupError(Exception):
    """Something that the user has to mend; the message says how."""


def main(arguments: list[str]) -> int:
    """Set up, then start what `arguments` ask for; return the exit code."""
    if arguments[:1] in (["-h"], ["--help"]):
        print(__doc__, end="")
        return 0
    testing = arguments[:1] == ["--test"]
    in_window = has_display() and not testing
    prepare_system(screen=in_window)
    prepare_environment(testing=testing)
    if testing:
        os.environ["QT_QPA_PLATFORM"] = "offscreen"
        return hand_over(["-m", "pytest", *arguments[1:]])
    if arguments:
        return hand_over(["-m", "stavelight", *arguments])
    sample = sample_project()
    if in_window:
        say(f"Opening {shown(sample)} ...")
        return hand_over(["-m", "stavelight", str(sample)])
    return write_sample(sample)


def say(line: str) -> None:
    """Show a line of progress."""
    print(line, file=sys.stderr, flush=True)


def shown(path: Path) -> str:
    """Return a path as short as it can be shown."""
    return str(path.relative_to(CHECKOUT)) if path.is_relative_to(CHECKOUT) else str(path)


def has_display() -> bool:
    """Tell whether a window can be opened."""
    if os.environ.get("QT_QPA_PLATFORM", "").split(":")[0] in ("offscreen", "minimal"):
        return False
    if not sys.platform.startswith("linux"):
        return True
    return bool(os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY"))


# --- what the system has to bring ---------------------------------------------------------------


def prepare_system(*, screen: bool) -> None:
    """Install what the system lacks, or say what that is."""
    missing = missing_parts(screen=screen)
    if missing and shutil.which("apt-get"):
        apt_install(sorted(set(missing.values())))
        missing = missing_parts(screen=screen)
    if missing:
        raise SetupError(
            f"This system lacks {', '.join(missing)}. Install the packages of your system that "
            "bring them, then start again."
        )


def missing_parts(*, screen: bool) -> dict[str, str]:
    """Return what the system lacks, and which Debian package brings it."""
    missing: dict[str, str] = {}
    if not environment_python().exists() and not has_venv():
        version = f"{sys.version_info.major}.{sys.version_info.minor}"
        of_system = sys.executable in ("/usr/bin/python3", f"/usr/bin/python{version}")
        package = f"python{version}-venv" if of_system else "python3-venv"
        missing[f"the modules venv and ensurepip of {sys.executable}"] = package
    if sys.platform.startswith("linux"):
        wanted = dict(QT_LIBRARIES)
        if screen:
            wanted |= X11_LIBRARIES if os.environ.get("DISPLAY") else WAYLAND_LIBRARIES
        missing |= {library: wanted[library] for library in missing_libraries(wanted)}
    return missing


def missing_libraries(wanted: Iterable[str]) -> list[str]:
    """Return the libraries that this system cannot load."""
    missing = []
    for library in wanted:
        try:
            ctypes.CDLL(library)
        except OSError:
            missing.append(library)
    return missing


def has_venv() -> bool:
    """Tell whether this Python can make virtual environments."""
    importlib.invalidate_caches()
    return all(importlib.util.find_spec(name) for name in ("venv", "ensurepip"))


def apt_install(packages: list[str]) -> None:
    """Install Debian packages, as root or with a sudo that asks nothing."""
    command = ["apt-get", "install", "--yes", "--no-install-recommends", *packages]
    prefix: list[str] = []
    if os.geteuid() != 0:
        prefix = ["sudo", "-n"]
        if not shutil.which("sudo") or not succeeds([*prefix, "true"]):
            raise SetupError(
                "A few system packages are missing. Install them with\n"
                f"    sudo {shlex.join(command)}\nthen start again."
            )
    say(f"Installing system packages: {' '.join(packages)} ...")
    search = os.pathsep.join((os.environ.get("PATH", os.defpath), "/usr/sbin", "/sbin"))
    prefix += ["env", "DEBIAN_FRONTEND=noninteractive", f"PATH={search}"]
    succeeds([*prefix, "apt-get", "update"])
    if not succeeds([*prefix, *command, "-o", "DPkg::Lock::Timeout=300"], show_failure=True):
        raise SetupError(
            "The system packages could not be installed; apt-get says why above. Mend that, or "
            f"run\n    {shlex.join(command)}\nyourself, then start again."
        )


def succeeds(command: list[str], *, show_failure: bool = False) -> bool:
    """Run a command quietly and tell whether it went well."""
    done = subprocess.run(
        command,
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        errors="replace",
        check=False,
    )
    if done.returncode != 0 and show_failure:
        sys.stderr.write(done.stdout)
    return done.returncode == 0


# --- the virtual environment --------------------------------------------------------------------


def environment_python() -> Path:
    """Return the Python of the virtual environment."""
    if os.name == "nt":
        return ENVIRONMENT / "Scripts" / "python.exe"
    return ENVIRONMENT / "bin" / "python"


def prepare_environment(*, testing: bool) -> None:
    """Make the virtual environment and install Stavelight, unless that is done already."""
    setup = {
        "checkout": str(CHECKOUT),
        "pyproject": hashlib.sha256((CHECKOUT / "pyproject.toml").read_bytes()).hexdigest(),
    }
    before = read_stamp()
    testing_before = before.pop("extra", "") == "test"
    if before == setup and (testing_before or not testing) and environment_works("stavelight"):
        return
    STAMP.unlink(missing_ok=True)
    if not environment_works("pip"):
        make_environment()
    extra = "test" if testing or testing_before else ""
    install(extra)
    STAMP.write_text(json.dumps({**setup, "extra": extra}), encoding="utf-8")


def read_stamp() -> dict[str, str]:
    """Return what was set up last, or nothing."""
    try:
        stamp = json.loads(STAMP.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    return stamp if isinstance(stamp, dict) else {}


def environment_works(module: str) -> bool:
    """Tell whether the environment's Python starts, is new enough and finds a module."""
    code = f"import sys, {module}; sys.exit(sys.version_info < {OLDEST_PYTHON})"
    return environment_python().exists() and succeeds([str(environment_python()), "-c", code])


def make_environment() -> None:
    """Make the virtual environment anew."""
    say(f"Making the virtual environment {shown(ENVIRONMENT)} with {sys.executable} ...")
    command = [sys.executable, "-m", "venv", "--clear", str(ENVIRONMENT)]
    if not succeeds(command, show_failure=True):
        raise SetupError(
            f"The virtual environment {ENVIRONMENT} could not be made; the reason is above."
        )


def install(extra: str) -> None:
    """Install Stavelight and what it needs into the virtual environment."""
    say("Installing what Stavelight needs; the first time this takes a few minutes ...")
    target = f"{CHECKOUT}[{extra}]" if extra else str(CHECKOUT)
    command = [str(environment_python()), "-m", "pip", "install", "--prefer-binary"]
    command += ["--disable-pip-version-check", "--no-input", "--editable", target]
    if not sys.stderr.isatty():
        command.insert(4, "--quiet")
    done = subprocess.run(command, stdin=subprocess.DEVNULL, stdout=sys.stderr, check=False)
    if done.returncode != 0:
        raise SetupError(
            "The installation failed; pip says why above. Check that the network is reachable, "
            "then start again."
        )


# --- starting -----------------------------------------------------------------------------------


def hand_over(arguments: list[str]) -> int:
    """Go on as the Python of the virtual environment, with these arguments."""
    command = [str(environment_python()), *arguments]
    if arguments[1] == "pytest":
        os.chdir(CHECKOUT)
    sys.stdout.flush()
    if os.name != "nt":
        os.execv(command[0], command)
    return subprocess.run(command, check=False).returncode


def sample_project() -> Path:
    """Return the folder of the sample project."""
    folders = sorted(path for path in (CHECKOUT / "sample_projects").glob("*") if path.is_dir())
    if not folders:
        raise SetupError("The folder sample_projects is empty: this checkout is incomplete.")
    return folders[0]


def write_sample(sample: Path) -> int:
    """Do with the sample project what can be done without a display."""
    say("There is no display, so no window opens. The sample project is written to files instead.")
    OUTPUT.mkdir(exist_ok=True)
    jobs = (
        ("slides", str(sample), "-o", str(OUTPUT / f"{sample.name}.pptx")),
        ("slides", str(sample), "-o", str(OUTPUT / f"{sample.name}.pdf")),
        ("pages", str(sample), "-o", str(OUTPUT / "pages"), "--format", "pdf"),
        ("notes", str(sample), "-o", str(OUTPUT / "notes.csv")),
        ("check", str(sample)),
    )
    for job in jobs:
        say(f"> stavelight {shlex.join(word.replace(f'{CHECKOUT}{os.sep}', '') for word in job)}")
        code = subprocess.run(
            [str(environment_python()), "-m", "stavelight", *job], check=False
        ).returncode
        if code != 0:
            return code
    for layer in sorted(sample.glob("*.layer.json")):
        shutil.copyfile(layer, OUTPUT / layer.name)
    print(f"Slides, pages, notes and the checked layer of the sample project are in {OUTPUT}")
    return 0


if __name__ == "__main__":
    try:
        code = main(sys.argv[1:])
    except SetupError as error:
        say(str(error))
        code = 1
    except KeyboardInterrupt:
        say("Stopped.")
        code = 130
    sys.exit(code)
