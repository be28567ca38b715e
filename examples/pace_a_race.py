"""Find the quickest power for a course, and what it is worth beside simple rules.

    python examples/pace_a_race.py

Writes page, picture, pacing file and cards to out/pace. Hard efforts are not for everybody: when in
doubt about your health, see a doctor before you ride to a plan.
"""

from simulator import example_path, make_pacing, make_rider, solve_powerplan, try_pacings

course = example_path("courses/steady-climb")
build = example_path("configs/plover.toml")
me = make_rider(mass_kg=70.0, power_w=240.0, cp_w=260.0, wprime_kj=16.0, max_power_w=800.0)

even = make_pacing("Even", {"kind": "constant", "power_w": 240.0})
harder = make_pacing(
    "Harder up",
    {"kind": "grade", "add_w_per_pct": 6.0, "above_pct": 3.0},
    {"kind": "target", "mean_w": 240.0},
)
print(try_pacings(course, build, [even, harder], rider=me))

plan = solve_powerplan(course, build, rider=me, changes=4)
print(plan)
print(f"{plan.time_s:.0f} s, {plan.saved_s:.1f} s quicker than the best constant power")
plan.save("out/pace", overwrite=True)
