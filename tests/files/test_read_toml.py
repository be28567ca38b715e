"""Every way in which a TOML file can be wrong gives one clear sentence with its place."""

from typing import Annotated, Literal

import pydantic
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import Field, model_validator

from simulator.errors import InputError, InputErrors
from simulator.files import (
    StrictSchema,
    UncertainField,
    check_toml,
    in_range,
    load_toml,
    problem,
    read_toml,
)


class Wheel(StrictSchema):
    depth_mm: float = Field(description="the depth of the rim")
    kind: Literal["road", "track"] = "road"


class Bike(StrictSchema):
    name: str = "bike"
    mass_kg: Annotated[UncertainField, in_range(0.0, 60.0, open_low=True, why="bike alone")] = (
        Field(description="the mass of the bike, in kg")
    )
    speed_kmh: float = 30.0
    speed_mps: float = 8.0
    n_gears: int = 11
    is_wet: bool = False
    shelter: str | float = "open"
    angles_deg: Annotated[tuple[float, ...], in_range(0.0, 90.0)] = ()
    front: Wheel | None = None
    wheels: tuple[Wheel, ...] = ()

    @model_validator(mode="after")
    def _fast(self):
        if self.speed_mps == 99.0:
            raise problem(
                key="speed_mps", found="found 99", expected="less", mend="slow down a little"
            )
        return self


def complaint(text):
    with pytest.raises(InputError) as caught:
        check_toml(text, Bike, file="bike.toml")
    assert "\n" not in str(caught.value) or isinstance(caught.value, InputErrors)
    return caught.value


def test_sound_file(tmp_path):
    path = tmp_path / "bike.toml"
    path.write_text(
        'name = "Plover"\nmass_kg = { value = 8, sd = 0.1 }\nspeed_kmh = 31\nangles_deg = [0, 5]\n'
        "[front]\ndepth_mm = 50\n[[wheels]]\ndepth_mm = 30\n",
        encoding="utf-8",
    )
    bike = read_toml(path, Bike)
    assert bike.mass_kg.value == 8.0
    assert isinstance(bike.mass_kg.value, float)
    assert bike.mass_kg.sd == 0.1
    assert bike.speed_kmh == 31.0
    assert bike.angles_deg == (0.0, 5.0)
    assert bike.wheels[0].depth_mm == 30.0
    with pytest.raises(pydantic.ValidationError):
        bike.name = "Gannet"


