//! From a situation to a route.

use crate::bound::{Bound, TooWide};
use crate::coarse::by_the_worst;
use crate::explain::{obstacles, reasons};
use crate::ground::{Ground, TICKS, Ticks};
use crate::library::{Library, Step};
use crate::order::{Trace, natural, reduce};
use crate::outcome::{Lag, NoRoute, Outcome, ProductUse, Route, RouteStep, Why};
use crate::play::{cost, tighten};
use crate::search::{Found, GroundUse, Search, beam};
use crate::simulate::simulate;
use crate::situation::{Group, Situation, StepUse};
use effort::Effort;
use units::{Area, Duration};

/// Most surfaces that may differ: one bit each.
const MOST_CLASSES: usize = 128;
/// Share of the effort in which most proofs come; after that a good route is made first.
const FIRST_SHARE: f64 = 0.065;
/// A route that takes this much more than the least possible, as a share, needs no further proof.
const NEAR: f64 = 0.01;
/// Share of the effort after which a proof is given up for any good route.
const PROOF_SHARE: f64 = 0.7;
/// Widths of the beams tried one after the other when no proof was reached.
const BEAMS: [usize; 3] = [4, 32, 256];

/// The sequence of least working time that brings the situation to its goals.
///
/// Surfaces of equal kind, state and order are treated alike. Same input and effort in steps: same answer.
pub fn derive(library: &Library, situation: &Situation, effort: &Effort) -> Outcome {
    let flaws = situation.flaws(library);
    if !flaws.is_empty() {
        let reason = flaws.iter().map(ToString::to_string).collect::<Vec<_>>().join(" ");
        return none(Why::Situation, reason, "Correct what is named, then derive again.");
    }
    let ground = Ground::new(library, situation);
    if ground.classes.len() > MOST_CLASSES {
        let reason = format!("{} surfaces differ in state or order.", ground.classes.len());
        return none(Why::Effort, reason, "Put panels together that are treated alike.");
    }
    let bound = match Bound::new(&ground) {
        Ok(bound) => bound,
        Err(TooWide { class }) => {
            let group = &situation.groups[ground.classes[class].groups[0]].id;
            let reason = format!("Too many states are possible for {group}.");
            return none(
                Why::Effort,
                reason,
                "Give it fewer facts or goals, or make rules that order its steps.",
            );
        }
    };
    let finder = Finder { library, situation, ground: &ground, bound: &bound };
    let (uses, least) = match finder.find(effort) {
        Ok(found) => found,
        Err(Missing::Proved) => return unreachable(library, situation),
        Err(Missing::Unknown) if effort.cancelled() => {
            return none(Why::Cancelled, "The search was cancelled.".into(), "Start it again.");
        }
        Err(Missing::Unknown) => {
            let reason = "No route was found within the effort allowed.".to_owned();
            return none(Why::Effort, reason, "Allow more effort, or order fewer things at once.");
        }
    };
    let uses = named(library, situation, &ground, &uses);
    if let Err(breach) = simulate(library, situation, &uses) {
        let reason = format!("The simulator refuses the route that was found. {breach}");
        return none(
            Why::Refused,
            reason,
            "This is a defect of the program: keep the job file and report it.",
        );
    }
    Outcome::Found(route(library, situation, &uses, least))
}

/// A sequence, and the least that any can cost where it is not proved to be the best.
type Way = (Vec<GroundUse>, Option<Duration>);

/// There is no route, or none was found.
enum Missing {
    Proved,
    Unknown,
}

/// One search for a route: a proof if it comes soon, else a good route by the coarse one, then the proof again.
struct Finder<'a> {
    library: &'a Library,
    situation: &'a Situation,
    ground: &'a Ground,
    bound: &'a Bound,
}

