"""Prints a fresh key for CASEBOOK_FIELD_KEYS: `python -m clinic.trail.new_key`.

A plain script and no management command: the settings refuse to load before there is a key.
"""

import sys

from cryptography.fernet import Fernet

if __name__ == "__main__":
    sys.stdout.write(f"{Fernet.generate_key().decode('ascii')}\n")
