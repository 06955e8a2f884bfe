"""Makes .venv from the hashed lock, and installs what the system itself must bring.

Runs on a bare Python: `python3 scripts/bootstrap.py [--dev] [--servers]`. Nothing is done twice.
"""

import argparse
import ctypes
import hashlib
import os
import shutil
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
VENV = ROOT / ".venv"
# The benchmarks' yardstick for sheets loads these three by name; no Python package carries them.
PANGO = ("libpango-1.0.so.0", "libpangoft2-1.0.so.0", "libharfbuzz-subset.so.0")
PANGO_PACKAGES = ("libpango-1.0-0", "libpangoft2-1.0-0", "libharfbuzz-subset0")
# What the tests start besides ourselves: the program that proves it is there, and its Debian package.
SERVERS = {"redis-server": "redis-server", "chromium": "chromium", "msgfmt": "gettext", "setpriv": "util-linux"}


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--dev", action="store_true", help="also what tests and linting need")
    parser.add_argument("--servers", action="store_true", help="also PostgreSQL, Redis and Chromium, for the tests")
    wanted = parser.parse_args()
    if not (3, 11) <= sys.version_info[:2] <= (3, 13):
        sys.exit(f"Python {sys.version.split()[0]} is not supported. Use Python 3.11, 3.12 or 3.13.")
    install_system_packages(missing_packages(dev=wanted.dev, servers=wanted.servers))
    install_lock(ROOT / ("requirements-dev.txt" if wanted.dev else "requirements.txt"), dev=wanted.dev)


def loads(library: str) -> bool:
    try:
        ctypes.CDLL(library)
    except OSError:
        return False
    return True


def missing_packages(*, dev: bool, servers: bool) -> list[str]:
    missing = list(PANGO_PACKAGES) if dev and not all(map(loads, PANGO)) else []
    if servers:
        missing += [package for program, package in SERVERS.items() if shutil.which(program) is None]
        if not any(Path("/usr/lib/postgresql").glob("*/bin/initdb")) and shutil.which("initdb") is None:
            missing.append("postgresql")
    return missing


def install_system_packages(packages: list[str]) -> None:
    if not packages:
        return
    command = ["apt-get", "install", "-y", "-q", "--no-install-recommends", *packages]
    if os.geteuid() != 0 or not Path("/etc/debian_version").exists():
        sys.exit(f"Some system packages are missing. On Debian or Ubuntu, as root: {' '.join(command)}")
    print(f"Installing system packages: {' '.join(packages)}", flush=True)
    env = {**os.environ, "DEBIAN_FRONTEND": "noninteractive"}
    subprocess.run(["apt-get", "update", "-q"], check=True, env=env, stdout=subprocess.DEVNULL)
    subprocess.run(command, check=True, env=env, stdout=subprocess.DEVNULL)


def install_lock(lock: Path, *, dev: bool) -> None:
    """Every package is compared with the hash in the lock; the stamp saves the second run."""
    digest = hashlib.sha256(lock.read_bytes()).hexdigest()
    # The larger lock holds the smaller one, so its stamp speaks for both.
    stamps = {name: VENV / f"{name}.stamp" for name in ("lock", "lock-dev")}
    own = hashlib.sha256((ROOT / "requirements.txt").read_bytes()).hexdigest()
    if _reads(stamps["lock-dev" if dev else "lock"], digest):
        return
    if not (VENV / "bin" / "python").exists():
        subprocess.run([sys.executable, "-m", "venv", VENV], check=True)
    print(f"Installing the packages of {lock.name}", flush=True)
    pip: list[str | Path] = [
        VENV / "bin" / "python",
        "-m",
        "pip",
        "install",
        "-q",
        "--disable-pip-version-check",
        "--no-input",
    ]
    # Tests import a part of it; the rest need not be compiled. What serves is compiled once and for all.
    compiling = ["--no-compile"] if dev else []
    subprocess.run([*pip, *compiling, "--require-hashes", "--only-binary", ":all:", "-r", lock], check=True)
    stamps["lock"].write_text(own)
    if dev:
        stamps["lock-dev"].write_text(digest)


def _reads(path: Path, text: str) -> bool:
    return path.exists() and path.read_text() == text


if __name__ == "__main__":
    main()
