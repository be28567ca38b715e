"""Say what it costs to hold the wheel in a bunch race, on each of two builds.

    python examples/survive_a_criterium.py

Writes page, picture and JSON to out/bunch. Riding in a bunch is a craft of its own: learn it with a
club before you race. A predicted speed is never advice to ride it.
"""

from simulator import example_path, load_course, make_bunch, ride_bunch

answer = ride_bunch(
    load_course(example_path("courses/town-criterium"), laps=5),
    [example_path("configs/gannet.toml"), example_path("configs/plover.toml")],
    rider=example_path("configs/rider.toml"),
    bunch=make_bunch(place=6, form_sd_pct=3.0),
    power_w=400.0,
    n_draws=200,
)

print(answer)
for name, mean_w in answer.mean_w.items():
    peak_w = answer.needed_w(name).max()
    print(f"{name}: {mean_w:.0f} W on average, {peak_w:.0f} W at most")
answer.save("out/bunch", overwrite=True)
