//! The search against brute force on small random step sets: same cost, or both find nothing.
//!
//! The brute force is Dijkstra over full states with every choice of surfaces for every step. It shares
//! nothing with the crate but the text of the library.
#![allow(clippy::unwrap_used)]

use effort::Effort;
use route::{Group, Library, Outcome, Room, RoomKind, Situation, derive, simulate};
use std::collections::{BTreeSet, BinaryHeap, HashMap};
use std::fmt::Write;
use units::{Area, Seed, Sequence};

const SURFACE: [u8; 4] = [1, 1, 2, 3];
const CAR: usize = 2;
const KINDS: [&str; 2] = ["ka", "kb"];

/// A need or effect on cell `fact` of a group (0..4), the car (4..6) or the room (6).
#[derive(Clone, Debug)]
struct Touch {
    fact: usize,
    /// For a need: least and most. For an effect: the level, or `None` for one grade down.
    least: u8,
    most: u8,
    down: bool,
    every: bool,
}

#[derive(Clone, Debug)]
struct Step {
    surface: bool,
    kinds: Vec<usize>,
    needs: Vec<Touch>,
    effects: Vec<Touch>,
    fixed: u64,
    per_m2: u64,
}

struct World {
    steps: Vec<Step>,
    /// Kind, square meters.
    groups: Vec<(usize, u64)>,
    start: Vec<u8>,
    /// Cell, least, most.
    goals: Vec<(usize, u8, u8)>,
    per_group: Vec<Vec<Touch>>,
}

fn top(fact: usize) -> u8 {
    SURFACE.get(fact).copied().unwrap_or(1)
}

fn name(fact: usize) -> String {
    match fact {
        0..4 => format!("s{fact}"),
        4 | 5 => format!("c{fact}"),
        _ => "r6".to_owned(),
    }
}

fn need(s: &mut Sequence, facts: &[usize], every: bool) -> Touch {
    let fact = facts[s.below(facts.len())];
    let top = top(fact);
    let (least, most) = match s.below(3) {
        0 => (0, 0),
        1 => (1, top),
        _ if top > 1 => (0, 1),
        _ => (0, 0),
    };
    Touch { fact, least, most, down: false, every: every && fact < 4 }
}

fn world(s: &mut Sequence) -> World {
    let all: Vec<usize> = (0..7).collect();
    let mut steps = Vec::new();
    for _ in 0..8 + s.below(7) {
        let surface = s.below(4) > 0;
        let mut needs = Vec::new();
        for _ in 0..s.below(4) {
            let every = !surface || s.below(4) == 0;
            let touch = need(s, &all, every);
            if !needs.iter().any(|n: &Touch| n.fact == touch.fact) {
                needs.push(touch);
            }
        }
        let mut effects: Vec<Touch> = Vec::new();
        for _ in 0..1 + s.below(3) {
            let fact = if surface && effects.is_empty() { s.below(4) } else { s.below(7) };
            if effects.iter().any(|e| e.fact == fact) {
                continue;
            }
            let level = if s.below(2) == 0 { 0 } else { 1 + s.below(usize::from(top(fact))) as u8 };
            let down = top(fact) > 1 && s.below(3) == 0;
            effects.push(Touch { fact, least: level, most: level, down, every: !surface && fact < 4 });
        }
        let kinds = if s.below(2) == 0 { vec![0, 1] } else { vec![s.below(2)] };
        steps.push(Step {
            surface,
            kinds,
            needs,
            effects,
            fixed: 1 + s.below(30) as u64,
            per_m2: s.below(9) as u64,
        });
    }
    let count = 1 + s.below(3);
    let groups: Vec<(usize, u64)> = (0..count).map(|_| (s.below(2), 1 + s.below(4) as u64)).collect();
    let mut start = vec![0; 4 * count + 3];
    for g in 0..count {
        for f in 0..4 {
            start[4 * g + f] = if s.below(2) == 0 { s.below(usize::from(top(f)) + 1) as u8 } else { 0 };
        }
    }
    for cell in start.iter_mut().skip(4 * count) {
        *cell = u8::from(s.below(4) == 0);
    }
    let mut goals = Vec::new();
    let mut per_group = Vec::new();
    for g in 0..count {
        let mut wants: Vec<Touch> = Vec::new();
        for _ in 0..12 {
            let want = need(s, &[0, 1, 2, 3], false);
            let open = !(want.least..=want.most).contains(&start[4 * g + want.fact]);
            if wants.len() < 2 && open && !wants.iter().any(|w| w.fact == want.fact) {
                wants.push(want);
            }
        }
        if wants.is_empty() {
            wants.push(need(s, &[0, 1, 2, 3], false));
        }
        goals.extend(wants.iter().map(|w| (4 * g + w.fact, w.least, w.most)));
        per_group.push(wants);
    }
    if s.below(2) == 0 {
        goals.push((4 * count, 1, 1));
    }
    World { steps, groups, start, goals, per_group }
}

