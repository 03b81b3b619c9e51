#!/usr/bin/env python3
"""Set the program up and show it, or set it up and test it, with one command.

    python3 .ci/start.py demo [DIR]           DIR is ./demo_output if not given
    python3 .ci/start.py test [pytest args]

Standard library only, and in the syntax of Python 3.6, so that an old Python can read this
file far enough to say which one is needed. A second run installs nothing that is there.
"""

import hashlib
import json
import os
import re
import shutil
import subprocess
import sys
import time

ROOT = os.path.dirname(os.path.dirname(os.path.abspath(__file__)))
VENV = os.path.join(ROOT, ".venv")
STAMP = os.path.join(VENV, "rooftop-commission-setup.json")

OLDEST = (3, 11)
# 3.12 and later come first: PySide6 6.12 needs them (pyproject.toml says why).
PREFERRED = ("python3.13", "python3.12", "python3.14")
FALLBACK = ("python3.11",)

# Debian packages; names that differ between releases stand together, the first to be had wins.
WINDOW_PACKAGES = [
    ("libegl1",), ("libgl1",), ("libopengl0",), ("libglib2.0-0t64", "libglib2.0-0"),
    ("libdbus-1-3",), ("libfontconfig1",), ("libfreetype6",), ("libx11-6",), ("libx11-xcb1",),
    ("libxkbcommon0",), ("libxkbcommon-x11-0",), ("libxcb-cursor0",), ("libxcb-icccm4",),
    ("libxcb-image0",), ("libxcb-keysyms1",), ("libxcb-randr0",), ("libxcb-render0",),
    ("libxcb-render-util0",), ("libxcb-shape0",), ("libxcb-shm0",), ("libxcb-sync1",),
    ("libxcb-util1",), ("libxcb-xfixes0",), ("libxcb-xkb1",), ("libwayland-client0",),
    ("libwayland-cursor0",), ("fonts-dejavu-core",),
]
TEST_PACKAGES = WINDOW_PACKAGES + [
    ("libreoffice-calc",), ("poppler-utils",), ("qpdf",), ("xvfb",), ("xauth",),
    ("fonts-dejavu-extra",), ("postgresql",),
]
FULLY_INSTALLED = "install ok installed"
SCREEN = "-screen 0 1600x1200x24"


class Refusal(Exception):
    """The set-up cannot go on; the message says what to do."""


def say(text):
    """Print one line of progress at once, before what it announces is done."""
    print("start: " + text, flush=True)


def shown(command):
    """Return a command as a person would type it."""
    return " ".join("'" + part + "'" if re.search(r"\s", part) else part for part in command)


def output_of(command):
    """Return what a command prints, or None where it is absent or fails."""
    env = dict(os.environ, LC_ALL="C")
    try:
        done = subprocess.run(command, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE,
                              stderr=subprocess.DEVNULL, env=env, universal_newlines=True)
    except OSError:
        return None
    return done.stdout if done.returncode == 0 else None


