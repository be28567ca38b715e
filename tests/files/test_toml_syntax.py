"""A TOML file that cannot be read at all: the line, and a remedy where one is plain."""

import pytest

from simulator.errors import InputError
from simulator.files.toml_text import parse_toml


@pytest.mark.parametrize(
    ("text", "line", "hint"),
    [
        ("name = Plover", 1, "put text in quotation marks"),
        ("\nmass_kg = 8,6", 2, "write decimal numbers with a point"),
        ("is_wet = True", 1, "write `true` or `false`"),
        ("is_wet = no # dry", 1, "write `true` or `false`"),
        ("mass_kg = 8.6 kg", 1, "its unit stands in the key"),
        ("a = 1\na = 2", 2, "does the key stand twice?"),
        ("mass 8", 1, "write `key = value`"),
        ('name = "open', 1, "close the quotation mark"),
        ("cda_m2 = { value = 0,322, sd = 0.01 }", 1, "write decimal numbers with a point"),
        ("cda_m2 = { value = 0.322, sd = 0,01 }", 1, "write decimal numbers with a point"),
        ("mass_kg = 1.899,00", 1, "write decimal numbers with a point"),
        ("mass_kg = 1,899.00 # grams", 1, "nothing between thousands"),
        ("price = €899", 1, "write the number alone"),
        ("mass_kg = ~8.6", 1, "write the number alone"),
        ("crr = .0045", 1, "write a zero before the point, as in 0.0045"),
        ("crr = { value = -.0045 }", 1, "write a zero before the point, as in 0.0045"),
        ("mass_kg = 8.6 +- 0.1", 1, "write { value = 8.6, sd = 0.1 }"),
        ("mass_kg = 8.6 ± 0.1 # scales", 1, "write { value = 8.6, sd = 0.1 }"),
        ("name = “Plover”", 1, "write straight quotation marks"),
        ("x = [1,\n2\n", 2, ""),
    ],
)
def test_syntax_error_has_its_line_and_a_remedy(text, line, hint):
    with pytest.raises(InputError) as caught:
        parse_toml(text, file="bike.toml")
    error = caught.value
    assert error.place == f"line {line}"
    assert "not valid TOML" in str(error)
    assert hint in str(error)
