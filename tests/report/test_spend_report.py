"""Words, tables, picture and page of a budget: said rightly in every case."""

import re
from dataclasses import dataclass

import pytest

from simulator.report import draw_spend, picture_bytes, spend_page, spend_text, spend_words
from simulator.report.spend_view import (
    BudgetView,
    BuyView,
    GainView,
    RaceView,
    RivalView,
    SetView,
    SingleView,
    SpendView,
)
from simulator.report.views import NoteView


@dataclass(frozen=True)
class Lead:
    gain_s: float
    half_s: float | None
    chance: float | None
    is_measurable: bool


def gain(gain_s, half_s=3.0, *, is_measurable=True):
    low, high = (None, None) if half_s is None else (gain_s - half_s, gain_s + half_s)
    chance = None if half_s is None else 0.93
    return GainView(gain_s=gain_s, half_s=half_s, low_s=low, high_s=high, chance=chance,
                    is_measurable=is_measurable)  # fmt: skip


def budget_view(budget, names, gain_s, *, half_s=3.0):
    buys = tuple(
        BuyView(name=name, slots=("s",), instead_of="old", price=50.0 * i, labour=0.0, resale=0.0,
                net=50.0 * i, loss_s=None if i == 1 else 2.0 + i, note="mind")
        for i, name in enumerate(names)
    )  # fmt: skip
    return BudgetView(
        budget=budget,
        sentence="With it: gains.",
        more=("The one that gives least is x.",),
        price=sum(buy.net for buy in buys),
        gain=gain(gain_s, half_s),
        share=gain_s / 80.0,
        race_gains_s=(gain_s - 1.0, gain_s + 1.0),
        buys=buys,
        least=names[0] if names else None,
        rival=RivalView(chosen=SetView(names=("x",), price=1.0, gain_s=1.0), lead=gain(0.4)),
        leaner=None,
        next_buy=None,
    )


@pytest.fixture
def view():
    longest = "A part with a very long name that would break a table " * 2
    budgets = (
        budget_view(0.0, ["rag"], 10.0),
        budget_view(500.0, ["rag", "tyres", longest[:60]], 30.0),
        budget_view(2500.0, ["tyres", "wheels", "suit <i>", "$x$"], 60.0),
    )
    names = ["rag", "tyres", longest[:60], "wheels", "suit <i>", "$x$"]
    return SpendView(
        sentence="For 2,500 crowns, Plover gains 60 s ± 3 s on Gull Hill.",
        build="Plover",
        target="Gannet",
        gap_s=80.0,
        currency="crowns",
        source="made up",
        facts="6 parts for 6 slots · 64 sets ridden · 2 races",
        n_sets=64,
        n_raw=64,
        n_parts=6,
        n_draws=1000,
        seed=1,
        races=tuple(
            RaceView(name=name, weight=0.5, distance_m=40e3, ascent_m=300.0, pacing="240 W",
                     weather="calm", base_s=3600.0, target_s=3520.0)
            for name in ("Gull Hill", "Harbour")
        ),
        budgets=budgets,
        singles=tuple(
            SingleView(name=name, slots=("s",), price=50.0, gain=gain(3.0 + i), reason="")
            for i, name in enumerate(names)
        ),
        frontier=tuple(
            SetView(names=(name,), price=40.0 * i, gain_s=10.0 * i) for i, name in enumerate(names)
        ),
        notes=(NoteView(level="caution", text=spend_words.UNKNOWN_TO_A_CATALOGUE),),
    )  # fmt: skip


def headline(**changes):
    said = {
        "build": "Plover", "target": "Gannet", "races": ["Gull Hill"], "currency": "crowns",
        "budget": 1500.0, "names": ["bar"], "gain_s": 41.2, "half_s": 9.0, "is_measurable": True,
        "share": 0.62,
    }  # fmt: skip
    return spend_words.headline(**(said | changes))


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({}, "For 1,500 crowns, Plover gains 41 s ± 9 s on Gull Hill, 62 % of the gap to Gannet."),
        ({"races": ["a", "b", "c"]},
         "For 1,500 crowns, Plover gains 41 s ± 9 s a race (mean of three), "
         "62 % of the gap to Gannet."),
        ({"races": ["a", "b"], "share": None, "mean": spend_words.kind_of_mean([0.75, 0.25])},
         "For 1,500 crowns, Plover gains 41 s ± 9 s a race (weighted mean of two)."),
        ({"share": None, "target": None},
         "For 1,500 crowns, Plover gains 41 s ± 9 s on Gull Hill."),
        ({"share": 1.0}, "For 1,500 crowns, Plover gains 41 s ± 9 s on Gull Hill, "
         "the whole gap to Gannet."),
        ({"share": 1.3}, "For 1,500 crowns, Plover gains 41 s ± 9 s on Gull Hill, "
         "more than the whole gap to Gannet."),
        ({"names": [], "gain_s": 0.0, "half_s": None},
         "Nothing in the catalogue makes Plover faster on Gull Hill for 1,500 crowns."),
        ({"gain_s": 1.2, "half_s": 3.4, "is_measurable": False},
         "Nothing that 1,500 crowns buys helps Plover by more than its doubt: the best set gains "
         "1 s ± 3 s on Gull Hill. Keep the money."),
        ({"gain_s": 1.2, "half_s": 3.4, "is_measurable": False, "budget": 0.0},
         "Nothing that is free helps Plover by more than its doubt: the best set gains 1 s ± 3 s "
         "on Gull Hill."),
        ({"gain_s": 5.2, "half_s": 9.4, "is_measurable": False,
          "surer": spend_words.sure_clause(["rag", "bar"], Lead(3.0, 1.0, 1.0, True))},
         "For 1,500 crowns, the best set for Plover gains 5 s ± 9 s on Gull Hill, within its "
         "doubt; for sure, rag and bar together gain 3.0 s ± 1.0 s."),
        ({"budget": 0.0}, "For nothing spent, Plover gains 41 s ± 9 s on Gull Hill, "
         "62 % of the gap to Gannet."),
    ],
)  # fmt: skip
def test_headline(changes, sentence):
    assert headline(**changes) == sentence


