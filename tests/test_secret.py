"""The secret key is made once, is nobody else's to read, and two processes agree on it."""

import stat
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

from studio.secret import read_or_make


def test_the_key_is_made_once_and_kept(tmp_path: Path) -> None:
    path = tmp_path / "var" / "secret.key"
    key = read_or_make(path)
    assert len(key) >= 50
    assert read_or_make(path) == key
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    assert [file.name for file in path.parent.iterdir()] == ["secret.key"]


def test_two_that_start_together_read_the_same_key(tmp_path: Path) -> None:
    with ThreadPoolExecutor(8) as pool:
        keys = set(pool.map(lambda _: read_or_make(tmp_path / "secret.key"), range(32)))
    assert len(keys) == 1
