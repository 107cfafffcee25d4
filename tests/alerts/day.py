"""Every alert of the virtual kitchen's tended days, with what was true then, as a page.

    python3 tests/alerts/day.py target/debug/dekchi > deploy/alerts-of-a-day.md

The pots are those of `tests/alerts/day.rs`: whole batches, pots tended through a boil, and finished pots
through service, hold and cooling, four of each, without sensor faults. `dekchi practise` writes what
truly happened beside each; whether a cook would have wanted an alert follows from that alone, by the
rules that stand on the page.
"""

import json
import subprocess
import sys
import tempfile
from pathlib import Path

DEKCHI = str(Path(sys.argv[1]).resolve())
KINDS = ["whole", "tended", "day"]
SEEDS = range(4)
# The trade's rule: a stir every 15 to 20 min for a raw pot, every 5 to 10 for a soft one (common
# practice, no source); its near ends.
RAW_S, SOFT_S = 900.0, 300.0
# A dose of 1 has caught.
SOME_DOSE = 0.1
EEMUA_191_PER_HOUR = 6.0  # from memory


def run(*args, cwd):
    return subprocess.run([DEKCHI, *args], cwd=cwd, check=True, capture_output=True, text=True).stdout


class Truth:
    def __init__(self, path):
        self.all = json.loads(path.read_text())
        self.hours = self.all["secs"] / 3600

    def at(self, name, t_s):
        series = self.all[name]
        return series[max(0, min(int(t_s / self.all["step_s"]), len(series) - 1))]

    def last(self, what, t_s):
        return max((e["t_s"] for e in self.all["events"] if e["what"] in what and e["t_s"] <= t_s), default=None)

    def heat_fell(self, t_s):
        """Whether the true heat fell to less than half of what it was within the half hour before."""
        before = max(self.at("heat_w", t_s - back) for back in range(0, 1800, 60) if t_s >= back)
        return self.at("heat_w", t_s) < 0.5 * before

    def lid_is_on(self, t_s):
        on, off = self.last(["lid-on"], t_s), self.last(["lid-off"], t_s)
        return self.all["start"]["lid_on"] if on is None and off is None else (on or -1) > (off or -1)


def stir_due(truth, t_s):
    stirred = truth.last(["stirred", "blended"], t_s)
    since = t_s - (stirred or 0)
    soft, dose = truth.at("soft", t_s), truth.at("dose", t_s)
    gap = RAW_S + soft * (SOFT_S - RAW_S)
    return since >= gap or dose >= SOME_DOSE, f"{since / 60:.0f} min since the last stir, {100 * dose:.0f} % of what catches"


def catching(truth, t_s):
    dose = truth.at("dose", t_s)
    return dose >= SOME_DOSE, f"{100 * dose:.0f} % of what catches"


def target(truth, t_s, low_s, high_s):
    if truth.all["target_s"] is None:
        return False, "no target was reached"
    left = truth.all["target_s"] - t_s
    return low_s <= left <= high_s, f"right {abs(left) / 60:.0f} min {'later' if left >= 0 else 'before'}"


def boiling_over(truth, t_s):
    boils, lid = truth.at("pot_c", t_s) > truth.all["boil_c"] - 1.0, truth.lid_is_on(t_s)
    return boils and lid, f"{truth.at('pot_c', t_s):.0f} °C, lid {'on' if lid else 'off'}, {truth.at('heat_w', t_s) / 1000:.1f} kW"


def going_cold(truth, t_s):
    return truth.heat_fell(t_s), f"heat {truth.at('heat_w', t_s):.0f} W, {truth.at('pot_c', t_s):.0f} °C"


def too_cool(truth, t_s):
    pot_c = truth.at("pot_c", t_s)
    return pot_c < 63.5, f"{pot_c:.1f} °C"


def too_slow(truth, t_s):
    later = [truth.at("pot_c", t_s + s) for s in range(0, 5400, 60)]
    return later[-1] > 8.0 and max(later) < 66.0, f"{later[0]:.0f} °C, {later[-1]:.0f} °C an hour and a half later"


