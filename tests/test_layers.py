"""The pure packages import without Django: tried in a process in which Django cannot be imported."""

import subprocess
import sys

import pytest

BLOCK = """
import sys
class Block:
    def find_spec(self, name, path=None, target=None):
        if name.split(".")[0] == "django":
            raise ImportError("Django is out of reach here")
sys.meta_path.insert(0, Block())
"""


@pytest.mark.parametrize("package", ["jobs.planning", "jobs.estimating"])
def test_pure_packages_import_without_django(package: str) -> None:
    script = f"""{BLOCK}
import importlib, pkgutil
package = importlib.import_module("{package}")
for module in pkgutil.walk_packages(package.__path__, "{package}."):
    importlib.import_module(module.name)
"""
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
