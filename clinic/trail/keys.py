"""The keys of personal values: one small file per patient, outside the database and its dumps.

Each file holds a key wrapped by the keys of the settings (newest first wraps, all unwrap), so neither
a dump nor this folder alone opens anything. Destroying one file erases that patient's values.
"""

import hashlib
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from cryptography.fernet import Fernet, MultiFernet
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.kdf.hkdf import HKDF
from django.conf import settings

from clinic.trail import durable


@dataclass(frozen=True, slots=True)
class HeldKey:
    id: str
    secret: bytes


def wrapping() -> MultiFernet:
    return _wrapping(tuple(settings.FIELD_KEYS))


def derived(purpose: str) -> dict[str, bytes]:
    """For each key of the settings, newest first: the id and bytes of its key for one purpose."""
    return _derived(purpose, tuple(settings.FIELD_KEYS))


def held(patient_id: int | None) -> HeldKey:
    """The key that new values of this patient are sealed under; it is made when there is none."""
    return find(patient_id) or _make(patient_id)


def find(patient_id: int | None) -> HeldKey | None:
    wrapped = durable.contents(_name(patient_id, "key"))
    if wrapped is None:
        return None
    key = _unwrap(wrapped)
    return None if key.id in destroyed(patient_id) else key


def destroyed(patient_id: int | None) -> frozenset[str]:
    """The ids of this patient's destroyed keys: tells an erased value from one whose key is missing."""
    stone = durable.contents(_name(patient_id, "destroyed"))
    return frozenset(stone.decode("ascii").split()) if stone is not None else frozenset()


def destroy(patient_id: int) -> bool:
    """Ends every value sealed under the patient's present key; False when there was none.

    The stone is set first: a crash in between leaves a key that already counts as destroyed.
    """
    path = _path(patient_id)
    with durable.alone(_lock()):
        if not path.exists():
            return False
        ids = destroyed(patient_id) | {_read(path).id}
        durable.replace(_stone(patient_id), "".join(f"{key_id}\n" for key_id in sorted(ids)).encode("ascii"))
        durable.shred(path)
    return True


def rewrap_all() -> int:
    """Wraps every key file with the newest key of the settings, so that an older one can be retired."""
    with durable.alone(_lock()):
        paths = sorted(Path(settings.KEYS_DIR).glob("*.key"))
        for path in paths:
            durable.replace(path, wrapping().rotate(path.read_bytes()))
    return len(paths)


def _make(patient_id: int | None) -> HeldKey:
    path = _path(patient_id)
    with durable.alone(_lock()):
        # Looked for again: another process may have made it while this one waited.
        found = find(patient_id)
        if found is None:
            # What still stands there counts as destroyed: its destruction was cut short.
            if path.exists():
                durable.shred(path)
            durable.write_new(path, wrapping().encrypt(Fernet.generate_key()))
            found = _read(path)
    return found


def _lock() -> Path:
    return Path(settings.KEYS_DIR) / ".lock"


def _path(patient_id: int | None) -> Path:
    return Path(_name(patient_id, "key"))


def _stone(patient_id: int | None) -> Path:
    return Path(_name(patient_id, "destroyed"))


def _name(patient_id: int | None, ending: str) -> str:
    holder = "installation" if patient_id is None else f"patient-{int(patient_id)}"
    return f"{settings.KEYS_DIR}/{holder}.{ending}"


def _read(path: Path) -> HeldKey:
    return _unwrap(path.read_bytes())


def _unwrap(wrapped: bytes) -> HeldKey:
    secret = wrapping().decrypt(wrapped)
    return HeldKey(id=_id_of(secret), secret=secret)


def _id_of(secret: bytes) -> str:
    return hashlib.sha256(secret).hexdigest()[:16]


@lru_cache(maxsize=4)
def _wrapping(field_keys: tuple[str, ...]) -> MultiFernet:
    return MultiFernet([Fernet(key) for key in field_keys])


@lru_cache(maxsize=16)
def _derived(purpose: str, field_keys: tuple[str, ...]) -> dict[str, bytes]:
    made = [
        HKDF(algorithm=hashes.SHA256(), length=32, salt=None, info=purpose.encode()).derive(key.encode())
        for key in field_keys
    ]
    return {_id_of(secret): secret for secret in made}