def test_bare_number_is_exact():
    assert check_toml("mass_kg = 8", Bike, file="x").mass_kg.sd == 0.0


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        (
            "mass_kg = 8\nspeed_khm = 30",
            "bike.toml, line 2, key `speed_khm`: the key is not known; did you mean `speed_kmh`?",
        ),
        (
            "mass_kg = 8\nspeed = 30",
            "bike.toml, line 2, key `speed`: the key is not known; the unit belongs in the key: "
            "did you mean `speed_kmh` or `speed_mps`?",
        ),
        (
            "mass_kg = 8\nSpeed_kmh = 30",
            "bike.toml, line 2, key `Speed_kmh`: the key is not known; "
            "capitals count: did you mean `speed_kmh`?",
        ),
        (
            "mass_lb = 18\nmass_kg = 8",
            "bike.toml, line 1, key `mass_lb`: the key is not known; mind the unit: "
            "did you mean `mass_kg`?",
        ),
        (
            "mass_kg = 8\ndepth_mm = 50",
            "bike.toml, line 2, key `depth_mm`: the key is not known; "
            "it belongs in the table [front].",
        ),
        (
            "mass_kg = 8\n[front]\ndepth_mm = 5\nis_wet = true",
            "bike.toml, line 4, key `front.is_wet`: the key is not known; it belongs above the "
            "first table, before any line in square brackets.",
        ),
        (
            "is_wet = true",
            "bike.toml, key `mass_kg`: the key is missing; expected the mass of the bike, in kg; "
            "add `mass_kg = …`.",
        ),
        (
            "mass_kg = 8\n[[wheels]]\ndepth_mm = 1\n\n[[wheels]]\n",
            "bike.toml, line 5, key `wheels[2].depth_mm`: the key is missing; "
            "expected the depth of the rim; add `depth_mm = …`.",
        ),
        (
            "mass_kg = -8.6",
            "bike.toml, line 1, key `mass_kg`: found -8.6; "
            "expected a number above 0 and at most 60 (bike alone).",
        ),
        ("mass_kg = 0", "bike.toml, line 1, key `mass_kg`: found 0; expected a number above 0 "
         "and at most 60 (bike alone)."),
        (
            "mass_kg = { value = 8, sd = -1 }",
            "bike.toml, line 1, key `mass_kg.sd`: found -1; expected a number at least 0.",
        ),
        (
            "mass_kg = { value = 8, sd = 40 }",
            "bike.toml, line 1, key `mass_kg`: found the standard uncertainty 40; expected at "
            "most 30, half the range of the value; "
            "give it in the unit of the value, not in percent.",
        ),
        (
            "mass_kg = { sd = 1 }",
            "bike.toml, line 1, key `mass_kg.value`: the key is missing; "
            "expected the value itself; add `value = …`.",
        ),
        (
            'mass_kg = "8"',
            'bike.toml, line 1, key `mass_kg`: found the text "8"; '
            "expected a number, or { value = 1.0, sd = 0.1 }; "
            "write it without quotation marks, with a point for decimals.",
        ),
        (
            'mass_kg = "8,6 kg"',
            'bike.toml, line 1, key `mass_kg`: found the text "8,6 kg"; '
            "expected a number, or { value = 1.0, sd = 0.1 }; "
            "write the number alone, without quotation marks and unit.",
        ),
        (
            'mass_kg = 8\nspeed_kmh = "30 €"',
            'bike.toml, line 2, key `speed_kmh`: found the text "30 €"; expected a number; '
            "write the number alone, without quotation marks and unit.",
        ),
        (
            'mass_kg = "light"',
            'bike.toml, line 1, key `mass_kg`: found the text "light"; '
            "expected a number, or { value = 1.0, sd = 0.1 }.",
        ),
        (
            "mass_kg = true",
            "bike.toml, line 1, key `mass_kg`: found `true`; "
            "expected a number, or { value = 1.0, sd = 0.1 }.",
        ),
        (
            "mass_kg = 8\nspeed_kmh = true",
            "bike.toml, line 2, key `speed_kmh`: found `true`; expected a number.",
        ),
        (
            'mass_kg = 8\nspeed_kmh = "30,5"',
            'bike.toml, line 2, key `speed_kmh`: found the text "30,5"; expected a number; '
            "write it without quotation marks, with a point for decimals.",
        ),
        (
            "mass_kg = 8\nspeed_kmh = nan",
            "bike.toml, line 2, key `speed_kmh`: found nan; expected a finite number.",
        ),
        (
            "mass_kg = inf",
            "bike.toml, line 1, key `mass_kg`: found inf; expected a finite number.",
        ),
        (
            "mass_kg = { value = 8, sd = inf }",
            "bike.toml, line 1, key `mass_kg.sd`: found inf; expected a finite number.",
        ),
        (
            "mass_kg = 8\nspeed_kmh = 1979-05-27",
            "bike.toml, line 2, key `speed_kmh`: found the date or time 1979-05-27; "
            "expected a number.",
        ),
        (
            "mass_kg = 8\nn_gears = 11.5",
            "bike.toml, line 2, key `n_gears`: found 11.5; expected a whole number.",
        ),
        (
            "mass_kg = 8\nname = 5",
            "bike.toml, line 2, key `name`: found 5; "
            "expected text in quotation marks.",
        ),
        (
            "mass_kg = 8\nis_wet = 1",
            "bike.toml, line 2, key `is_wet`: found 1; expected `true` or `false`.",
        ),
        (
            "mass_kg = 8\nangles_deg = [\n0,\n'five']",
            'bike.toml, line 4, key `angles_deg[2]`: found the text "five"; expected a number.',
        ),
        (
            "mass_kg = 8\nangles_deg = [0, -5]",
            "bike.toml, line 2, key `angles_deg`: found -5; expected a number from 0 to 90.",
        ),
        (
            "mass_kg = 8\nangles_deg = 5",
            "bike.toml, line 2, key `angles_deg`: found 5; expected a list, as in [1, 2, 3].",
        ),
        (
            "mass_kg = 8\nfront = 5",
            "bike.toml, line 2, key `front`: found 5; expected a table of keys.",
        ),
        (
            "mass_kg = 8\n[front]\ndepth_mm = 5\nkind = 'raod'",
            'bike.toml, line 4, key `front.kind`: found the text "raod"; '
            'expected one of "road" or "track"; did you mean `road`?',
        ),
        (
            "mass_kg = 8\nshelter = true",
            "bike.toml, line 2, key `shelter`: found `true`; "
            "expected text in quotation marks or a number.",
        ),
        (
            "mass_kg = 8\nspeed_mps = 99",
            "bike.toml, line 2, key `speed_mps`: found 99; expected less; slow down a little.",
        ),
    ],
)  # fmt: skip
def test_sentence(text, sentence):
    assert str(complaint(text)) == sentence


