"""Ride one build over a course: time, speeds, where the work went.

    python examples/ride_one_build.py

A predicted speed is never advice to ride it.
"""

import numpy as np

from simulator import example_path, make_build, make_weather, ride_build

mine = make_build(name="Mine", mass_kg=8.4, cda_m2=0.32, crr=0.0042)
windy = make_weather(wind_kmh=20.0, wind_from_deg=270.0)
ride = ride_build(example_path("courses/windy-out-and-back"), mine, weather=windy, power_w=230.0)

print(ride)
half = np.searchsorted(ride.distances_m, ride.distances_m[-1] / 2)
print(
    f"Out {ride.times_s[half] / 60:.1f} min, back {(ride.time_s - ride.times_s[half]) / 60:.1f} min"
)
for cause, energy_j in ride.energies_j.items():
    print(f"{cause:<11}{energy_j / 1000:8.1f} kJ")
