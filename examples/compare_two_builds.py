"""Compare two builds on one course: where, why and how sure.

    python examples/compare_two_builds.py

Writes page, pictures, CSV and JSON to out/compare. A predicted speed is never advice to ride it.
"""

import numpy as np

from simulator import compare_builds, example_path, load_rider, make_build, make_weather

course = example_path("courses/steady-climb")  # or the path of your own GPX
mine = make_build(name="Mine", mass_kg=8.6, cda_m2=0.315, crr={"value": 0.0045, "sd": 0.0004})
dream = make_build(name="Dream", mass_kg=7.0, cda_m2=0.300, crr={"value": 0.0035, "sd": 0.0004})
rider = load_rider(example_path("configs/rider.toml"))
wind = make_weather(wind_kmh={"value": 12.0, "sd": 4.0}, wind_from_deg=250.0)
gap = compare_builds(course, dream, mine, rider=rider, weather=wind)

print(gap)
print({cause: round(gap_s, 1) for cause, gap_s in gap.causes_s.items()})
marks_m = np.arange(0.0, gap.distances_m[-1], 500.0)
lost_s = np.diff(np.interp(marks_m, gap.distances_m, gap.gaps_s))
print(
    f"Most is lost from km {marks_m[lost_s.argmax()] / 1000:.1f} on: {lost_s.max():.1f} s in 500 m"
)
gap.save("out/compare", overwrite=True)
