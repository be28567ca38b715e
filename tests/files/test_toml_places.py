"""Line numbers of keys: every place a key can stand in, and places where it only seems to."""

import tomllib

from hypothesis import given, settings
from hypothesis import strategies as st

from simulator.files.toml_places import key_lines


def test_plain_keys_and_comments():
    text = '# crr = 1\nname = "a"\n\ncrr = 0.004 # mass_kg = 3\nmass_kg = 8\n'
    assert key_lines(text) == {("name",): 2, ("crr",): 4, ("mass_kg",): 5}


def test_key_inside_strings_is_not_a_key():
    text = (
        'note = """\ncrr = 1\n\\"""\nmass_kg = 2"""\n'
        "other = '''\ncrr = 3\n'''\n"
        'short = "crr = 4 # [x]"\n'
        "literal = 'crr = 5'\n"
        "crr = 6\n"
    )
    tomllib.loads(text)
    lines = key_lines(text)
    assert lines[("crr",)] == 10
    assert ("mass_kg",) not in lines


def test_key_inside_arrays_and_inline_tables():
    text = "crr = [\n  1, # one\n  { crr = 2 },\n  [3,\n   4],\n]\nmass = { value = 1,\tsd = 2 }\n"
    tomllib.loads(text)
    lines = key_lines(text)
    assert lines[("crr",)] == 1
    assert lines[("crr", 0)] == 2
    assert lines[("crr", 1, "crr")] == 3
    assert lines[("crr", 2, 1)] == 5
    assert lines[("mass", "sd")] == 7


def test_sub_tables_and_dotted_keys():
    text = "a.b = 1\n[c]\nx = 1\n[c.d]\nx = 2\n['quoted.key']\n\"\\u0078\" = 3\n"
    tomllib.loads(text)
    lines = key_lines(text)
    assert lines[("a", "b")] == 1
    assert lines[("c",)] == 2
    assert lines[("c", "x")] == 3
    assert lines[("c", "d", "x")] == 5
    assert lines[("quoted.key", "x")] == 7


def test_arrays_of_tables_count_their_elements():
    text = "[[part]]\nprice = 1\n[part.fit]\nx = 1\n[[part]]\nprice = 2\n[part.fit]\nx = 2\n"
    tomllib.loads(text)
    lines = key_lines(text)
    assert lines[("part",)] == 1
    assert lines[("part", 1)] == 5
    assert lines[("part", 1, "price")] == 6
    assert lines[("part", 0, "fit", "x")] == 4
    assert lines[("part", 1, "fit", "x")] == 8


def test_header_after_its_own_sub_table():
    lines = key_lines("[a.b]\nx = 1\n[a]\ny = 2\n")
    assert lines[("a",)] == 3
    assert lines[("a", "b", "x")] == 2


def test_windows_line_ends():
    assert key_lines('a = """x\r\ny"""\r\nb = 2\r\n')[("b",)] == 3


# A random document as tables of keys, written down by the test itself, which therefore knows
# where every key stands.
KEYS = st.sampled_from(["a", "b", "crr", "mass_kg", '"x y"', "'lit.eral'", "1"])
BARE = {'"x y"': "x y", "'lit.eral'": "lit.eral"}
VALUES = st.sampled_from(
    [
        "1", "-2.5e3", "true", '"a = 1"', "'[crr]'", '"""\ncrr = 1\n"""', "'''\n\n'a''''",
        "[1, 2]", "[\n# a = 2\n1,\n]", "{ a = 1 }", "1979-05-27T07:32:00Z", '"\\"# "', "[]",
    ]
)  # fmt: skip
TABLES = st.lists(
    st.tuples(KEYS, st.dictionaries(KEYS, VALUES, max_size=4)), max_size=4, unique_by=lambda t: t[0]
)


@settings(max_examples=150, deadline=None)
@given(tables=TABLES, gaps=st.lists(st.sampled_from(["", "# a = 1", "\t# [crr]"]), max_size=3))
def test_random_documents(tables, gaps):
    text, expected = "", {}
    for name, keys in tables:
        text += "\n".join([*gaps, f"[{name}]"]) + "\n"
        for key, value in keys.items():
            path = (BARE.get(name, name), BARE.get(key, key))
            expected[path] = text.count("\n") + 1
            text += f"{key} = {value} # end\n"
    parsed = tomllib.loads(text)
    lines = key_lines(text)
    for path, line in expected.items():
        assert path[1] in parsed[path[0]]
        assert lines[path] == line
