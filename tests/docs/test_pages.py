"""Every command on a page is tried word for word, in a folder that holds what the page says."""

import re
import shlex
import shutil
from itertools import pairwise
from pathlib import Path

import pytest

from simulator.cli import main

ROOT = Path(__file__).parents[2]
DOCS = ROOT / "docs"
BLOCK = re.compile(r"^```(\w+)\n(.*?)^```$", re.M | re.S)

PAGES = [
    "../README.md",
    pytest.param("compare.md", marks=pytest.mark.slow),
    pytest.param("spend.md", marks=pytest.mark.slow),
    pytest.param("pace.md", marks=pytest.mark.slow),
    pytest.param("criterium.md", marks=pytest.mark.slow),
    pytest.param("fieldtest.md", marks=pytest.mark.slow),
]


def blocks(page, language):
    text = (DOCS / page).read_text(encoding="utf-8")
    return [block for kind, block in BLOCK.findall(text) if kind == language]


def commands(page):
    return [
        shlex.split(line, comments=True)
        for block in blocks(page, "sh")
        for line in block.splitlines()
        if line.startswith("buildgap ")
    ]


@pytest.fixture
def folder(tmp_path, monkeypatch):
    """What a reader has: the shipped examples, and a track of their own."""
    for name in ("configs", "courses"):
        shutil.copytree(ROOT / name, tmp_path / name)
    shutil.copy(ROOT / "courses" / "steady-climb" / "track.gpx", tmp_path / "race.gpx")
    monkeypatch.chdir(tmp_path)
    return tmp_path


def run(arguments):
    with pytest.raises(SystemExit) as left:
        main.run(arguments)
    return left.value.code


@pytest.mark.parametrize("page", PAGES)
def test_every_command_of_a_page_runs(page, folder, capsys):
    for block in blocks(page, "toml"):
        named = re.match(r"# (\w+\.toml)\n", block)
        if named:
            (folder / named[1]).write_text(block, encoding="utf-8")
    told = commands(page)
    assert len(told) >= 3
    for command in told:
        code = run(command[1:])
        printed = capsys.readouterr()
        assert code == 0, (" ".join(command), printed.err)
        assert printed.out.strip()
        for option, value in pairwise(command):
            if option == "--out":
                assert (folder / value).exists()


@pytest.mark.slow
def test_power_that_the_reference_rider_of_the_criterium_comes_to(folder, capsys):
    text = (DOCS / "criterium.md").read_text(encoding="utf-8")
    mean_w, asked_w = re.search(r"lower: (\d+) W of the (\d+) W", text).groups()
    new, race = (next(c for c in commands("criterium.md") if c[1] == n) for n in ("new", "bunch"))
    assert race[race.index("--power") + 1] == asked_w
    assert run(new[1:]) == 0
    capsys.readouterr()
    assert run([*race[1:], "--draws", "0"]) == 0
    told = " ".join(capsys.readouterr().out.split())
    assert f"at {asked_w} W, with coasting a mean of {mean_w} W" in told
    left, given, needed = re.search(
        r"with ([\d.]+) kJ of 18 left, here on Plover, no more than (\d+) W, where the wheel takes "
        r"(\d+) W",
        " ".join(text.split()),
    ).groups()
    assert f"with {left} kJ of W′ left" in told
    assert f"takes {needed} W at times, and the rider can give no more than {given} W" in told


@pytest.mark.slow
def test_every_command_of_the_field_test_runs_beside_its_files(folder, capsys, monkeypatch):
    monkeypatch.chdir(folder / "configs" / "fieldtest")
    text = (DOCS / "fieldtest.md").read_text(encoding="utf-8")
    told = re.findall(r"`buildgap (fieldtest \w+ [^`]+)`", text)
    assert {command.split()[1] for command in told} == {"infer", "verdict", "runs"}
    for command in told:
        assert run(shlex.split(command)) == 0, capsys.readouterr().err
        assert capsys.readouterr().out.strip()


def test_the_python_of_the_page_runs(folder, capsys):
    (block,) = blocks("python.md", "python")
    exec(compile(block, "python.md", "exec"), {})
    assert "Mine gives away" in capsys.readouterr().out
    assert (folder / "out/gap/index.html").exists()


def test_functions_and_scripts_of_the_page_are_there():
    import inspect

    import simulator

    text = (DOCS / "python.md").read_text(encoding="utf-8")
    for name, arguments in re.findall(r"\| `(\w+)\(([\w, =]*)\)` \|", text):
        taken = inspect.signature(getattr(simulator, name)).parameters
        for argument in arguments.split(", "):
            assert argument.partition("=")[0] in taken, (name, argument)
    for script in re.findall(r"`(examples/\w+\.py)`", text):
        assert (ROOT / script).exists()
    for name in simulator.api.__all__:
        if name.startswith(("load_", "make_")):
            assert f"`{name}`" in text, name


@pytest.mark.parametrize(
    "page", [ROOT / "README.md", *sorted(DOCS.glob("*.md"))], ids=lambda page: page.as_posix()[-14:]
)
def test_links_and_pictures_of_a_page_are_there(page):
    text = page.read_text(encoding="utf-8")
    for target, _, anchor in (link.partition("#") for link in re.findall(r"\]\(([^)\s]+)\)", text)):
        assert not target.startswith("http"), target
        leads_to = (page.parent / target) if target else page
        assert leads_to.exists(), f"{page.name}: {target}"
        if anchor and leads_to.suffix == ".md":
            heads = re.findall(r"^#+ (.+)$", leads_to.read_text(encoding="utf-8"), re.M)
            slugs = {re.sub(r"[^\w -]", "", head.lower()).replace(" ", "-") for head in heads}
            assert anchor in slugs, f"{page.name}: #{anchor}"


@pytest.mark.parametrize(
    "page", ["compare.md", "spend.md", "pace.md", "criterium.md", "fieldtest.md", "../README.md"]
)
def test_a_page_with_speeds_carries_the_caution(page):
    text = " ".join((DOCS / page).read_text(encoding="utf-8").split())
    assert re.search(r"[Aa] predicted speed is never advice to ride it", text)


def test_the_front_page_fits_two_screens():
    """A screen of a laptop shows some fifty lines of a page of text."""
    assert (ROOT / "README.md").read_text(encoding="utf-8").count("\n") <= 100
