"""Pages of made-up comparisons, opened in a real browser."""

import importlib.util
from pathlib import Path

import pytest

HERE = Path(__file__).parent


def _load(path):
    spec = importlib.util.spec_from_file_location(path.stem, path)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="session")
def browser():
    """One headless Chromium for all tests here."""
    module = _load(HERE / "browser.py")
    program = module.find_chromium()
    if program is None:
        pytest.skip(f"no Chromium on this machine (looked for {', '.join(module.NAMES)})")
    with module.Browser(program) as running:
        yield running


@pytest.fixture(scope="session")
def made():
    return _load(HERE.parent / "report" / "made_comparison.py")


@pytest.fixture(scope="session")
def views(made):
    from dataclasses import replace

    from simulator.report import make_gap_view

    nasty = made.made_comparison(
        replace(made.hilly_course(name="<script>window.hacked=1</script>"), source="</script><b>"),
        first=replace(made.GANNET, name="<img src=x onerror='window.hacked=1'>"),
        other=replace(made.PLOVER, name="</script><svg onload=window.hacked=1>" + "W" * 80),
    )
    comparisons = {
        "hilly": made.made_comparison(made.hilly_course()),
        "lapped": made.made_comparison(made.lapped_course()),
        "plain": made.made_comparison(made.plain_course(), sd_s=None),
        "unsure": made.made_comparison(sd_s=60.0),
        "nasty": nasty,
    }
    return {name: make_gap_view(comparison) for name, comparison in comparisons.items()}


@pytest.fixture(scope="session")
def pages(made, views, tmp_path_factory):
    """Path of the page of each view, and of a line-up."""
    from dataclasses import replace

    from simulator.report import gap_page, lineup_page, make_lineup_view

    folder = tmp_path_factory.mktemp("pages")
    paths = {}
    for name, view in views.items():
        paths[name] = folder / f"{name}.html"
        paths[name].write_text(gap_page(view), encoding="utf-8")
    line_up = make_lineup_view(
        [
            made.made_comparison(),
            made.made_comparison(other=replace(made.PLOVER, name="</td><b>" + "W" * 70)),
        ],
        folders=["2-plover", "3-b"],
    )
    paths["line-up"] = folder / "line-up.html"
    paths["line-up"].write_text(lineup_page(line_up), encoding="utf-8")
    return paths
