"""Names in files reach pages, pictures, tables and the terminal as text, and nothing else."""

import base64
import csv
import importlib.util
import json
import re
import sys
from html.parser import HTMLParser
from pathlib import Path
from xml.parsers import expat

import pytest

from simulator.cli import main

HERE = Path(__file__).parent
FORMULA = re.compile(r"^[ ]*[=+\-@\t\r＝＋－＠]")
QUICK = ["compare", "ride", "verdict", "export", "try"]
SLOW = ["three", "races", "spend", "infer", "runs", "solve", "card", "bunch"]


def _load(path):
    spec = importlib.util.spec_from_file_location(path.stem, path)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


hostile = _load(HERE / "hostile_files.py")


class Tags(HTMLParser):
    """Names of elements and attributes as a browser would see them."""

    def __init__(self, text):
        super().__init__()
        self.tags, self.attributes, self.links = set(), set(), set()
        self.feed(text)
        self.close()

    def handle_starttag(self, tag, attrs):
        self.tags.add(tag)
        for name, value in attrs:
            self.attributes.add(name)
            if name in ("href", "src", "srcdoc", "action", "formaction", "xlink:href"):
                self.links.add(value)

    handle_startendtag = handle_starttag


def svg_tags(data):
    found = set()
    parser = expat.ParserCreate()
    parser.StartElementHandler = lambda name, _: found.add(name)
    parser.Parse(data, True)
    return found


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return hostile.hostile_set(tmp_path_factory.mktemp("from-a-stranger") / "set")


@pytest.mark.parametrize(
    "job", [*QUICK, *(pytest.param(name, marks=pytest.mark.slow) for name in SLOW)]
)
def test_names_do_no_harm(folder, tmp_path, capsys, job):
    before = {path for path in folder.parent.rglob("*")}
    words = hostile.commands(folder, tmp_path / "out" / "results")[job]
    with pytest.raises(SystemExit) as left:
        main.run(words)
    shown = capsys.readouterr()
    assert left.value.code == 0, shown.err
    check_terminal(shown.out)
    check_terminal(shown.err)
    # Names with "/" and ".." lead nowhere: all that was written lies in the folder asked for.
    assert {path for path in folder.parent.rglob("*")} == before
    out = tmp_path / "out" / "results" / job
    assert [path for path in tmp_path.iterdir()] == [tmp_path / "out"]
    assert [path for path in (tmp_path / "out" / "results").iterdir()] == [out]
    files = [path for path in out.rglob("*") if path.is_file()]
    assert files
    for path in files:
        assert re.fullmatch(r"[\w.-]+", path.name), path.name
        {".html": check_page, ".svg": check_svg, ".csv": check_csv, ".json": check_json}.get(
            path.suffix, lambda _: None
        )(path)


def test_commands_that_only_tell_and_draw(folder, tmp_path, capsys):
    year = (HERE.parent / "setup" / "data" / "june_afternoons.epw").read_text(encoding="utf-8")
    first, _, rest = year.partition("\n")
    cells = first.split(",")
    cells[1] = "=1" + hostile.STEER + '<evil>"../'
    (tmp_path / "a.epw").write_text(",".join(cells) + "\n" + rest, encoding="utf-8")
    course, drawn, day = str(folder / "course"), tmp_path / "c.svg", tmp_path / "day.toml"
    files = [*folder.glob("*.toml"), *(folder / "fieldtest").glob("t*.toml"), tmp_path / "a.epw"]
    for words in (
        ["course", "check", course],
        ["course", "check", "--json", course],
        ["course", "draw", course, "--out", str(drawn)],
        ["weather", str(tmp_path / "a.epw"), "--month", "6", "--hour", "14", "--out", str(day)],
        ["check", course, str(day), *map(str, files), str(folder / "course" / "zones.geojson")],
    ):
        with pytest.raises(SystemExit) as left:
            main.run(words)
        shown = capsys.readouterr()
        assert left.value.code == 0, shown.err
        check_terminal(shown.out + shown.err)
        assert "evil" in shown.out or words[1] == "draw"
    check_svg(drawn)


def check_terminal(text):
    assert "\x1b" not in text
    assert all(char.isprintable() or char == "\n" for char in text)


def check_page(path):
    text = path.read_text(encoding="utf-8")
    page = Tags(text)
    assert "evil" not in page.tags
    assert not {name for name in page.attributes if name.startswith("on") or "evil" in name}
    assert all(
        link.startswith(("data:", "#")) or (re.fullmatch(r"[\w./-]+", link) and ".." not in link)
        for link in page.links
        if link
    ), page.links
    assert "evil" in text, "the names are on the page"
    assert not re.search(r"https?://(?!www\.w3\.org|purl\.org|creativecommons)", text)
    for kind, data in re.findall(r"data:image/(svg\+xml|png);base64,([A-Za-z0-9+/=]+)", text):
        if kind != "png":
            assert "evil" not in svg_tags(base64.b64decode(data))


def check_svg(path):
    tags = svg_tags(path.read_bytes())
    assert "svg" in tags
    assert not tags & {"evil", "script", "foreignObject"}


def check_csv(path):
    text = path.read_text(encoding="utf-8")
    assert "\x00" not in text
    for delimiter in ",;":  # spreadsheets of some countries cut at the other one
        for row in csv.reader(text.splitlines(), delimiter=delimiter):
            for cell in row:
                if FORMULA.match(cell):
                    float(cell)  # a number below zero is one; anything else raises


def check_json(path):
    data = json.loads(path.read_text(encoding="utf-8"))
    assert data["schema"].startswith("buildgap/")


def test_every_command_that_writes_is_tried():
    tried = {tuple(w for w in words[:2] if not w.startswith("-"))
             for words in hostile.commands("a", "b").values()}  # fmt: skip
    names = {name for name, *_ in tried}
    # `check` and `weather` are tried above; `new` and `demo` show names of ours.
    assert names | {"new", "check", "demo", "weather"} == set(main.COMMANDS)
    assert sys.modules["simulator.cli.main"] is main
