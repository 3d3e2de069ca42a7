"""A .venv that is not whole is noticed, and left so that pip can mend it."""

import subprocess
import sys
from pathlib import Path

import pytest

SCRIPT = Path(__file__).resolve().parent.parent.parent / "scripts" / "installed.py"
pytestmark = pytest.mark.pure


@pytest.fixture
def venv(tmp_path):
    """An environment without pip that holds one small package."""
    subprocess.run([sys.executable, "-m", "venv", "--without-pip", str(tmp_path / "venv")], check=True)
    packages = next((tmp_path / "venv").glob("lib/python*/site-packages"))
    (packages / "reed.py").write_text("", encoding="utf-8")
    record = packages / "reed-2.5.dist-info"
    record.mkdir()
    (record / "METADATA").write_text("Metadata-Version: 2.1\nName: reed\nVersion: 2.5\n", encoding="utf-8")
    (record / "RECORD").write_text("reed.py,,\nreed-2.5.dist-info/METADATA,,\n", encoding="utf-8")
    return packages


def ask(venv, lock):
    path = venv / "x.lock"
    path.write_text(lock, encoding="utf-8")
    python = venv.parent.parent.parent / "bin" / "python"
    asked = subprocess.run([python, SCRIPT, path], capture_output=True, text=True, check=False)
    return asked.returncode, asked.stdout.strip()


def test_what_is_whole_is_left_alone(venv):
    assert ask(venv, "reed==2.5 \\\n    --hash=sha256:00\n") == (0, "")


@pytest.mark.parametrize("lock", ["reed==2.6\n", "cork==1.0\nreed==2.5\n"])
def test_what_is_missing_or_of_another_version_is_named(venv, lock):
    code, said = ask(venv, lock)
    assert code == 1
    assert said in {"reed 2.6 is not installed", "cork 1.0 is not installed"}
    assert (venv / "reed-2.5.dist-info").exists()


def test_a_package_whose_files_are_gone_is_forgotten_so_that_pip_installs_it_anew(venv):
    (venv / "reed.py").unlink()
    code, said = ask(venv, "reed==2.5\n")
    assert code == 1
    assert said.startswith("reed is damaged")
    assert not (venv / "reed-2.5.dist-info").exists()


def test_what_a_stopped_install_left_is_taken_away(venv):
    """pip refuses to replace a package that has no list of its files."""
    (venv / "reed-2.5.dist-info" / "RECORD").unlink()
    (venv / "~eed").mkdir()
    assert ask(venv, "reed==2.5\ncork==1.0\n")[0] == 1
    assert not (venv / "reed-2.5.dist-info").exists()
    assert not (venv / "~eed").exists()