impl World {
    fn text(&self) -> String {
        let mut t = String::new();
        for kind in KINDS {
            writeln!(t, "[[kind]]\nid = '{kind}'\nname = '{kind}'").unwrap();
        }
        for fact in 0..7 {
            let level = ["surface", "surface", "surface", "surface", "car", "car", "room"][fact];
            let grades = ["[]", "[]", "['a', 'b']", "['a', 'b', 'c']", "[]", "[]", "[]"][fact];
            writeln!(t, "[[fact]]\nid = '{0}'\nlevel = '{level}'\nname = '{0}'\ntext = 'x'\ngrades = {grades}\nfound = true\nstays = true", name(fact)).unwrap();
        }
        let told = |n: &Touch| {
            let at = format!("{}{}", name(n.fact), if n.every { "@every" } else { "" });
            match (n.least, n.most) {
                (0, 0) => format!("{{ absent = '{at}', harm = 'x' }}"),
                (0, _) => {
                    let (id, rest) = at
                        .split_once('@')
                        .map_or((at.as_str(), String::new()), |(i, r)| (i, format!("@{r}")));
                    format!("{{ at_most = '{id}=1{rest}', harm = 'x' }}")
                }
                _ => format!("{{ present = '{at}', harm = 'x' }}"),
            }
        };
        for (i, step) in self.steps.iter().enumerate() {
            let list = |keep: &dyn Fn(&Touch) -> bool, level: bool| {
                let of = step.effects.iter().filter(|e| keep(e)).map(|e| {
                    let grade =
                        if level && top(e.fact) > 1 { format!("={}", e.least) } else { String::new() };
                    format!("'{}{grade}{}'", name(e.fact), if e.every { "@every" } else { "" })
                });
                of.collect::<Vec<_>>().join(", ")
            };
            let kinds = step.kinds.iter().map(|k| format!("'{}'", KINDS[*k])).collect::<Vec<_>>().join(", ");
            let needs = step.needs.iter().map(told).collect::<Vec<_>>().join(", ");
            writeln!(
                t,
                "[[step]]\nid = 'step{i}'\ntitle = 'x'\nlevel = '{}'\nkinds = [{kinds}]\nneeds = [{needs}]\nclears = [{}]\nlowers = [{}]\nadds = [{}]\nminutes = {}\nminutes_per_m2 = {}\nskill = 'wash'\nroom = 'any'\nair = 'neutral'",
                if step.surface { "surface" } else { "car" },
                list(&|e| !e.down && e.least == 0, false),
                list(&|e| e.down, false),
                list(&|e| !e.down && e.least > 0, true),
                step.fixed,
                step.per_m2
            )
            .unwrap();
        }
        for (g, wants) in self.per_group.iter().enumerate() {
            let wants = wants.iter().map(told).collect::<Vec<_>>().join(", ");
            writeln!(t, "[[goal]]\nid = 'goal{g}'\ntitle = 'x'\nlevel = 'surface'\nwants = [{wants}]")
                .unwrap();
        }
        writeln!(
            t,
            "[[goal]]\nid = 'car'\ntitle = 'x'\nlevel = 'car'\nwants = [{{ present = 'c4', harm = 'x' }}]"
        )
        .unwrap();
        t
    }

    fn situation(&self) -> Situation {
        let count = self.groups.len();
        let mut s = Situation::new();
        for (g, (kind, m2)) in self.groups.iter().enumerate() {
            let mut group = Group::new(&format!("g{g}"), KINDS[*kind], Area::m2(*m2 as f64));
            for f in 0..4 {
                group = group.fact(&name(f), self.start[4 * g + f]);
            }
            s = s.group(group).want(&format!("g{g}"), &format!("goal{g}"));
        }
        for f in 0..CAR {
            s = s.car_fact(&name(4 + f), self.start[4 * count + f]);
        }
        if self.goals.iter().any(|g| g.0 == 4 * count) {
            s = s.want_car("car");
        }
        s.room(Room::new("hall", [RoomKind::Any]).fact("r6", self.start[4 * count + 2]))
    }

