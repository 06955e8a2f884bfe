"""The code printed on a sheet, by which anybody who holds it can ask whether it is genuine."""

import hashlib
import secrets

# Digits and capitals without those that are misread for others (Crockford's base 32).
ALPHABET = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
LENGTH = 20  # 100 bits
_GROUP = 5
_MISREAD = str.maketrans({"O": "0", "I": "1", "L": "1"})


def new() -> str:
    return "".join(secrets.choice(ALPHABET) for _ in range(LENGTH))


def grouped(code: str) -> str:
    return "-".join(code[start : start + _GROUP] for start in range(0, len(code), _GROUP))


def read(typed: str) -> str:
    """What somebody typed from paper, as it is stored; an impossible code comes back as ''."""
    code = "".join(typed.upper().replace("-", "").replace("–", "").split()).translate(_MISREAD)
    return code if len(code) == LENGTH and set(code) <= set(ALPHABET) else ""


def file_identifier(code: str) -> str:
    """Stands in the file's own identifier, which most programs keep when they change a file."""
    return hashlib.sha256(f"casebook document {code}".encode()).hexdigest()[:32]
