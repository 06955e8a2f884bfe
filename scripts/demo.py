"""Brings up the invented practice on this machine: `make demo`. Never for real patients.

Everything lies in var/demo; deleting that folder starts afresh.
"""

import argparse
import base64
import json
import os
import secrets
import shutil
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from dataclasses import dataclass
from pathlib import Path

from scripts import processes
from scripts.supervisor import Child, Supervisor, wait_until_told

ROOT = Path(__file__).resolve().parent.parent
HOME = ROOT / "var" / "demo"
FIRST_PORT = 8000
ANSWER_SECONDS = 60


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--port", type=int, default=0, help=f"port; the first free one from {FIRST_PORT} when left out")
    parser.add_argument("--home", type=Path, default=HOME, help="folder of everything the demo writes")
    wanted = parser.parse_args()
    home = wanted.home.resolve()
    started = time.monotonic()
    port = wanted.port or free_port()
    env = demo_environment(var_dir=home, port=port)
    prepare(env)
    with supervisor(env=env, var_dir=home, port=port):
        if not answers(f"http://localhost:{port}/health/"):
            sys.exit(f"The demo does not answer. Its logs lie in {home / 'log'}.")
        welcome(home=home, port=port, seconds=time.monotonic() - started)
        wait_until_told()
    print("\nThe demo has stopped. `make demo` brings it up again as you left it.")


def free_port(*, after: int = FIRST_PORT - 1) -> int:
    for port in range(after + 1, FIRST_PORT + 100):
        with socket.socket() as probe:
            # As gunicorn will bind it: a port that has just been closed counts as free.
            probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            try:
                probe.bind(("127.0.0.1", port))
            except OSError:
                continue
            return port
    sys.exit(f"No port from {after + 1} to {FIRST_PORT + 99} is free. Choose one with --port.")


def demo_environment(*, var_dir: Path, port: int) -> dict[str, str]:
    """The demo's own settings; a practice's settings in this shell never reach it."""
    var_dir.mkdir(mode=0o700, parents=True, exist_ok=True)
    others = {name: value for name, value in os.environ.items() if not name.startswith("CASEBOOK_")}
    return {
        **others,
        **demo_keys(var_dir / "keys.json"),
        "DJANGO_SETTINGS_MODULE": "clinic.config.settings",
        "PYTHONTZPATH": "",
        "CASEBOOK_DEMO": "1",
        "CASEBOOK_PLAIN_HTTP": "1",
        "CASEBOOK_HOSTS": "localhost,127.0.0.1",
        "CASEBOOK_PUBLIC_URL": f"http://localhost:{port}",
        "CASEBOOK_VAR_DIR": str(var_dir),
        "CASEBOOK_STATIC_ROOT": str(var_dir / "static"),
        # Follow-ups should be seen going out soon after the demo clock has jumped.
        "CASEBOOK_TICK_SECONDS": "5",
        "CASEBOOK_LOG_LEVEL": "WARNING",
    }


def demo_keys(path: Path) -> dict[str, str]:
    """Made once: other keys could not open what the demo has encrypted."""
    if not path.exists():
        field_key = base64.urlsafe_b64encode(secrets.token_bytes(32)).decode()
        keys = {"CASEBOOK_SECRET_KEY": secrets.token_urlsafe(64), "CASEBOOK_FIELD_KEYS": field_key}
        path.touch(mode=0o600)
        path.write_text(json.dumps(keys))
    read: dict[str, str] = json.loads(path.read_text())
    return read


def prepare(env: dict[str, str]) -> None:
    done = subprocess.run([sys.executable, "-m", "scripts.demo_contents"], check=False, env=env, cwd=ROOT)
    if done.returncode != 0:
        sys.exit("The demo could not be prepared; what went wrong stands above. `make clean-demo` starts afresh.")


def supervisor(*, env: dict[str, str], var_dir: Path, port: int) -> Supervisor:
    logs = var_dir / "log"
    logs.mkdir(exist_ok=True)
    # What the last run left in the queue are old ticks; the tables know what is due.
    shutil.rmtree(var_dir / "queue", ignore_errors=True)
    commands = {
        "web": processes.web(bind=f"127.0.0.1:{port}"),
        "worker": processes.worker(),
        "beat": processes.beat(var_dir=var_dir),
    }
    children = [Child(name=name, command=command, log=logs / f"{name}.log") for name, command in commands.items()]
    return Supervisor(env=env, cwd=ROOT, children=children)


def answers(address: str) -> bool:
    """Whether the web process speaks; a health page that is still red for want of a first tick counts."""
    deadline = time.monotonic() + ANSWER_SECONDS
    while time.monotonic() < deadline:
        try:
            with urllib.request.urlopen(address, timeout=5):  # noqa: S310  (our own address)
                return True
        except urllib.error.HTTPError as answer:
            return answer.code == 503
        except (urllib.error.URLError, ConnectionError, TimeoutError):
            time.sleep(0.2)
    return False


@dataclass(frozen=True, kw_only=True)
class SignIn:
    role: str
    name: str
    email: str
    password: str
    pin: str


def sign_ins(home: Path) -> list[SignIn]:
    return [SignIn(**row) for row in json.loads((home / "sign-ins.json").read_text())]


def desk(home: Path) -> SignIn:
    return next(each for each in sign_ins(home) if each.role == "desk")


def welcome(*, home: Path, port: int, seconds: float) -> None:
    print(f"\nFernbrook Dental Rooms, an invented practice, is open ({seconds:.0f} s).")
    print(f"  http://localhost:{port}/\n")
    people = sign_ins(home)
    for each in people:
        print(f"  {each.role:<10} {each.email:<24} {each.name}")
    print(f"\n  Password of all of them: {people[0].password}    PIN of a locked screen: {people[0].pin}")
    print(
        "  Mail and texts never leave this machine: they land in the Demo mailbox. Ctrl-C stops the demo.", flush=True
    )


if __name__ == "__main__":
    main()
