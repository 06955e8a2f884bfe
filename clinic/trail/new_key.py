"""Prints a fresh key for CASEBOOK_FIELD_KEYS: `python -m clinic.trail.new_key`.

A plain script and no management command: the settings refuse to load before there is a key. It imports
nothing but the standard library, so that `python3 clinic/trail/new_key.py` works before anything is installed.
"""

import base64
import secrets
import sys

if __name__ == "__main__":
    sys.stdout.write(f"{base64.urlsafe_b64encode(secrets.token_bytes(32)).decode('ascii')}\n")
