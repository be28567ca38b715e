"""Find the parts of a catalogue that buy the most seconds for a sum.

    python examples/spend_a_budget.py

Writes page, picture, shopping list and JSON to out/spend. Ask a mechanic whether parts go together
and which limits their makers set.
"""

from simulator import example_path, spend_budget

answer = spend_budget(
    example_path("configs/plover.toml"),
    example_path("configs/parts.toml"),
    [example_path("courses/steady-climb"), example_path("courses/windy-out-and-back")],
    [100.0, 250.0],
    target=example_path("configs/gannet.toml"),
    weights=[1.0, 2.0],
    rider=example_path("configs/rider.toml"),
    n_draws=200,
)

print(answer)
for budget, gain_s in answer.gains_s.items():
    print(f"{budget:6.0f}: {gain_s:5.1f} s with {', '.join(answer.parts[budget]) or 'nothing'}")
answer.save("out/spend", overwrite=True)
