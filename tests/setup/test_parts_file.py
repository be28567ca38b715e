"""The file of a catalogue: every key in the example, complaints that name the line."""

import re
import tomllib
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from simulator.errors import InputError, InputErrors
from simulator.files import check_toml
from simulator.setup import PartsFile, load_parts
from simulator.setup.parts_file import PartEntry, SlotEntry, catalogue_of

CONFIGS = Path(__file__).parents[2] / "configs"
EXAMPLE = (CONFIGS / "parts.toml").read_text(encoding="utf-8")

SMALL = """\
currency = "crowns"
bike_provides = ["rim brakes"]
[[slot]]
name = "wheels"
now = "old ones"
[[slot]]
name = "tyres"
now = "old ones"
mass_g = 500
[[part]]
name = "one"
slot = "wheels"
price = 10
"""


def test_example_is_sound_and_lively():
    catalogue = load_parts(CONFIGS / "parts.toml")
    assert catalogue.source == "made up for the examples"
    assert len(catalogue.parts) > 20
    assert any(len(part.slots) > 1 for part in catalogue.parts)
    assert any(part.price == part.labour == 0.0 for part in catalogue.parts)
    assert all(sum(slot.name in p.slots for p in catalogue.parts) for slot in catalogue.slots)


def test_every_key_stands_in_the_example():
    written = tomllib.loads(EXAMPLE)
    assert set(PartsFile.model_fields) == set(written)
    assert set(SlotEntry.model_fields) == set().union(*written["slot"])
    shown = set().union(*written["part"])
    # Keys that replace each other: an example of one of each pair is enough.
    pairs = {f"{name}_change" for name in shown} | {n.removesuffix("_change") for n in shown}
    assert set(PartEntry.model_fields) - shown <= pairs
    assert set().union(*(p["yaw"] for p in written["part"] if "yaw" in p)) == {
        "angles_deg", "cda_changes_m2", "sd", "convention"
    }  # fmt: skip


@pytest.mark.parametrize(
    ("old", "new", "complaint"),
    [
        ('slot = "wheels"\n', 'slot = "whels"\n',
         "line 12, key `part[1].slot`: there is no slot whels; .*did you mean `wheels`"),
        ('slot = "wheels"\n', "", "key `part[1].slot`: found neither `slot` nor `slots`"),
        ('slot = "wheels"\n', 'slot = "wheels"\nslots = ["tyres"]\n', "found both"),
        ('slot = "wheels"\n', 'slots = ["wheels", "wheels"]\n', "a slot is named twice"),
        ("price = 10\n", "", "the key is missing; expected the price"),
        ("price = 10\n", "price = -1\n", "found -1; expected a number from 0 to 1,000,000"),
        ("price = 10\n", "price = 10\nmass_g = 400\n",
         "line 14, key `part[1].mass_g`: the slot wheels does not say what it weighs now"),
        ("price = 10\n", "price = 10\nmass_g = 400\nmass_change_g = -3\n",
         "found `mass_g` and `mass_change_g`"),
        ("price = 10\n", "price = 10\ncrr = 0.004\ncrr_change = -0.0001\n",
         "found `crr` and `crr_change`"),
        ("price = 10\n", 'price = 10\nneeds = ["rim brake"]\n',
         "line 14, key `part[1].needs`: nothing provides “rim brake”; .*did you mean `rim brakes`"),
        ("price = 10\n", 'price = 10\nexcludes = ["wings"]\n', "nothing provides “wings”"),
        ("price = 10\n", 'price = 10\nprovides = ["x"]\nexcludes = ["x"]\n',
         "the part provides what it excludes"),
        ("price = 10\n", "price = 10\ncda_chnge_m2 = -0.001\n", "did you mean `cda_change_m2`"),
        ("price = 10\n", "price = 10\ncda_change_m2 = 0.3\n",
         "found 0.3; expected a number from -0.2 to 0.2"),
        ("price = 10\n", "price = 10\n[part.yaw]\nangles_deg = [0, 10]\ncda_changes_m2 = [0]\n",
         "found 1 changes for 2 angles"),
        ("price = 10\n", "price = 10\n[part.yaw]\nangles_deg = [5, 10]\ncda_changes_m2 = [0, 0]\n",
         "the angles do not grow from 0"),
        ('name = "tyres"\n', 'name = "wheels"\n', "there are two of the name wheels"),
        ("price = 10\n",
         'price = 9\ncrr = 0.004\n[[part]]\nname = "two"\nslot = "tyres"\nprice = 1\ncrr = 0.003\n',
         "key `part[2].crr`: one, in another slot, says what `crr` is too; .*`crr_change`"),
        ('mass_g = 500\n', 'mass_g = 500\nneeds = ["rim brakes"]\nexcludes = ["rim brakes"]\n',
         "old ones: not with “rim brakes” (the bike)"),
    ],
)  # fmt: skip
def test_complaints(tmp_path, old, new, complaint):
    assert old in SMALL
    path = tmp_path / "parts.toml"
    path.write_text(SMALL.replace(old, new, 1), encoding="utf-8")
    with pytest.raises(InputError) as caught:
        load_parts(path)
    pattern = re.escape(complaint).replace(re.escape(".*"), ".*").replace(r"1e\.06", "1e.06")
    assert re.search(pattern, str(caught.value)), str(caught.value)
    assert "\n" not in str(caught.value) or isinstance(caught.value, InputErrors)


def test_small_file_is_sound():
    written = check_toml(SMALL, PartsFile, file="parts.toml")
    assert written.part[0].all_slots == ("wheels",)


def test_tunnel_figures_are_put_into_the_form_of_builds(tmp_path):
    text = SMALL + (
        "[part.yaw]\nangles_deg = [0, 60]\ncda_changes_m2 = [-0.001, -0.001]\n"
        'convention = "tunnel_axial"\n'
    )
    path = tmp_path / "parts.toml"
    path.write_text(text, encoding="utf-8")
    # Divided by cos 60° = 0.5.
    assert load_parts(path).parts[0].cda_changes_m2 == pytest.approx((-0.001, -0.002))


@settings(max_examples=120, deadline=None)
@given(
    at=st.floats(0.0, 1.0),
    length=st.integers(0, 40),
    junk=st.text(alphabet=st.sampled_from('ab_= \n\t[]{}",.#-+0123456789'), max_size=12),
)
def test_a_piece_overwritten_by_junk_loads_or_is_complained_about(at, length, junk):
    start = round(at * len(EXAMPLE))
    text = EXAMPLE[:start] + junk + EXAMPLE[start + length :]
    try:
        catalogue_of(check_toml(text, PartsFile, file="parts.toml"))
    except InputError as error:
        for problem in error.problems if isinstance(error, InputErrors) else (error,):
            assert str(problem).startswith("parts.toml")
            assert "\n" not in str(problem)