    fn cells(&self, touch: &Touch, chosen: &[usize]) -> Vec<usize> {
        let count = self.groups.len();
        match touch.fact {
            f @ 0..4 if touch.every => (0..count).map(|g| 4 * g + f).collect(),
            f @ 0..4 => chosen.iter().map(|g| 4 * g + f).collect(),
            f => vec![4 * count + f - 4],
        }
    }

    fn brute_force(&self) -> Option<u64> {
        let count = self.groups.len();
        let pack = |state: &[u8]| state.iter().fold(0u64, |word, level| word << 2 | u64::from(*level));
        let mut best: HashMap<u64, u64> = HashMap::from([(pack(&self.start), 0)]);
        let mut heap = BinaryHeap::from([(std::cmp::Reverse(0u64), self.start.clone())]);
        while let Some((std::cmp::Reverse(cost), state)) = heap.pop() {
            if best[&pack(&state)] < cost {
                continue;
            }
            if self.goals.iter().all(|&(c, least, most)| (least..=most).contains(&state[c])) {
                return Some(cost);
            }
            for step in &self.steps {
                let subsets = if step.surface { 1..1usize << count } else { 0..1 };
                for set in subsets {
                    let chosen: Vec<usize> = (0..count).filter(|g| set >> g & 1 == 1).collect();
                    if chosen.iter().any(|g| !step.kinds.contains(&self.groups[*g].0)) {
                        continue;
                    }
                    let holds = |n: &Touch| {
                        self.cells(n, &chosen).iter().all(|c| (n.least..=n.most).contains(&state[*c]))
                    };
                    if !step.needs.iter().all(holds) {
                        continue;
                    }
                    let mut after = state.clone();
                    for e in &step.effects {
                        for c in self.cells(e, &chosen) {
                            after[c] = if e.down { after[c].saturating_sub(1) } else { e.least };
                        }
                    }
                    let counted: u64 = if step.surface {
                        chosen.iter().map(|g| self.groups[*g].1).sum()
                    } else {
                        self.groups.iter().filter(|g| step.kinds.contains(&g.0)).map(|g| g.1).sum()
                    };
                    let cost = cost + step.fixed + step.per_m2 * counted;
                    if best.get(&pack(&after)).is_none_or(|known| cost < *known) {
                        best.insert(pack(&after), cost);
                        heap.push((std::cmp::Reverse(cost), after));
                    }
                }
            }
        }
        None
    }
}

#[test]
fn least_cost_is_that_of_brute_force_on_more_than_a_thousand_small_sets() {
    agree(400);
}

#[test]
#[ignore = "takes 16 s; the test above is its first part"]
fn least_cost_is_that_of_brute_force_on_a_thousand_sets_that_have_a_route() {
    agree(1000);
}

fn agree(wanted: usize) {
    let mut costs = BTreeSet::new();
    let (mut solved, mut hopeless, mut steps, mut long) = (0, 0, 0, 0);
    for n in 0.. {
        if solved == wanted {
            break;
        }
        let world = world(&mut Seed(20).part(n).sequence());
        let text = world.text();
        let library = Library::parse(&text, "random").unwrap_or_else(|f| panic!("set {n}: {f:?}\n{text}"));
        let situation = world.situation();
        let expected = world.brute_force();
        match (derive(&library, &situation, &Effort::steps(1_000_000)), expected) {
            (Outcome::Found(route), Some(cost)) => {
                assert!(route.proven, "set {n}");
                let found = route.cost.as_minutes();
                let uses = route.uses();
                assert!(
                    (found - cost as f64).abs() < 1e-6,
                    "set {n}: {found} not {cost}\n{text}\n{situation:#?}\n{uses:?}"
                );
                simulate(&library, &situation, &uses).unwrap_or_else(|b| panic!("set {n}: {b}"));
                for i in 0..uses.len() {
                    let mut without = uses.clone();
                    without.remove(i);
                    assert!(
                        simulate(&library, &situation, &without).is_err(),
                        "set {n}: step {i} is not needed"
                    );
                }
                solved += 1;
                steps += uses.len();
                long += usize::from(uses.len() >= 5);
                costs.insert(cost);
            }
            (Outcome::None(_), None) => hopeless += 1,
            (outcome, expected) => panic!("set {n}: {expected:?} and {outcome:#?}\n{text}\n{situation:#?}"),
        }
    }
    // the sets are worth something: some without a route, many with several steps, different costs
    println!(
        "{solved} solved in {steps} steps, {long} of five or more; {hopeless} without a route; {} costs",
        costs.len()
    );
    assert!(solved + hopeless > 1000 && 2 * steps > 5 * solved && 10 * long > solved && costs.len() > 100);
}
