"""The built wheel, installed by itself, runs: it carries every YAML file and puts nothing beside `chopstick`."""

import os
import shutil
import subprocess
import sys
import tomllib
import venv
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Built from a copy, so that no build folder is left in the checkout."""
    source = tmp_path_factory.mktemp("source") / "checkout"
    ignore = shutil.ignore_patterns(".git", ".venv*", "__pycache__", "*.egg-info", "build", ".*_cache", "tests", ".hypothesis")
    shutil.copytree(ROOT, source, ignore=ignore)
    out = tmp_path_factory.mktemp("wheel")
    subprocess.run(
        [sys.executable, "-m", "pip", "wheel", "--quiet", "--no-deps", "--wheel-dir", str(out), str(source)], check=True
    )
    return next(out.glob("chopstick-*.whl"))


def test_it_carries_every_data_file(wheel: Path) -> None:
    carried = set(zipfile.ZipFile(wheel).namelist())
    data = {
        f"chopstick/{path.relative_to(ROOT).as_posix()}"
        for pattern in ("*.yaml", "*.json", "*.j2", "*.css")
        for path in [*(ROOT / "kb").rglob(pattern), *(ROOT / "cli").rglob(pattern)]
    }
    assert data
    assert data <= carried, data - carried


def test_it_carries_every_module(wheel: Path) -> None:
    carried = set(zipfile.ZipFile(wheel).namelist())
    modules = {
        f"chopstick/{path.relative_to(ROOT).as_posix()}"
        for room in ("kb", "engine", "cli")
        for path in (ROOT / room).rglob("*.py")
    }
    assert modules <= carried, f"missing from `packages` in pyproject.toml: {modules - carried}"


def test_nothing_lands_beside_chopstick(wheel: Path) -> None:
    top = {name.partition("/")[0] for name in zipfile.ZipFile(wheel).namelist()}
    assert {name for name in top if not name.endswith(".dist-info")} == {"chopstick"}


def test_the_packages_listed_are_the_folders_there_are() -> None:
    listed = set(tomllib.loads((ROOT / "pyproject.toml").read_text())["tool"]["setuptools"]["packages"])
    folders = {
        ".".join(("chopstick", *path.parent.relative_to(ROOT).parts))
        for room in ("kb", "engine", "cli")
        for path in (ROOT / room).rglob("__init__.py")
    }
    assert listed == folders


def test_installed_by_itself_it_runs(wheel: Path, tmp_path: Path) -> None:
    """In a fresh environment that sees this one's libraries but not the checkout."""
    home = tmp_path / "env"
    venv.create(home, with_pip=False)
    python = home / "bin" / "python"
    place = subprocess.run(
        [python, "-c", "import sysconfig; print(sysconfig.get_paths()['purelib'])"], capture_output=True, text=True, check=True
    ).stdout.strip()
    zipfile.ZipFile(wheel).extractall(place)
    libraries = next(path for path in sys.path if path.endswith("site-packages"))
    Path(place, "zz-libraries.pth").write_text(f"import sys; sys.path.append({libraries!r})\n")
    environment = {key: value for key, value in os.environ.items() if not key.startswith(("PYTHON", "CHOPSTICK"))}
    code = "from chopstick.cli.main import main; import chopstick.kb, sys; print(chopstick.kb.__file__); main()"
    done = subprocess.run(
        [python, "-c", code, "kb", "check"], cwd=tmp_path, capture_output=True, text=True, env=environment, check=False
    )
    assert done.returncode == 0, done.stdout + done.stderr
    assert str(place) in done.stdout