impl Finder<'_> {
    fn find(&self, effort: &Effort) -> Result<Way, Missing> {
        let mut search = Search::new(self.ground, self.bound);
        let mut best: Option<Vec<GroundUse>> = None;
        let mut least = 0;
        for share in [FIRST_SHARE, PROOF_SHARE] {
            match search.best_first(share, effort) {
                Found::Best(uses) => return Ok((uses, None)),
                Found::Nothing => return Err(Missing::Proved),
                Found::Stopped(estimate) => least = estimate,
            }
            if share == FIRST_SHARE {
                best = by_the_worst(self.library, self.situation, self.ground, effort);
            }
            if best.as_ref().is_some_and(|uses| self.near(uses, least)) {
                break;
            }
        }
        if !best.as_ref().is_some_and(|uses| self.near(uses, least)) {
            best = self.hurried(effort).into_iter().chain(best).min_by_key(|uses| cost(self.ground, uses));
        }
        // Beams may miss the only way: that is no proof that there is none.
        let uses = best.ok_or(Missing::Unknown)?;
        let proved = cost(self.ground, &uses) <= least;
        Ok((uses, (!proved).then(|| Duration::minutes(least as f64 / TICKS))))
    }

    fn near(&self, uses: &[GroundUse], least: Ticks) -> bool {
        cost(self.ground, uses) as f64 <= least as f64 * (1.0 + NEAR)
    }

    /// Any good route, by beams that grow while there is effort left: the best of them.
    fn hurried(&self, effort: &Effort) -> Option<Vec<GroundUse>> {
        let found = BEAMS.iter().filter_map(|&width| match beam(self.ground, self.bound, width, effort) {
            Found::Best(mut uses) => {
                tighten(self.ground, &mut uses);
                Some(uses)
            }
            Found::Nothing | Found::Stopped(_) => None,
        });
        found.min_by_key(|uses| cost(self.ground, uses))
    }
}

fn none(why: Why, reason: String, hint: &str) -> Outcome {
    Outcome::None(NoRoute { why, reason, hint: hint.to_owned(), obstacles: Vec::new() })
}

fn unreachable(library: &Library, situation: &Situation) -> Outcome {
    let obstacles = obstacles(library, situation);
    let (reason, hint) = match obstacles.first() {
        Some(first) => {
            (first.text.clone(), "Leave that out of the order, correct the finding, or add a step for it.")
        }
        None => (
            "Each thing ordered is possible alone, and not all of them together.".to_owned(),
            "Drop one of the goals: the first to try is the one that covers or removes what another needs.",
        ),
    };
    Outcome::None(NoRoute { why: Why::Unreachable, reason, hint: hint.to_owned(), obstacles })
}

fn named(library: &Library, situation: &Situation, ground: &Ground, uses: &[GroundUse]) -> Vec<StepUse> {
    let groups = |classes: &[usize]| {
        let mut at: Vec<usize> =
            classes.iter().flat_map(|&c| ground.classes[c].groups.iter().copied()).collect();
        at.sort_unstable();
        at.into_iter().map(|g| situation.groups[g].id.clone()).collect::<Vec<_>>()
    };
    uses.iter()
        .map(|(step, classes)| StepUse::new(&library.steps[ground.steps[*step].index].id, groups(classes)))
        .collect()
}

/// Takes out uses, and surfaces out of uses, that nothing needs; a proved route has none.
pub(crate) fn shorten(library: &Library, situation: &Situation, uses: &mut Vec<StepUse>) {
    loop {
        let before = uses.clone();
        for at in (0..uses.len()).rev() {
            let taken = uses.remove(at);
            if simulate(library, situation, uses).is_ok() {
                continue;
            }
            uses.insert(at, taken);
            for group in (0..uses[at].groups.len()).rev() {
                if uses[at].groups.len() > 1 {
                    let out = uses[at].groups.remove(group);
                    if simulate(library, situation, uses).is_err() {
                        uses[at].groups.insert(group, out);
                    }
                }
            }
        }
        if *uses == before {
            return;
        }
    }
}

