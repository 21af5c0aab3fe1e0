"""The page's scripts held against the types of what the station tells, by TypeScript's checker.

It comes from npm as pinned, with its hash, in ``.ci/types``; nothing else needs it.
"""

import os
import shutil
import subprocess
from pathlib import Path

import pytest

TYPES = Path(__file__).resolve().parents[2] / ".ci" / "types"
PAGE = Path(__file__).resolve().parents[2] / "groundstation" / "web" / "page"

pytestmark = pytest.mark.skipif(
    shutil.which("npm") is None and "CI" not in os.environ, reason="there is no npm"
)


@pytest.fixture(scope="module")
def checker() -> Path:
    """TypeScript's compiler; skips where it can't be had, but not in CI."""
    found = TYPES / "node_modules" / "typescript" / "bin" / "tsc"
    if not found.exists():
        got = subprocess.run(
            ["npm", "ci", "--ignore-scripts", "--no-audit", "--no-fund"],
            cwd=TYPES, capture_output=True, text=True, check=False,
        )  # fmt: skip
        if got.returncode != 0 and "CI" not in os.environ:
            pytest.skip("TypeScript can't be got by npm here")
        assert got.returncode == 0, got.stderr
    return found


def complaints(checker: Path, project: Path, known: Path) -> str:
    """``known`` is where it keeps what it found: where nothing has changed it is done sooner."""
    done = subprocess.run(
        ["node", str(checker), "-p", str(project),
         "--incremental", "--tsBuildInfoFile", str(known)],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    return done.stdout + done.stderr


def test_the_scripts_use_what_is_told_as_it_is_told(checker: Path) -> None:
    known = TYPES / "node_modules" / "page.tsbuildinfo"
    assert complaints(checker, TYPES / "tsconfig.json", known) == ""


WRONG = {
    "return payload.last.altitude_m;": "'payload.last' is possibly 'null'",
    "return payload.hight_m;": "Property 'hight_m' does not exist",
    'return payload.phase === "burst";': "have no overlap",
}


def test_wrong_uses_are_found(checker: Path, tmp_path: Path) -> None:
    shutil.copy(PAGE / "state.d.ts", tmp_path)
    (tmp_path / "wrong.js").write_text(
        "\n".join(
            '/** @param {import("./state").PayloadSnapshot} payload */ '
            f"export function wrong{number}(payload) {{ {line} }}"
            for number, line in enumerate(WRONG, start=1)
        )
    )
    settings = (TYPES / "tsconfig.json").read_text()
    (tmp_path / "tsconfig.json").write_text(settings.replace("../../groundstation/web/page/", ""))
    found = complaints(checker, tmp_path / "tsconfig.json", tmp_path / "known").splitlines()
    for number, says in enumerate(WRONG.values(), start=1):
        assert any(f"wrong.js({number}," in one and says in one for one in found), found
