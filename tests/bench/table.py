"""Google Benchmark's JSON on standard input to a table of p50, p99 and max over the repetitions."""
import json
import sys

runs = {}
for run in json.load(sys.stdin)["benchmarks"]:
    if run["run_type"] == "iteration":
        runs.setdefault(run["name"], []).append((run["cpu_time"], run["time_unit"]))

print(f"{'CPU time, mean of a repetition':32} {'p50':>9} {'p99':>9} {'max':>9}")
for name, times in runs.items():
    unit = times[0][1]
    values = sorted(value for value, _ in times)
    p50, p99 = (values[min(len(values) - 1, int(part * len(values)))] for part in (0.5, 0.99))
    print(f"{name:32} {p50:9.3f} {p99:9.3f} {values[-1]:9.3f} {unit}, {len(values)} repetitions")
