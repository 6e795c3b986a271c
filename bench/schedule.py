"""Schedules side by side with a reference: OR-tools CP-SAT with two workers.

Every instance is solved by both, one after the other, in one run on one machine. Time is process CPU time: ours
SECONDS on one thread, the reference SECONDS per worker. Writes docs/bench-schedule.md.

    cargo build --release -p schedule --examples
    cargo xtask bench schedule [--seconds 5] [--seed 1] [--parts projects,workshops,replans,studios,infeasible]
"""
import argparse, csv, datetime, json, os, pathlib, random, subprocess, sys, tempfile, threading, time

ROOT = pathlib.Path(__file__).resolve().parent.parent
DATA = ROOT / "crates/schedule/tests/data"
WORKERS = 2


# ---------------------------------------------------------------- the reference

def project_model(text):
    """RCPSP/max in the plain format of `Project::parse`."""
    from ortools.sat.python import cp_model
    it = map(int, text.split())
    n, k = next(it), next(it)
    caps = [next(it) for _ in range(k)]
    dur, req = [], []
    for _ in range(n):
        dur.append(next(it))
        req.append([next(it) for _ in range(k)])
    arcs = [(next(it), next(it), next(it)) for _ in range(next(it))]
    horizon = sum(dur) + sum(max(0, w) for *_, w in arcs)
    m = cp_model.CpModel()
    start = [m.new_int_var(0, horizon, "") for _ in range(n)]
    span = [m.new_fixed_size_interval_var(start[i], dur[i], "") for i in range(n)]
    for a, b, w in arcs:
        m.add(start[b] >= start[a] + w)
    for r in range(k):
        used = [i for i in range(n) if req[i][r] > 0 and dur[i] > 0]
        if used:
            m.add_cumulative([span[i] for i in used], [req[i][r] for i in used], caps[r])
    m.minimize(start[n - 1])
    return m, start