def test_number_of_400_digits_is_told_shortly():
    error = complaint("mass_kg = 8\nspeed_kmh = 1" + "0" * 400)
    assert "a number too large to use" in str(error)
    assert len(str(error)) < 150


def test_number_of_5000_digits():
    # Python refuses to read whole numbers of more than 4300 digits; the line limit comes first.
    assert "the line has" in str(complaint("mass_kg = 1" + "0" * 5000))


def test_all_problems_at_once_in_the_order_of_the_file():
    error = complaint("is_wet = 1\nspeed = 3\n\n[front]\nkind = 'x'\n")
    assert isinstance(error, InputErrors)
    assert error.exit_code == 2
    places = [problem.place for problem in error.problems]
    assert places == [
        "line 1, key `is_wet`",
        "line 2, key `speed`",
        "line 4, key `front.depth_mm`",
        "line 5, key `front.kind`",
        "key `mass_kg`",
    ]
    assert str(error).count("\n") == len(places) - 1


def test_missing_file_and_a_similar_one(tmp_path):
    (tmp_path / "plover.toml").write_text("a = 1", encoding="utf-8")
    with pytest.raises(InputError, match=r"no such file; did you mean `.*plover\.toml`\?"):
        read_toml(tmp_path / "plovr.toml", Bike)
    with pytest.raises(InputError, match="its folder does not exist either"):
        read_toml(tmp_path / "nowhere" / "plover.toml", Bike)


def test_folder_instead_of_a_file(tmp_path):
    with pytest.raises(InputError, match="this is a folder; expected a TOML file"):
        read_toml(tmp_path, Bike)


def test_file_name_that_no_system_takes(tmp_path):
    with pytest.raises(InputError, match="cannot be read"):
        read_toml(tmp_path / "a\x00b", Bike)
    with pytest.raises(InputError, match="cannot be read"):
        read_toml(tmp_path / ("a" * 5000), Bike)


@pytest.mark.parametrize("data", [b"", b" \n\t\r\n"])
def test_empty_file(tmp_path, data):
    path = tmp_path / "empty.toml"
    path.write_bytes(data)
    with pytest.raises(InputError, match="the file is empty"):
        read_toml(path, Bike)


@pytest.mark.parametrize("data", [b"<gpx>" + 3_000 * b"x", b"\x0e\x10\x00\x00.FIT\xff"])
def test_file_of_another_option(tmp_path, data):
    path = tmp_path / "ride"
    path.write_bytes(data)
    with pytest.raises(InputError, match=r"expected a TOML file.*of another option\?"):
        read_toml(path, Bike)


