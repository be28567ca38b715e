"""What a file is that the XML parser gives up."""

import pytest

from simulator.errors import InputError
from simulator.files import stream_xml


class Nothing:
    def start(self, name, attributes, depth):
        pass

    def end(self, name, text, depth):
        pass


def complaint(data):
    with pytest.raises(InputError) as caught:
        stream_xml(
            data,
            Nothing(),
            file="race.gpx",
            roots=("gpx",),
            expected="a GPX file",
            mend="export the track as GPX again",
        )
    return str(caught.value)


@pytest.mark.parametrize("data", [b"time_s,power_w\n0,200\n", b"\xef\xbb\xbfname = 'x'\n"])
def test_file_without_markup_is_that_of_another_option(data):
    assert complaint(data) == (
        "race.gpx: not well-formed XML, as it does not begin with `<`; expected a GPX file; "
        "is it the file of another option?"
    )


@pytest.mark.parametrize("encoding", ["utf-8-sig", "utf-16"])
@pytest.mark.parametrize(
    "text", ["<gpx>\n<trk>\n<trkseg>", "<gpx>\n<trk>\n<trkpt lat='4", "<gpx>\n<trk>\n<trk"]
)
def test_file_that_breaks_off(text, encoding):
    assert complaint(text.encode(encoding)) == (
        "race.gpx, line 3: not well-formed XML, as the file breaks off here; expected a GPX file; "
        "export the track as GPX again."
    )


def test_file_that_is_wrong_in_the_middle():
    assert complaint(b"<gpx>\n<trk></gpx>\n") == (
        "race.gpx, line 2: not well-formed XML; expected a GPX file; export the track as GPX again."
    )