def workshop_model(text):
    """Workshops in the plain format of `parse_shop`."""
    from ortools.sat.python import cp_model
    it = map(int, text.split())
    n, arc_count, cars, horizon, day, shift, setup = [next(it) for _ in range(7)]
    caps = [next(it) for _ in range(5)]
    tasks = [[next(it) for _ in range(7)] for _ in range(n)]
    arcs = [[next(it) for _ in range(3)] for _ in range(arc_count)]
    dues = [[next(it) for _ in range(3)] for _ in range(cars)]
    m = cp_model.CpModel()
    start = []
    for t in tasks:
        days = [[d * day, d * day + shift - t[0]] for d in range(horizon // day) if shift >= t[0]]
        dom = cp_model.Domain.from_intervals(days) if t[1] > 0 else cp_model.Domain(0, horizon - t[0])
        start.append(m.new_int_var_from_domain(dom, ""))
    span = [m.new_fixed_size_interval_var(start[j], tasks[j][0], "") for j in range(n)]
    for a, b, w in arcs:
        m.add(start[b] >= start[a] + w)
    for r in range(5):
        used = [j for j in range(n) if tasks[j][1 + r] > 0]
        m.add_cumulative([span[j] for j in used], [tasks[j][1 + r] for j in used], caps[r])
    for a in range(n):
        for b in range(n):
            if tasks[a][6] == 1 and tasks[b][6] == 2:
                first = m.new_bool_var("")
                m.add(start[b] >= start[a] + tasks[a][0] + setup).only_enforce_if(first)
                m.add(start[a] >= start[b] + tasks[b][0] + setup).only_enforce_if(~first)
    makespan, cost = m.new_int_var(0, horizon, ""), []
    for f, due, w in dues:
        m.add(makespan >= start[f] + tasks[f][0])
        late = m.new_int_var(0, horizon, "")
        m.add(late >= start[f] + tasks[f][0] - due)
        cost.append(10 * w * late)
    m.minimize(sum(cost) + makespan)
    return m, start


def reference(path, seconds, seed):
    from ortools.sat.python import cp_model
    text = pathlib.Path(path).read_text()
    t0 = time.process_time()
    model, starts = (workshop_model if os.path.basename(path).startswith("shop") else project_model)(text)
    solver, done, best = cp_model.CpSolver(), threading.Event(), []

    class Trace(cp_model.CpSolverSolutionCallback):
        def on_solution_callback(self):
            best.append((int(self.objective_value), [self.value(s) for s in starts]))

    solver.parameters.num_workers = WORKERS
    solver.parameters.random_seed = seed
    solver.parameters.max_time_in_seconds = seconds * 100

    def stop_at_limit():
        while not done.wait(0.02):
            if (time.process_time() - t0) / WORKERS > seconds:
                solver.stop_search()
                return

    threading.Thread(target=stop_at_limit, daemon=True).start()
    status = solver.solve(model, Trace())
    done.set()
    cpu = round((time.process_time() - t0) / WORKERS, 2)
    # The model only bounds delays and makespan from below, so a schedule can be better than the solver says: what counts
    # is the schedule, and of all that it found the best.
    value = min((checked(path, starts) for _, starts in best[-200:]), default=None)
    return dict(status=solver.status_name(status), value=value, said=best[-1][0] if best else None, cpu=cpu)


# ---------------------------------------------------------------- the check

def fault_of_use(spans, uses, cap):
    """The first moment at which more is used than there is; use rises only where something starts."""
    for at, _ in spans:
        used = sum(u for (a, b), u in zip(spans, uses) if a <= at < b)
        if used > cap:
            return f"{used} of {cap} used at {at}"
    return None


def checked_project(text, starts):
    """Makespan of the starts, by the format alone; stops at anything that breaks the instance."""
    it = map(int, text.split())
    n, k = next(it), next(it)
    caps = [next(it) for _ in range(k)]
    rows = [[next(it) for _ in range(1 + k)] for _ in range(n)]
    arcs = [[next(it) for _ in range(3)] for _ in range(next(it))]
    assert len(starts) == n and min(starts) >= 0, "a start is missing"
    for a, b, lag in arcs:
        assert starts[b] >= starts[a] + lag, f"lag {a} {b} {lag} broken"
    spans = [(s, s + r[0]) for s, r in zip(starts, rows)]
    for r in range(k):
        fault = fault_of_use(spans, [row[1 + r] for row in rows], caps[r])
        assert fault is None, f"resource {r}: {fault}"
    return starts[n - 1]


def checked_workshop(text, starts):
    """Cost of the starts, by the format alone; stops at anything that breaks the instance."""
    it = map(int, text.split())
    n, arc_count, cars, horizon, day, shift, setup = [next(it) for _ in range(7)]
    caps = [next(it) for _ in range(5)]
    rows = [[next(it) for _ in range(7)] for _ in range(n)]
    arcs = [[next(it) for _ in range(3)] for _ in range(arc_count)]
    dues = [[next(it) for _ in range(3)] for _ in range(cars)]
    assert next(it, None) is None, "the file goes on"
    assert len(starts) == n and min(starts) >= 0, "a start is missing"
    spans = [(s, s + r[0]) for s, r in zip(starts, rows)]
    for i, (start, end) in enumerate(spans):
        assert end <= horizon, f"task {i} ends at {end}, after {horizon}"
        if rows[i][1] > 0:
            assert start % day + rows[i][0] <= shift, f"task {i} leaves its shift"
    for a, b, lag in arcs:
        assert starts[b] >= starts[a] + lag, f"lag {a} {b} {lag} broken"
    for r, name in enumerate(["people", "polishers", "film installers", "wash bay", "room"]):
        fault = fault_of_use(spans, [row[1 + r] for row in rows], caps[r])
        assert fault is None, f"{name}: {fault}"
    for a, (from_a, to_a) in enumerate(spans):
        for b, (from_b, to_b) in enumerate(spans):
            if rows[a][6] == 1 and rows[b][6] == 2:
                apart = from_b >= to_a + setup or from_a >= to_b + setup
                assert apart, f"dusty {a} and clean {b} are not {setup} apart"
    late = sum(weight * max(0, spans[task][1] - due) for task, due, weight in dues)
    return 10 * late + max(spans[task][1] for task, _, _ in dues)


def checked(path, starts):
    text = pathlib.Path(path).read_text()
    return (checked_workshop if os.path.basename(path).startswith("shop") else checked_project)(text, starts)


# ---------------------------------------------------------------- both

def call(words):
    out = subprocess.run(words, capture_output=True, text=True)
    if out.returncode:
        sys.exit(f"{' '.join(map(str, words))}: {out.stderr.strip()}")
    return out.stdout


def both(path, args):
    ours = json.loads(call([args.measure, path, str(args.seconds), str(args.seed)]).splitlines()[0])
    theirs = json.loads(call([sys.executable, __file__, "--reference", path, "--seconds", str(args.seconds),
                              "--seed", str(args.seed)]))
    # A workshop's line tells its makespan too, which is only a part of its cost.
    value = ours["cost"] if "cost" in ours else ours["makespan"]
    if value is not None:
        told = checked(path, ours["starts"])
        assert told == value, f"{path}: ours says {value}, the check {told}"
    row = dict(name=pathlib.Path(path).stem, ours=value,
               status=ours.get("status", "Optimal" if ours.get("proved") else "Feasible"),
               ours_cpu=ours.get("cpu"), verified=ours.get("verified"), first=ours.get("first"),
               ref=theirs["value"], ref_status=theirs["status"], ref_cpu=theirs["cpu"])
    print(json.dumps(row), flush=True)
    return row


SETS = [("J30", "j30"), ("J60", "j60"), ("J120", "j120"), ("Maximum lags, 10 to 30 tasks", "max_"),
        ("Maximum lags, 50 and 100 tasks", "ubo"), ("Job shops", "jsp")]


def shown(value, proved):
    return "none" if value is None else f"{value}{'*' if proved else ''}"


def projects(args, lines):
    known = list(csv.DictReader(open(DATA / "best_known.csv")))
    sums, ratios_of = [], {}
    lines += ["## Projects (makespan; `*` proved)", "", "| instance | ours | CPU s | CP-SAT | CPU s | ratio | best known | gap |",
              "| --- | --- | --- | --- | --- | --- | --- | --- |"]
    for title, prefix in SETS:
        if args.sets and prefix not in args.sets.split(","):
            continue
        ratios, gaps, proofs, proofs_ref, agree = [], [], 0, 0, True
        rows = [r for r in known if r["set"].startswith(prefix)]
        for k in rows:
            r = both(str(DATA / f"{k['name']}.txt"), args)
            no, no_ref = r["status"] == "Infeasible", r["ref_status"] == "INFEASIBLE"
            if no or no_ref:
                agree &= no == no_ref
                lines.append(f"| {r['name']} | {'impossible*' if no else shown(r['ours'], False)} | {r['ours_cpu']:.2f} | "
                             f"{'impossible*' if no_ref else shown(r['ref'], False)} | {r['ref_cpu']:.2f} | | impossible | |")
                proofs, proofs_ref = proofs + no, proofs_ref + no_ref
                continue
            ratio = r["ours"] / r["ref"] if r["ours"] and r["ref"] else None
            gap = 100 * (r["ours"] / int(k["ub"]) - 1) if r["ours"] else None
            ratios += [ratio] if ratio else []
            gaps += [gap] if gap is not None else []
            proofs += r["status"] == "Optimal"
            proofs_ref += r["ref_status"] == "OPTIMAL"
            assert r["verified"], r
            lines.append(f"| {r['name']} | {shown(r['ours'], r['status'] == 'Optimal')} | {r['ours_cpu']:.2f} | "
                         f"{shown(r['ref'], r['ref_status'] == 'OPTIMAL')} | {r['ref_cpu']:.2f} | "
                         f"{'' if ratio is None else f'{ratio:.3f}'} | {k['ub']} | {'' if gap is None else f'{gap:.1f} %'} |")
        ratios_of[prefix] = ratios
        sums.append(f"| {title} | {len(rows)} | {proofs} | {proofs_ref} | {sum(ratios) / len(ratios):.3f} | "
                    f"{sum(gaps) / len(gaps):.1f} % | {'yes' if agree else 'NO'} |")
    both_lags = ratios_of.get("max_", []) + ratios_of.get("ubo", [])
    if both_lags:
        sums.append(f"| Maximum lags, all | {len(both_lags)} | | | {sum(both_lags) / len(both_lags):.3f} | | |")
    lines += ["", "| set | instances | proved | proved by CP-SAT | mean ratio | mean gap to best known | same answer on impossible |",
              "| --- | --- | --- | --- | --- | --- | --- |", *sums, ""]


def workshops(args, lines):
    lines += ["## Workshops (cost; `*` proved)", "",
              "`shop_2` and `shop_4` are invented; the others come from `--example workshop CARS SEED`, seed = cars + 100.", "",
              "| workshop | ours | CPU s | first plan after | CP-SAT | ratio |", "| --- | --- | --- | --- | --- | --- |"]
    with tempfile.TemporaryDirectory() as folder:
        paths = [str(DATA / "shop_2.txt"), str(DATA / "shop_4.txt")]
        for cars in [2, 3, 4, 5, 6, 7, 8, 9, 10, 12]:
            path = f"{folder}/shop_{cars}_cars.txt"
            pathlib.Path(path).write_text(call([args.workshop, str(cars), str(cars + 100)]))
            paths.append(path)
        for path in paths:
            r = both(path, args)
            ratio = f"{r['ours'] / r['ref']:.2f}" if r["ours"] and r["ref"] else ""
            assert r["ours"] is None or r["verified"], r
            first = "" if r["first"] is None else f"{r['first']:.2f} s"
            lines.append(f"| {r['name']} | {shown(r['ours'], r['status'] == 'Optimal')} | {r['ours_cpu']:.2f} | {first} | "
                         f"{shown(r['ref'], r['ref_status'] == 'OPTIMAL')} | {ratio} |")
    lines.append("")


def small_project(chance):
    """A few tasks, tight limits: most of these cannot be."""
    n, cap = chance.randint(5, 8), chance.randint(2, 4)
    dur = [0] + [chance.randint(1, 6) for _ in range(n)] + [0]
    use = [0] + [chance.randint(1, cap) for _ in range(n)] + [0]
    arcs = [(0, i, 0) for i in range(1, n + 1)] + [(i, n + 1, dur[i]) for i in range(1, n + 1)]
    for i in range(1, n + 1):
        for j in range(i + 1, n + 1):
            if chance.random() < 0.35:
                lag = chance.randint(0, dur[i])
                arcs += [(i, j, lag), (j, i, -(lag + chance.randint(0, 4)))]
    rows = [f"{n + 2} 1", str(cap), *(f"{d} {u}" for d, u in zip(dur, use)), str(len(arcs)),
            *(f"{a} {b} {w}" for a, b, w in arcs)]
    return "\n".join(rows) + "\n"


def infeasible(args, lines):
    chance, ours_no, confirmed, wrong, looked = random.Random(7), 0, 0, 0, 0
    with tempfile.TemporaryDirectory() as folder:
        path = f"{folder}/small.txt"
        while ours_no < 200 and looked < 2000:
            looked += 1
            pathlib.Path(path).write_text(small_project(chance))
            ours = json.loads(call([args.measure, path, "2", "1"]).splitlines()[0])
            theirs = reference(path, 2, 1)
            no = ours["status"] == "Infeasible"
            ours_no += no
            confirmed += no and theirs["status"] == "INFEASIBLE"
            same = (theirs["status"] == "INFEASIBLE") == no and (no or ours["makespan"] == theirs["value"])
            wrong += not same
    print(json.dumps(dict(looked=looked, infeasible=ours_no, confirmed=confirmed, different=wrong)), flush=True)
    lines += ["## Impossible ones", "",
              f"Of {looked} small random projects with tight limits {ours_no} were called impossible; CP-SAT confirmed "
              f"{confirmed} of them. Answers that differed from CP-SAT's, shortest schedules included: {wrong}.", ""]


def replans(args, lines):
    """A slip of two hours in weeks of six cars: how soon there is an answer, and how much it moves."""
    lines += ["## A slip in a week of six cars", "",
              "`--example slip`: a third of the plan has passed, then a running task takes two hours more. CPU time on one "
              "thread. Moved: tasks that had not begun and did not slip, whose start, people or room differ.", "",
              "| workshop, seed | waiting | first answer | its cost | better answer | its cost | moved | share |",
              "| --- | --- | --- | --- | --- | --- | --- | --- |"]
    with tempfile.TemporaryDirectory() as folder:
        for seed in [106, 201, 202, 203, 204]:
            path = f"{folder}/shop_6_{seed}.txt"
            pathlib.Path(path).write_text(call([args.workshop, "6", str(seed)]))
            r = json.loads(call([args.slip, path, str(args.seed)]).splitlines()[-1].replace("Some(", "").replace(")", ""))
            print(json.dumps(r), flush=True)
            lines.append(f"| 6 cars, {seed} | {r['waiting']} | {r['quick_ms']:.1f} ms | {r['quick_cost']} | "
                         f"{r['better_ms']:.0f} ms | {r['better_cost']} | {r['moved']} | "
                         f"{100 * r['moved'] / max(1, r['waiting']):.0f} % |")
    lines.append("")


def studios(args, lines):
    r = json.loads(call([args.studios, "5000", "20000"]))
    print(json.dumps(r), flush=True)
    lines += ["## Random studios", "",
              f"{r['studios']} random studios with people, shifts, rooms, air, tools and lags (`--example studios 5000 20000`): "
              f"{r['planned']} planned, every plan passed the validator; {r['impossible']} proved impossible; {r['open']} "
              "left open with the effort of 20,000 steps.", ""]


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("--reference", help="only solve this file with the reference, print JSON")
    parser.add_argument("--seconds", type=float, default=5.0)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--sets", help="only these sets of projects, by the beginning of their names")
    parser.add_argument("--parts", default="projects,workshops,replans,studios,infeasible")
    target = pathlib.Path(os.environ.get("CARGO_TARGET_DIR", ROOT / "target")) / "release/examples"
    parser.add_argument("--measure", default=str(target / "measure"))
    parser.add_argument("--workshop", default=str(target / "workshop"))
    parser.add_argument("--slip", default=str(target / "slip"))
    parser.add_argument("--studios", default=str(target / "studios"))
    parser.add_argument("--out", default=str(ROOT / "docs/bench-schedule.md"))
    args = parser.parse_args()
    if args.reference:
        print(json.dumps(reference(args.reference, args.seconds, args.seed)))
        return
    import ortools
    commit = call(["git", "-C", str(ROOT), "rev-parse", "--short", "HEAD"]).strip()
    out = pathlib.Path(args.out)
    known = sections(out.read_text()) if out.exists() else {}
    stamp = (f"Measured {datetime.date.today()}, after {commit}: process CPU seconds, {args.seconds:g} s for us on one thread "
             f"(seed {args.seed}), {args.seconds:g} s per worker for OR-tools {ortools.__version__} CP-SAT with {WORKERS} workers, "
             "interleaved in one run.")
    parts = dict(projects=projects, workshops=workshops, replans=replans, studios=studios, infeasible=infeasible)
    for part in args.parts.split(","):
        lines = []
        parts[part](args, lines)
        known[lines[0]] = "\n".join([lines[0], "", stamp, *lines[1:]]).rstrip()
        out.write_text("\n\n".join([HEAD, *known.values()]) + "\n")


HEAD = """# Schedules measured

Written by `bench/schedule.py`, part by part; each part says when. A single seed says little about a single instance. Every
makespan and cost of ours and of the reference is worked out again from the starts by the script itself, which reads the
format and nothing else, and so is every rule."""


def sections(text):
    """The parts of the page by heading, in order."""
    found = {}
    for part in text.split("\n## ")[1:]:
        found["## " + part.split("\n")[0]] = ("## " + part).rstrip()
    return found


main()