/// Dresses a valid sequence: natural order, links, times, products, reasons.
fn route(library: &Library, situation: &Situation, uses: &[StepUse], least: Option<Duration>) -> Route {
    let links = Trace::new(library, situation, uses).links();
    let rank = |j: usize| library.step_index.get(&uses[j].step).copied().unwrap_or(usize::MAX);
    let uses: Vec<StepUse> = natural(&links, rank).into_iter().map(|j| uses[j].clone()).collect();
    let steps = dress(library, situation, &uses);
    let cost: Duration = steps.iter().map(|s| s.minutes).sum();
    // sums in ticks and in minutes differ by rounding alone
    let close = |least: Duration| cost.as_minutes() - least.as_minutes() < 1e-3;
    match least {
        Some(least) if !close(least) => Route { steps, cost, bound: least, proven: false },
        _ => Route { steps, cost, bound: cost, proven: true },
    }
}

/// A valid sequence as it stands, with links, times, products and reasons; none when it is not valid.
pub fn describe(library: &Library, situation: &Situation, uses: &[StepUse]) -> Option<Vec<RouteStep>> {
    simulate(library, situation, uses).ok()?;
    Some(dress(library, situation, uses))
}

fn dress(library: &Library, situation: &Situation, uses: &[StepUse]) -> Vec<RouteStep> {
    let trace = Trace::new(library, situation, uses);
    let after = reduce(&trace.links());
    let mut why = reasons(library, situation, &trace, uses);
    let mut steps = Vec::new();
    for (j, (used, after)) in uses.iter().zip(after).enumerate() {
        let Some(step) = library.step(&used.step) else { continue };
        let mut lags: Vec<Lag> = after
            .iter()
            .map(|&i| Lag {
                after: i,
                least: wait(library, uses, i).map_or(Duration::ZERO, |w| w.least),
                most: None,
            })
            .collect();
        for i in (0..j).filter(|&i| trace.answer(i) == Some(j)) {
            let Some(limit) = wait(library, uses, i).filter(|w| w.most.is_some()) else { continue };
            match lags.iter_mut().find(|l| l.after == i) {
                Some(lag) => lag.most = limit.most,
                None => lags.push(Lag { after: i, least: limit.least, most: limit.most }),
            }
        }
        steps.push(route_step(situation, step, used, after, lags, std::mem::take(&mut why[j])));
    }
    steps
}

/// One use by itself: its time, products and cautions, without links to others or reasons. None when the
/// library does not have the step.
pub fn single(library: &Library, situation: &Situation, used: &StepUse) -> Option<RouteStep> {
    let step = library.step(&used.step)?;
    Some(route_step(situation, step, used, Vec::new(), Vec::new(), Vec::new()))
}

fn wait<'a>(library: &'a Library, uses: &[StepUse], i: usize) -> Option<&'a crate::library::Wait> {
    library.step(&uses[i].step).map(|s| &s.wait)
}

fn route_step(
    situation: &Situation,
    step: &Step,
    used: &StepUse,
    after: Vec<usize>,
    lags: Vec<Lag>,
    why: Vec<crate::outcome::Reason>,
) -> RouteStep {
    let on = |g: &&Group| {
        if used.groups.is_empty() { step.kinds.contains(&g.kind) } else { used.groups.contains(&g.id) }
    };
    let groups = || situation.groups.iter().filter(on);
    let area: Area = groups().map(|g| g.area).sum();
    let items: u32 = groups().map(|g| g.items).sum();
    let panels =
        if used.groups.is_empty() { Vec::new() } else { groups().flat_map(|g| g.panels.clone()).collect() };
    let products = step
        .products
        .iter()
        .map(|p| {
            let mix = p.each_use + p.per_m2 * area.as_m2() + p.per_item * f64::from(items);
            ProductUse { name: p.name.clone(), mix, concentrate: mix / (1.0 + p.dilution.water) }
        })
        .collect();
    RouteStep {
        step: step.id.clone(),
        title: step.title.clone(),
        groups: used.groups.clone(),
        panels,
        minutes: step.time(area, items),
        people: step.people,
        skill: step.skill,
        room: step.room,
        air: step.air,
        tools: step.tools.clone(),
        products,
        wait: step.wait,
        after,
        lags,
        why,
        cautions: step.cautions.clone(),
        pictures: step.pictures.clone(),
        check: step.check.clone(),
        removes_clear_coat: step.removes_clear_coat,
    }
}