def test_rival_says_when_it_cannot_be_told():
    told = spend_words.rival_sentence(["a", "b"], ["a", "c"], Lead(3.0, 1.0, 0.99, True))
    assert told == (
        "The set that comes next, with c instead of b, is 3.0 s ± 1.0 s slower: the best set "
        "beats it in 99 % of the draws."
    )
    close = spend_words.rival_sentence(["a", "b"], ["a"], Lead(0.01, 1.0, 0.51, False))
    assert close == (
        "The set that comes next, without b, is less than 0.05 s slower on paper: the best set "
        "beats it in 51 % of the draws, no measurable difference."
    )
    plain = spend_words.rival_sentence(["a"], ["a", "c", "d"], Lead(2.0, None, None, True))
    assert plain == "The set that comes next, with c and d as well, is 2.0 s slower."


def test_least_is_told_for_what_it_is():
    loss = Lead(3.0, 1.0, 0.99, True)
    assert spend_words.least_sentence("bar", loss, is_of_paid=True) == (
        "Of what costs money, the one that gives least is bar: the set loses 3.0 s ± 1.0 s "
        "without it."
    )
    assert spend_words.least_sentence("bar", loss, is_of_paid=False).startswith("The one that")
    told = spend_words.least_sentence("bar", loss, is_of_paid=True, price=160, currency="shells")
    assert told.endswith("loses 3.0 s ± 1.0 s without it and costs 160 shells less.")


def test_parts_in_no_set_are_named():
    assert spend_words.unused_sentence(["a"]).endswith("that cost too much: a.")
    many = spend_words.unused_sentence([f"p{i}" for i in range(9)])
    assert many.endswith("p0, p1, p2, p3, p4, p5 and 3 more.")


def test_money_shows_cents_only_where_there_are_any():
    assert [spend_words.money(x) for x in (1500.0, 12.5, -60.0)] == ["1,500", "12.50", "−60"]


def test_terminal_stays_within_80_columns(view):
    text = spend_text(view)
    assert max(len(line) for line in text.splitlines()) <= 80
    assert view.sentence in text
    assert text.count("\n") > 20
    assert spend_text(view, encoding="ascii").isascii()


def test_picture_labels_the_sets(view):
    figure = draw_spend(view)
    (axes,) = figure.axes
    labels = [text.get_text() for text in axes.texts]
    assert "Gannet as it stands" in labels
    assert {"1", "2", "3"} <= set(labels)
    key = " ".join(text.get_text() for text in figure.texts)
    for name in ("rag", "tyres", "wheels", "suit <i>", "$x$"):
        assert name in key
    assert "2  500 crowns, 150 spent: 30 s" in key
    assert axes.get_xlabel() == "Price of the set, crowns"
    assert axes.get_ylabel() == "Seconds gained a race, mean of 2 races"
    assert picture_bytes(figure, "png").startswith(b"\x89PNG")
    step = axes.lines[0]
    assert list(step.get_ydata())[:-1] == [each.gain_s for each in view.frontier]


def test_picture_with_nothing_to_buy(view):
    from dataclasses import replace

    bare = budget_view(100.0, [], 0.0, half_s=None)
    alone = SetView(names=(), price=0.0, gain_s=0.0)
    nothing = replace(view, budgets=(bare,), frontier=(alone,), gap_s=None, target=None)
    assert picture_bytes(draw_spend(nothing), "png").startswith(b"\x89PNG")
    assert "Budgets" in spend_page(nothing)


def test_page_escapes_and_loads_nothing(view):
    page = spend_page(view)
    assert "suit <i>" not in page
    assert "suit &lt;i&gt;" in page
    assert not re.search(r"""(?:src|href)\s*=\s*["']?(?:https?:)?//""", page)
    assert "default-src 'none'" in page
    for i in range(1, 4):
        assert f'href="#budget-{i}"' in page
        assert f'id="budget-{i}"' in page
    tops = [float(x) for x in re.findall(r'class="pick"[^>]*top:([\d.]+)%', page)]
    assert tops == sorted(tops, reverse=True)
    assert all(0.0 <= top <= 100.0 for top in tops)
    assert len(page) < 150_000


def test_phones_lose_no_note(view):
    """Narrow tables drop labour, resale and notes: a list beneath says them."""
    page = spend_page(view)
    assert '<ul class="on-phone">' in page
    assert "<li>tyres: mind.</li>" in page
    dear = BuyView(name="bar", slots=("s",), instead_of="old", price=70.0, labour=60.0, resale=10.0,
                   net=120.0, loss_s=1.0, note="try one")  # fmt: skip
    assert spend_words.buy_details(dear) == "labour 60, resale 10; try one"
