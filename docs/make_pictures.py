"""Make the pictures of the pages: the same commands as told there, drawn with the same figures.

Run from anywhere: ``python docs/make_pictures.py``.
"""

from __future__ import annotations

import io
from pathlib import Path

from PIL import Image

from simulator import (
    compare_builds,
    example_path,
    infer_fieldtest,
    load_bunch,
    ride_bunch,
    solve_powerplan,
    spend_budget,
)
from simulator.files import write_bytes
from simulator.report import picture_bytes

HERE = Path(__file__).parent
PLOVER, GANNET = example_path("configs/plover.toml"), example_path("configs/gannet.toml")
RIDER, WEATHER = example_path("configs/rider.toml"), example_path("configs/weather.toml")


def main() -> None:
    """Draw every picture."""
    answers = {
        "three-hills": compare_builds(
            example_path("courses/three-hills"), GANNET, PLOVER, rider=RIDER, weather=WEATHER
        ),
        "spend": spend_budget(
            PLOVER,
            example_path("configs/parts.toml"),
            example_path("courses/steady-climb"),
            1500.0,
            target=GANNET,
            rider=RIDER,
            weather=WEATHER,
        ),
        "pace": solve_powerplan(
            example_path("courses/windy-out-and-back"),
            PLOVER,
            rider=RIDER,
            weather=WEATHER,
            changes=6,
        ),
        "criterium": ride_bunch(
            example_path("courses/town-criterium"),
            [GANNET, PLOVER],
            rider=RIDER,
            weather=WEATHER,
            bunch=load_bunch(example_path("configs/bunch.toml")),
            power_w=560.0,
        ),
        "fieldtest": infer_fieldtest(example_path("configs/fieldtest/testday.toml")),
    }
    for name, answer in answers.items():
        write_bytes(
            HERE / f"{name}.png", lighter(picture_bytes(answer.figure(), "png")), overwrite=True
        )


def lighter(png: bytes) -> bytes:
    """The same picture in at most 256 colours: a quarter of the size, for the repository."""
    stream = io.BytesIO()
    picture = Image.open(io.BytesIO(png)).convert("RGB")
    picture.quantize(256, dither=Image.Dither.NONE).save(stream, format="png", optimize=True)
    return stream.getvalue()


if __name__ == "__main__":
    main()
