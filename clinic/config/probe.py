"""Asks /health/ and ends with 0 or 1: `python -m clinic.config.probe ADDRESS [--green]`.

For a container engine, which wants a yes or a no. Without --green it is enough that the web process
answers at all: it is not to blame for a worker that is away. Nothing but the standard library is
imported, because it runs every half minute.
"""

import os
import sys
import urllib.error
import urllib.request

SECONDS = 10


def status(address: str) -> int:
    """The HTTP status, 0 while nobody answers. The program answers to its own host names only."""
    host = os.environ.get("CASEBOOK_HOSTS", "localhost").split(",")[0].strip()
    request = urllib.request.Request(address, headers={"Host": host})  # noqa: S310  (an address of docker-compose.yml)
    try:
        with urllib.request.urlopen(request, timeout=SECONDS) as answer:  # noqa: S310
            return int(answer.status)
    except urllib.error.HTTPError as answer:
        return answer.code
    except OSError:
        return 0


def main(address: str, *flags: str) -> int:
    good = {200} if "--green" in flags else {200, 503}
    return 0 if status(address) in good else 1


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
