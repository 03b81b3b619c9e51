"""A store on each database: an SQLite file, and a PostgreSQL server that the tests start."""

from __future__ import annotations

import copy
import json
import os
import random
import shutil
import subprocess
import tempfile
import time
from collections.abc import Callable, Iterator
from itertools import count
from pathlib import Path
from typing import Any

import psycopg
import pytest

from commission.archive import write_record
from commission.definitions.load import load_form
from commission.project import ProjectFile
from commission.project.scenario import project_from_scenario
from commission.resources import demo_units_folder
from commission.validation.site import site_results

_NUMBERS = count(1)


def _server_programs() -> Path:
    """Return the folder of initdb and postgres; the test fails where there is none."""
    found = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"), reverse=True)
    on_path = shutil.which("initdb")
    if not found and not on_path:
        pytest.fail("No PostgreSQL server is installed: apt-get install postgresql")
    return found[0].parent if found else Path(str(on_path)).parent


class Server:
    """A PostgreSQL server of this test run alone, reached by a socket in its own folder."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.programs = _server_programs()
        # The server refuses to run as root; Debian's package makes this user.
        self.as_whom: dict[str, Any] = {"user": "postgres"} if os.geteuid() == 0 else {}
        if self.as_whom:
            shutil.chown(folder, "postgres")
        self._run("initdb", "-D", self.data, "-U", "owner", "-A", "trust", "-E", "UTF8")
        self.start()

    @property
    def data(self) -> str:
        return str(self.folder / "data")

    def _run(self, program: str, *arguments: str) -> None:
        command = [str(self.programs / program), *arguments]
        done = subprocess.run(command, capture_output=True, text=True, cwd="/", **self.as_whom)
        assert done.returncode == 0, done.stdout + done.stderr

    def start(self) -> None:
        # What is flushed matters when the machine fails, not when a program is killed.
        options = f"-k {self.folder} -c listen_addresses='' -c max_connections=20 -c fsync=off"
        log = str(self.folder / "log")
        self._run("pg_ctl", "-D", self.data, "-w", "-l", log, "-o", options, "start")

    def stop(self, mode: str = "fast") -> None:
        self._run("pg_ctl", "-D", self.data, "-w", "-m", mode, "stop")

    def address(self, database: str, user: str = "owner") -> str:
        return f"postgresql://{user}@/{database}?host={self.folder}"

    def execute(self, statement: str, database: str = "postgres") -> None:
        with psycopg.connect(self.address(database), autocommit=True) as connection:
            connection.execute(statement.encode())

    def new_database(self, like: str = "template1") -> str:
        name = f"store_{next(_NUMBERS)}"
        self.execute(f"CREATE DATABASE {name} TEMPLATE {like}")
        return name


@pytest.fixture(scope="session")
def server() -> Iterator[Server]:
    folder = Path(tempfile.mkdtemp(prefix="pg", dir="/tmp"))  # a socket's path must be short
    started = Server(folder)
    try:
        yield started
    finally:
        started.stop("immediate")
        time.sleep(0.1)
        shutil.rmtree(folder, ignore_errors=True)


@pytest.fixture(params=["sqlite", "postgresql"])
def address(request: pytest.FixtureRequest, tmp_path: Path) -> str:
    """An empty place for a store, on each database in turn."""
    if request.param == "sqlite":
        return str(tmp_path / "portfolio.rtustore")
    server: Server = request.getfixturevalue("server")
    return server.address(server.new_database())


@pytest.fixture(scope="session")
def models() -> dict[tuple[str, str], str]:
    """Stores that are made once, to be copied: (what is in it, which database) -> where it is."""
    return {}


def like_model(
    request: pytest.FixtureRequest, what: str, address: str, fill: Callable[[str], None]
) -> str:
    """Return the address of a store filled as `fill` does, by copying one that was."""
    models = request.getfixturevalue("models")
    is_file = "://" not in address
    key = (what, "file" if is_file else "server")
    if key not in models:
        folder = request.getfixturevalue("tmp_path_factory").mktemp("model")
        server = None if is_file else request.getfixturevalue("server")
        models[key] = str(folder / "model") if server is None else server.new_database()
        fill(models[key] if server is None else server.address(models[key]))
    if is_file:
        shutil.copy(models[key], address)
        return address
    server = request.getfixturevalue("server")
    return str(server.address(server.new_database(models[key])))


@pytest.fixture(scope="session")
def demo_content(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    """The demo site's record as plain data."""
    folder, form = tmp_path_factory.mktemp("demo_store"), load_form()
    with project_from_scenario(demo_units_folder(), folder / "a.rtuproject", form) as project:
        path = write_record(site_results(project, form), folder / "a.record.json")
    return dict(json.loads(path.read_bytes()))


@pytest.fixture(scope="session")
def demo_path(demo_content: dict[str, Any], tmp_path_factory: pytest.TempPathFactory) -> Path:
    return saved(demo_content, tmp_path_factory.mktemp("records") / "demo.record.json")


def saved(content: dict[str, Any], path: Path) -> Path:
    path.write_text(json.dumps(content), encoding="utf-8")
    return path


def one_unit(content: dict[str, Any], tag: str) -> dict[str, Any]:
    """Return the record with one of its units alone (the project's own rows kept)."""
    wanted = {row["unit_id"] for row in content["identities"] if row["tag"] == tag} | {""}
    kept = copy.deepcopy(content)
    for name, part in kept.items():
        if isinstance(part, list) and part and "unit_id" in part[0]:
            kept[name] = [row for row in part if row["unit_id"] in wanted]
    return kept


def sister(content: dict[str, Any], number: int, dice: random.Random) -> dict[str, Any]:
    """Return a one-unit record as another unit of its model: own project, tag, serial, noise.

    Quantities are moved by 2 % of a normal distribution, so that a group of them has a spread.
    """
    made = copy.deepcopy(content)
    made["project"]["uuid"] = f"project-{number}"
    for row in made["identities"]:
        row.update(tag=f"RTU-{number}", serial=f"S-{number:05}")
    for row in made["quantities"]:
        if isinstance(row["value"], float) and row["unit_id"]:
            row["value"] *= 1 + dice.gauss(0, 0.02)
    return made


def copy_of_project(path: Path, into: Path) -> ProjectFile:
    shutil.copyfile(path, into)
    return ProjectFile.open(into)
