"""The file of a backup: a zip with a manifest that knows every member by its size and SHA-256.

    manifest.json       what it is, of which version, migrations and engine; rows of each table; members
    database.sqlite3    or database.dump: the database at one moment
    files/...           what is kept under MEDIA_ROOT
    mail/...            mail that was laid into files
    secret.key          without which links that customers have would open nothing

The comment of the zip is the manifest's own SHA-256.
"""

import hashlib
import json
import zipfile
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import asdict, dataclass, field
from datetime import datetime
from pathlib import Path, PurePosixPath
from typing import IO, Any

from jobs.actions import Refused

PRODUCT = "glass-studio-floor"
FORMAT = 1
MANIFEST = "manifest.json"
CHUNK = 1 << 20
# What is packed already gains nothing from being packed again.
_PACKED = {".jpg", ".jpeg", ".png", ".webp", ".heic", ".pdf", ".zip", ".gz", ".dump"}


@dataclass(frozen=True)
class Manifest:
    version: str
    made_at: str  # ISO 8601.
    studio: str
    engine: str  # "sqlite" or "postgresql".
    migrations: list[str]  # "app.name", in the order of their application.
    rows: dict[str, int]  # By table.
    members: dict[str, dict[str, Any]] = field(default_factory=dict)  # By name: bytes, sha256.
    product: str = PRODUCT
    format: int = FORMAT


class Writer:
    """Writes the file at `path`; nothing of it can be read as a backup before `finish` has run."""

    def __init__(self, path: Path, at: datetime) -> None:
        self._zip = zipfile.ZipFile(path, "w")
        self._day = at.timetuple()[:6]
        self.members: dict[str, dict[str, Any]] = {}

    def add(self, name: str, source: IO[bytes]) -> None:
        digest, size = hashlib.sha256(), 0
        with self._zip.open(self._info(name), "w", force_zip64=True) as member:
            while chunk := source.read(CHUNK):
                digest.update(chunk)
                size += len(chunk)
                member.write(chunk)
        self.members[name] = {"bytes": size, "sha256": digest.hexdigest()}

    def finish(self, manifest: Manifest) -> None:
        text = json.dumps(asdict(manifest), ensure_ascii=False, indent=1).encode()
        with self._zip.open(self._info(MANIFEST), "w") as member:
            member.write(text)
        self._zip.comment = hashlib.sha256(text).hexdigest().encode()
        self.close()

    def close(self) -> None:
        self._zip.close()

    def _info(self, name: str) -> zipfile.ZipInfo:
        info = zipfile.ZipInfo(name, self._day)
        info.external_attr = 0o600 << 16
        packed = PurePosixPath(name).suffix.lower() in _PACKED
        info.compress_type = zipfile.ZIP_STORED if packed else zipfile.ZIP_DEFLATED
        return info


class Backup:
    """A backup opened for reading; its manifest agrees with itself, its members are checked by `check`."""

    def __init__(self, opened: zipfile.ZipFile, manifest: Manifest) -> None:
        self._zip = opened
        self.manifest = manifest

    def names(self, folder: str = "") -> list[str]:
        return sorted(name for name in self.manifest.members if name.startswith(folder))

    def open(self, name: str) -> IO[bytes]:
        return self._zip.open(name)

    def check(self) -> None:
        """Read all of it. Raises Refused where a member is missing, too many, or not what it was."""
        inside = [name for name in self._zip.namelist() if name != MANIFEST]
        if len(inside) != len(set(inside)) or set(inside) != set(self.manifest.members):
            raise Refused("The backup is damaged: it does not hold the files that it lists.")
        for name, known in self.manifest.members.items():
            if not _is_safe(name):
                raise Refused(f"The backup is damaged: it holds a file of the name “{name}”.")
            digest = hashlib.sha256()
            with self.open(name) as member:
                while chunk := member.read(CHUNK):
                    digest.update(chunk)
            if digest.hexdigest() != known["sha256"]:
                raise Refused(f"The backup is damaged: {name} is not what was kept.")


@contextmanager
def opened(path: Path) -> Iterator[Backup]:
    """The backup in a file. Raises Refused for whatever is none, or cannot be read to its end."""
    try:
        with zipfile.ZipFile(path) as found:
            yield Backup(found, _manifest(found))
    except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError) as error:
        raise Refused(f"{path.name} is no backup, or it is damaged: {error}.") from error
    except OSError as error:
        raise Refused(f"{path.name} cannot be read: {error.strerror or error}.") from error


def _manifest(found: zipfile.ZipFile) -> Manifest:
    try:
        text = found.read(MANIFEST)
        values = json.loads(text)
        if values["product"] != PRODUCT:
            raise Refused("This is a backup of another program.")
        if values["format"] > FORMAT:
            raise Refused("This backup was made by a newer version of the program: install that one first.")
        manifest = Manifest(**values)
    except (KeyError, TypeError, ValueError) as error:
        raise Refused("This is no backup of this program: it lacks the list of what it holds.") from error
    if found.comment.decode(errors="replace") != hashlib.sha256(text).hexdigest():
        raise Refused("The backup is damaged: the list of what it holds was changed.")
    return manifest


def _is_safe(name: str) -> bool:
    path = PurePosixPath(name)
    return not path.is_absolute() and ".." not in path.parts and "\\" not in name and str(path) == name