def test_encodings(tmp_path):
    path = tmp_path / "bike.toml"
    path.write_bytes('\nmass_kg = 8\nname = "Möwe"'.encode("latin-1"))
    with pytest.raises(InputError, match=r"line 3: a character is not stored as UTF-8"):
        read_toml(path, Bike)
    path.write_bytes("mass_kg = 8".encode("utf-16"))
    with pytest.raises(InputError, match="stored as UTF-16"):
        read_toml(path, Bike)
    path.write_bytes(b"\xef\xbb\xbf" + 'mass_kg = 8\r\nname = "Möwe"\r\n'.encode())
    assert read_toml(path, Bike).name == "Möwe"


def test_too_large(tmp_path):
    path = tmp_path / "large.toml"
    path.write_bytes(b"# remark\n" * 200_000)
    with pytest.raises(InputError, match="larger than 1 MB"):
        read_toml(path, Bike)


@pytest.mark.parametrize(
    "text",
    [
        "x = " + "[" * 1900,
        "x = " + "[\n" * 3000 + "]\n" * 3000,
        "x = " + "[\n" * 100 + "]\n" * 100,
        "x = " + "{a=" * 600,
        ".".join("a" * 60) + " = 1",
        "[" + ".".join("a" * 60) + "]",
        "x = " + "[" * 30 + "]" * 30,
    ],
)
def test_huge_nesting_is_refused_quickly(text):
    assert "deep" in str(complaint(text)) or "not valid TOML" in str(complaint(text))


def test_long_line_is_refused_with_its_number():
    assert complaint("\n" + ".".join("a" * 100_000) + " = 1").place == "line 2"
    assert check_toml("mass_kg = 8 #" + "x" * 1987, Bike, file="x").mass_kg.value == 8.0
    assert "has 2001 characters" in str(complaint("mass_kg = 8 #" + "x" * 1988))


def test_standard_uncertainty_of_half_the_range_is_the_most():
    text = "mass_kg = {{ value = 8, sd = {} }}"
    assert check_toml(text.format(30), Bike, file="x").mass_kg.sd == 30.0
    assert "at most 30, half" in str(complaint(text.format(30.001)))


def test_load_without_schema(tmp_path):
    path = tmp_path / "any.toml"
    path.write_text("a = 1", encoding="utf-8")
    assert load_toml(path) == {"a": 1}


def test_control_characters_never_reach_the_message():
    error = complaint('mass_kg = 8\n"\\u001b[31m" = 3')
    assert "\x1b" not in str(error)


KEYS = [*Bike.model_fields, "speed", "x", "front.depth_mm", "wheels", '""']
SCALARS = ["1", "-1", "1.5", "nan", "inf", "-inf", "true", "'t'", "[]", "[[1]]", "{}",
           "{ value = 1 }", "1979-05-27", "07:32:00", "[{ depth_mm = 1 }]", "0x10", "1e400",
           "9" * 30]  # fmt: skip


@settings(max_examples=200, deadline=None)
@given(st.lists(st.tuples(st.sampled_from(KEYS), st.sampled_from(SCALARS)), max_size=6))
def test_any_mix_of_keys_and_values_loads_or_complains(pairs):
    text = "\n".join(f"{key} = {value}" for key, value in pairs)
    try:
        bike = check_toml(text, Bike, file="x.toml")
    except InputError as error:
        assert str(error).startswith("x.toml")  # noqa: PT017
        assert str(error).isprintable() or isinstance(error, InputErrors)  # noqa: PT017
    else:
        assert 0.0 < bike.mass_kg.value <= 60.0


@settings(max_examples=300, deadline=None)
@given(st.text(alphabet=st.characters(exclude_categories=("Cs",)), max_size=60))
def test_any_text_loads_or_complains(text):
    try:
        check_toml("mass_kg = 8\n" + text, Bike, file="x.toml")
    except InputError as error:
        assert str(error).startswith("x.toml")  # noqa: PT017


def test_errors_carry_their_parts():
    error = complaint("mass_kg = -1")
    assert (error.file, error.place, error.found) == (
        "bike.toml", "line 1, key `mass_kg`", "found -1",
    )  # fmt: skip
