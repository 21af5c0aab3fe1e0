"""The page's scripts say what the station's catalogue says."""

import json
import subprocess
from pathlib import Path

import pytest

from groundstation.language.catalogue import _, languages, ngettext, speaking
from groundstation.language.numbers import number
from groundstation.web.page_files import load_pages, script_texts
from tests.support.catalogues import to_translate

PAGE = Path(__file__).resolve().parents[2] / "groundstation" / "web" / "page"
OTHERS = languages()[1:]


def ids(one: object) -> tuple[str, str]:
    return one if isinstance(one, tuple) else (str(one), "")


def of_scripts() -> set[tuple[str, str]]:
    """As the extractor finds them, which the station does not have."""
    return {
        ids(one.id)
        for one in to_translate()
        if one.id and any(name.endswith(".js") for name, _line in one.locations)
    }


def test_the_station_finds_every_text_of_its_scripts() -> None:
    told = script_texts(path.read_text("utf-8") for path in PAGE.glob("*.js"))
    assert len(told) > 200
    assert told == of_scripts()


def said_by_node(language: str, program: str, folder: Path) -> str:
    """What a program says that imports the page's own language.js."""
    with speaking(language):
        module = load_pages().static["language.js"].body
    (folder / "language.mjs").write_bytes(module)
    (folder / "program.mjs").write_text(
        f'import {{ _, language, ngettext, number }} from "./language.mjs";\n{program}'
    )
    done = subprocess.run(
        ["node", str(folder / "program.mjs")], capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    return done.stdout


@pytest.mark.parametrize("language", languages())
def test_a_script_says_what_the_station_says(language: str, tmp_path: Path) -> None:
    worker = script_texts([(PAGE / "worker.js").read_text("utf-8")])
    said = sorted(of_scripts() - worker)
    texts = [one for one, many in said if not many and "{" not in one]
    counted = [one for one in said if one[1]]
    counts = [0, 1, 2, 5, 11, 21, 100, 101, 111, 1_234]
    program = (
        f"console.log(JSON.stringify([language, {json.dumps(texts)}.map((text) => _(text)),"
        f"{json.dumps(counted)}.map(([one, many]) =>"
        f" {json.dumps(counts)}.map((count) => ngettext(one, many, count)))]));"
    )
    told = json.loads(said_by_node(language, program, tmp_path))
    with speaking(language):
        forms = [
            [ngettext(one, many, n).replace(str(n), number(n)) for n in counts]
            for one, many in counted
        ]
        assert told == [language, [_(text) for text in texts], forms]


@pytest.mark.parametrize("language", languages())
def test_a_script_writes_numbers_as_the_station_does(language: str, tmp_path: Path) -> None:
    values = [0.0, 9.96, 999.9, 1_234.6, -12_345.678, 1_234_567.0]
    program = (
        f"console.log(JSON.stringify({values}.flatMap((v) => [0, 1, 2].map((n) => number(v, n)))))"
    )
    told = json.loads(said_by_node(language, program, tmp_path))
    with speaking(language):
        assert told == [number(value, n) for value in values for n in (0, 1, 2)]


def test_english_costs_the_page_nothing() -> None:
    assert load_pages().static["language.js"].body == (PAGE / "language.js").read_bytes()


@pytest.mark.parametrize("language", OTHERS)
def test_the_worker_speaks_too(language: str) -> None:
    with speaking(language):
        worker = load_pages().static["worker.js"].body.decode()
        assert f'_("{_("Open its page.")}")' in worker
    assert '_("Open its page.")' not in worker


def test_a_language_with_many_forms_is_told_which_is_for_what(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Polish has three (gettext's manual, "Plural forms")."""

    def polish(one: str, _many: str) -> tuple[list[str], str]:
        def which(n: int) -> int:
            few = 2 <= n % 10 <= 4 and not 10 <= n % 100 < 20
            return 0 if n == 1 else 1 if few else 2

        return [f"{one} {n}" for n in range(3)], "".join(str(which(n)) for n in range(200))

    monkeypatch.setattr("groundstation.web.page_files.plural_forms", polish)
    program = (
        'console.log([1, 2, 5, 12, 22, 101, 102, 112, 1022].map((n) => ngettext("{count} frame",'
        ' "{count} frames", n).at(-1)).join(""));'
    )
    assert said_by_node("hu", program, tmp_path).strip() == "012212121"