RULES = {
    "stir-due": (stir_due, "nobody had stirred for 15 min (raw) down to 5 min (soft), or a tenth of what catches had gathered"),
    "catching": (catching, "a tenth of what catches had gathered"),
    "target-near": (lambda t, s: target(t, s, 0, 1200), "it was right within the next 20 min"),
    "target-reached": (lambda t, s: target(t, s, -600, 300), "it had become right less than 10 min ago, or did within 5"),
    "boiling-over": (boiling_over, "it boiled under the lid"),
    "going-cold": (going_cold, "the heat had fallen to less than half within half an hour"),
    "too-cool-to-hold": (too_cool, "it was below 63 °C"),
    "cooling-too-slow": (too_slow, "it was not heated again and not at 8 °C an hour and a half later"),
}


def clock(t_s):
    return f"{int(t_s // 3600)}:{int(t_s % 3600 // 60):02d}"


def batch(directory, kind, seed):
    """The alerts raised over one batch, and how long it took."""
    name = f"{kind}-{seed}"
    run("practise", "--kind", kind, "--seed", str(seed), "--load-hz", "2", "--no-faults", "-o", ".", cwd=directory)
    told = run("replay", f"{name}.csv", "--kitchen", f"{name}.kitchen.toml", "--batch", f"{name}.batch.toml",
               "--every", "3600", cwd=directory)
    truth = Truth(directory / f"{name}.truth.json")
    lines = map(json.loads, told.splitlines())
    raised = [line for line in lines if line["kind"] == "alert" and line["state"] == "raised"]
    rows = []
    for line in raised:
        judge, _ = RULES.get(line["alert"], (lambda *_: (False, "no sensor failed"), ""))
        wanted, true = judge(truth, line["t_s"])
        rows.append((clock(line["t_s"]), line["alert"], line["why"], true, wanted))
    return name, truth.hours, rows


def main():
    with tempfile.TemporaryDirectory() as room:
        batches = [batch(Path(room), kind, seed) for kind in KINDS for seed in SEEDS]
    hours = sum(hours for _, hours, _ in batches)
    rows = [row for _, _, of_one in batches for row in of_one]
    wanted = sum(row[4] for row in rows)
    print("# The alerts of the virtual kitchen's tended days\n")
    print("Made by `python3 tests/alerts/day.py target/debug/dekchi > deploy/alerts-of-a-day.md`.\n")
    print(f"{len(rows)} alerts in {hours:.1f} h, {len(rows) / hours:.2f} an hour "
          f"(EEMUA 191, from memory: {EEMUA_191_PER_HOUR:.0f} an hour at most). "
          f"By what was true then a cook would have wanted {wanted} of them.\n")
    print("| kind | hours | alerts | an hour | worst pot, an hour | wanted |\n|---|---:|---:|---:|---:|---:|")
    for kind in KINDS:
        some = [b for b in batches if b[0].startswith(kind)]
        h, n = sum(b[1] for b in some), sum(len(b[2]) for b in some)
        worst = max(len(b[2]) / b[1] for b in some)
        print(f"| {kind} | {h:.1f} | {n} | {n / h:.1f} | {worst:.1f} | {sum(r[4] for b in some for r in b[2])} |")
    print("\nAn alert counts as wanted where:\n")
    for name, (_, rule) in RULES.items():
        print(f"- {name}: {rule};")
    print("- any other: never, since no sensor failed.\n")
    for name, hours, of_one in batches:
        print(f"## {name}, {hours:.1f} h\n")
        if not of_one:
            print("No alert.\n")
            continue
        print("| at | alert | what was said | what was true | wanted |\n|---|---|---|---|---|")
        for at, alert, why, true, good in of_one:
            print(f"| {at} | {alert} | {why} | {true} | {'yes' if good else 'no'} |")
        print()


main()