def has_display():
    """Return whether a window can be opened here."""
    return bool(os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY"))


# --- Debian packages ---------------------------------------------------------------------


def installed_packages(names):
    """Return which of the named Debian packages are fully installed."""
    # dpkg-query prints what it knows and fails for the rest, so its exit code means nothing.
    done = subprocess.run(["dpkg-query", "-W", "-f", "${Package}\t${Status}\n"] + list(names),
                          stdout=subprocess.PIPE, stderr=subprocess.DEVNULL,
                          universal_newlines=True)
    lines = (line.split("\t") for line in done.stdout.splitlines())
    return {name for name, status in lines if status == FULLY_INSTALLED}


def missing_packages(wanted):
    """Return the groups of names of which no member is installed."""
    names = [name for group in wanted for name in group]
    there = installed_packages(names)
    return [group for group in wanted if not there.intersection(group)]


def available(name):
    """Return whether apt can install a package of this very name."""
    policy = output_of(["apt-cache", "policy", name]) or ""
    candidate = re.search(r"Candidate: (\S+)", policy)
    return bool(candidate) and candidate.group(1) != "(none)"


def as_root(command):
    """Return the command with sudo before it where that is needed."""
    if os.geteuid() == 0:
        return command
    if shutil.which("sudo") is None:
        raise Refusal(
            "installing Debian packages needs root, and sudo is not installed.\n"
            "  Ask whoever administers this machine to run: " + shown(command))
    quietly = [] if sys.stdin and sys.stdin.isatty() else ["-n"]
    return ["sudo"] + quietly + command


def apt_get(*arguments):
    """Run apt-get, as root, with no questions; refuse with its own words where it fails."""
    command = as_root(["env", "DEBIAN_FRONTEND=noninteractive", "apt-get",
                       "-o", "DPkg::Lock::Timeout=300", "-o", "Acquire::Retries=3"]
                      + list(arguments))
    say("running: " + shown(command))
    code = subprocess.call(command)
    if code != 0:
        raise Refusal("apt-get failed (exit {}); its own message is above. Put that right, or "
                      "install the packages by hand, and run this again.".format(code))


def install_packages(wanted):
    """Install those Debian packages that are missing, and only those."""
    if shutil.which("dpkg-query") is None or shutil.which("apt-get") is None:
        say("this system has no apt; if something is missing later, install what these Debian "
            "packages hold: " + " ".join(group[0] for group in wanted))
        return
    missing = missing_packages(wanted)
    if not missing:
        say("Debian packages: all {} there".format(len(wanted)))
        return
    say("Debian packages missing: " + " ".join("/".join(group) for group in missing)
        + "; updating apt's lists, then installing them")
    apt_get("update")
    chosen = [next((name for name in group if available(name)), None) for group in missing]
    unknown = [" or ".join(group) for group, name in zip(missing, chosen) if name is None]
    if unknown:
        raise Refusal("apt knows no package named " + ", ".join(unknown)
                      + ". If apt could not reach its sources (see above), run this again later; "
                      "else check /etc/apt: main of Debian 12 or 13 is needed.")
    apt_get("install", "--yes", "--no-install-recommends", *chosen)


# --- Python ------------------------------------------------------------------------------


def version_of(python):
    """Return (major, minor) of an interpreter, or None where it does not run."""
    text = output_of([python, "-c", "import sys; print(*sys.version_info[:2])"])
    return tuple(int(part) for part in text.split()) if text else None


def can_make_environments(python):
    """Return whether an interpreter has venv and ensurepip (Debian ships them apart)."""
    return output_of([python, "-c", "import venv, ensurepip; ensurepip.version()"]) is not None


def choose_python():
    """Return the interpreter for the environment: 3.12 or later if there is one, else 3.11.

    An interpreter found by name must be able to make an environment already; for the one that
    runs this script the Debian package that it lacks is installed.
    """
    own = sys.version_info[:2]
    if own >= (3, 12):
        return sys.executable
    for name in PREFERRED:
        path = shutil.which(name)
        if path and version_of(path) and can_make_environments(path):
            return path
    if own >= OLDEST:
        return sys.executable
    for name in FALLBACK:
        path = shutil.which(name)
        if path and version_of(path) == OLDEST:
            return path
    raise Refusal(
        "Python 3.11 or later is needed; this is {}.{} ({}) and no later one is on the path.\n"
        "  On Debian 12 or later: apt-get install python3 python3-venv, then run this with "
        "/usr/bin/python3.".format(own[0], own[1], sys.executable))


def ensure_venv_module(python):
    """Install python3-venv where the interpreter cannot make an environment with pip in it."""
    if can_make_environments(python):
        return
    own_package = "python{}.{}-venv".format(*version_of(python))
    say("{} has no ensurepip, so it cannot make an environment".format(python))
    install_packages([(own_package, "python3-venv")])
    if not can_make_environments(python):
        raise Refusal("{} still cannot make an environment (venv and ensurepip); "
                      "install them for it, or run this with Debian's /usr/bin/python3."
                      .format(python))


def venv_program(name):
    """Return the path of a program in the environment."""
    return os.path.join(VENV, "bin", name)


def ensure_environment():
    """Make .venv unless a working one of a fitting Python is there."""
    existing = version_of(venv_program("python"))
    has_pip = existing and output_of([venv_program("python"), "-m", "pip", "--version"])
    if existing and existing >= OLDEST and has_pip:
        say("environment .venv: there, Python {}.{}".format(*existing))
        return
    python = choose_python()
    ensure_venv_module(python)
    state = "cannot be used; making it again" if os.path.isdir(VENV) else "making it"
    say("environment .venv: {} with {}".format(state, python))
    code = subprocess.call([python, "-m", "venv", "--clear", VENV])
    if code != 0:
        raise Refusal("{} -m venv failed (exit {}); its message is above.".format(python, code))


def wanted_stamp(extra):
    """Return what a finished installation is known by: what was asked, of which Python, where."""
    with open(os.path.join(ROOT, "pyproject.toml"), "rb") as file:
        digest = hashlib.sha256(file.read()).hexdigest()
    python = output_of([venv_program("python"), "-c", "import sys; print(sys.version)"])
    return {"pyproject": digest, "python": python, "root": ROOT, "extra": extra}


def is_installed(wanted):
    """Return whether the stamp says that the wanted installation, or a fuller one, is there."""
    try:
        with open(STAMP, encoding="utf-8") as file:
            stamp = json.load(file)
    except (OSError, ValueError):
        return False
    fuller = dict(wanted, extra="test")
    return stamp in (wanted, fuller) and os.path.exists(venv_program("commission"))


def install_program(extra):
    """Install the program and its Python packages into .venv, unless they are there."""
    wanted = wanted_stamp(extra)
    if is_installed(wanted):
        say("Python packages: there (pyproject.toml has not changed)")
        return
    target = "." + ("[" + extra + "]" if extra else "")
    command = [venv_program("python"), "-m", "pip", "install", "--disable-pip-version-check",
               "--quiet", "--retries", "5", "--timeout", "60", "--editable", target]
    for pause in (5, 20, None):
        say("installing Python packages (a few minutes the first time): " + shown(command))
        code = subprocess.call(command, cwd=ROOT)
        if code == 0:
            break
        if pause is None:
            raise Refusal("pip failed three times (exit {}); its message is above. "
                          "If it speaks of the network, run this again later.".format(code))
        say("pip failed (exit {}); trying again in {} s".format(code, pause))
        time.sleep(pause)
    with open(STAMP, "w", encoding="utf-8") as file:
        json.dump(wanted, file, indent=1)


# --- the two commands --------------------------------------------------------------------


def demo(arguments):
    """Write the demo site's project, workbooks and packages, then open the window on it."""
    if len(arguments) > 1 or (arguments and arguments[0].startswith("-")):
        raise Refusal("demo takes one folder at most, not: " + " ".join(arguments))
    folder = os.path.abspath(arguments[0] if arguments else os.path.join(ROOT, "demo_output"))
    if has_display():
        install_packages(WINDOW_PACKAGES)
    ensure_environment()
    install_program("")
    say("running: commission demo " + folder)
    code = subprocess.call([venv_program("commission"), "demo", folder])
    if code != 0:
        return code
    return open_window(folder)


def open_window(folder):
    """Open the window on the demo's project file; without a display, say how to."""
    projects = sorted(name for name in os.listdir(folder) if name.endswith(".rtuproject"))
    if not projects:
        raise Refusal("the demo wrote no project file (.rtuproject) into " + folder)
    command = [venv_program("commission"), "window", os.path.join(folder, projects[0])]
    if not has_display():
        say("no display here (DISPLAY, WAYLAND_DISPLAY); where there is one: " + shown(command))
        return 0
    say("opening the window: " + shown(command))
    return subprocess.call(command)


def test_environment():
    """Return the variables for the tests: no window of theirs appears on a person's screen."""
    env = dict(os.environ, QT_QPA_PLATFORM="offscreen", PYTHONUNBUFFERED="1")
    env.pop("WAYLAND_DISPLAY", None)
    return env


def on_virtual_screen(command):
    """Return the command under a virtual X server, where screenshots can be taken."""
    if shutil.which("xvfb-run") is None:
        say("xvfb-run is not here: tests that need a real display will say so")
        return command
    return ["xvfb-run", "-a", "-s", SCREEN] + command


def test(arguments):
    """Run ruff, mypy and pytest; all three, so that one run tells everything."""
    install_packages(TEST_PACKAGES)
    ensure_environment()
    install_program("test")
    python = venv_program("python")
    steps = [
        ("ruff", [python, "-m", "ruff", "check", "."]),
        ("mypy", [python, "-m", "mypy"]),
        ("pytest", on_virtual_screen([python, "-m", "pytest"] + arguments)),
    ]
    failed = []
    for name, command in steps:
        say("running: " + shown(command))
        if subprocess.call(command, cwd=ROOT, env=test_environment()) != 0:
            failed.append(name)
    say("failed: " + ", ".join(failed) if failed else "ruff, mypy and pytest passed")
    return 1 if failed else 0


def main(arguments):
    """Run one command; return the exit code."""
    commands = {"demo": demo, "test": test}
    if not arguments or arguments[0] not in commands:
        print(__doc__.strip())
        return 0 if arguments and arguments[0] in ("-h", "--help") else 2
    try:
        return commands[arguments[0]](arguments[1:])
    except Refusal as refusal:
        print("start: stopped: {}".format(refusal), file=sys.stderr, flush=True)
        return 1
    except KeyboardInterrupt:
        print("start: interrupted", file=sys.stderr, flush=True)
        return 130


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
