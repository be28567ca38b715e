"""Make sense of a field test: fit the builds, judge a gap, plan the next runs.

    python examples/read_a_field_test.py

Roll-downs only where nobody else is; on open roads the rules of the road come first.
"""

from simulator import (
    compare_builds,
    example_path,
    infer_fieldtest,
    judge_fieldtest,
    plan_runs,
)

fit = infer_fieldtest(example_path("configs/fieldtest/testday.toml"))
print(fit)
for name, cda in fit.cda_m2.items():
    crr = fit.crr[name]
    print(f"{name}: CdA {cda.value:.4f} ± {cda.sd:.4f} m², Crr {crr.value:.5f} ± {crr.sd:.5f}")

first, other = fit.builds.values()
print(repr(compare_builds(example_path("courses/steady-climb"), first, other, n_draws=400)))

verdict = judge_fieldtest(example_path("configs/fieldtest/two-climbs.toml"))
print(repr(verdict), verdict.observed_s, verdict.predicted_s)

runs = plan_runs(example_path("configs/fieldtest/runs.toml"))
for kinds, n in runs.runs_for_cda.items():
    print(f"{kinds}: {'more than are thinkable' if n is None else f'{n} runs'} for CdA")
