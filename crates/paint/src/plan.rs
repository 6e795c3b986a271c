//! The search for a correction plan.

use crate::caution::cautions;
use crate::correction::{
    Advice, Correction, CorrectionPlan, FrontPoint, Heat, LeaveIt, LeaveReason, Method, MethodKind,
    PlanRequest, PlanStep, Removal,
};
use crate::flag::Flag;
use crate::settings::Spread;
use stats::normal_cdf;
use units::{Duration, Thickness};

/// Most passes of one method that a request may ask for: beyond it the search only wastes time.
const MOST_PASSES: u32 = 20;
/// Most methods in a table.
const MOST_METHODS: usize = 12;
/// Rounding allowed when a thickness is compared with its limit, µm.
pub(crate) const ROUNDING: f64 = 1e-9;

/// A table of methods to start from: common practice, no source; a test spot replaces its figures.
pub fn default_methods() -> Vec<Method> {
    let method =
        |id: &str, name: &str, kind, (mean, unsure, scatter), mark: f64, minutes: f64, heat| Method {
            id: id.into(),
            name: name.into(),
            kind,
            removal_per_pass: Removal {
                mean: Thickness::um(mean),
                unsure: Thickness::um(unsure),
                scatter: Thickness::um(scatter),
            },
            leaves_mark: Thickness::um(mark),
            time_per_m2: Duration::minutes(minutes),
            heat,
        };
    vec![
        method("sand2000", "damp sanding P2000", MethodKind::Sanding, (5.0, 0.8, 0.5), 3.0, 45.0, Heat::Low),
        method("sand3000", "damp sanding P3000", MethodKind::Sanding, (3.0, 0.4, 0.3), 1.8, 35.0, Heat::Low),
        method("cut", "cutting compound", MethodKind::Cutting, (3.0, 0.4, 0.3), 0.8, 30.0, Heat::High),
        method("medium", "medium polish", MethodKind::Medium, (1.5, 0.2, 0.15), 0.35, 22.0, Heat::Medium),
        method("finish", "finishing polish", MethodKind::Finishing, (0.6, 0.16, 0.12), 0.1, 18.0, Heat::Low),
    ]
}

/// Plans the correction of a panel or a place on it: the quickest sequence of passes, coarse to fine,
/// after which the deepest mark is within the wanted finish and the risk of going below the floor
/// within `alpha`. When there is none, says why, with the finest finish that is safe.
///
/// Exact over all numbers of passes up to `max_passes` of every method.
pub fn plan(request: &PlanRequest) -> CorrectionPlan {
    let planner = Planner { request };
    let (advice, front) = planner.advise();
    CorrectionPlan {
        panel: request.estimate.panel.clone(),
        cautions: cautions(request, &advice),
        advice,
        front,
        wanted: request.wanted,
        most: request
            .estimate
            .removable
            .above_floor
            .min(Thickness::um(allowance(request)))
            .max(Thickness::ZERO),
    }
}

struct Planner<'a> {
    request: &'a PlanRequest,
}

/// A sequence of passes: how many of each method, in the order of the table sorted coarse to fine.
#[derive(Clone, Debug)]
struct Label {
    passes: Vec<u32>,
    /// Minutes.
    time: f64,
    /// Deepest mark, µm.
    mark: f64,
    /// Removal: mean µm, variance µm².
    removal: f64,
    variance: f64,
}

impl Label {
    /// Whether this one is at least as good in everything that counts. Time, mark and removal speak
    /// for themselves; more variance never lowers a risk that is below one half.
    fn dominates(&self, other: &Self) -> bool {
        self.time <= other.time
            && self.mark <= other.mark
            && self.removal <= other.removal
            && self.variance <= other.variance
    }

    fn any(&self) -> bool {
        self.passes.iter().any(|n| *n > 0)
    }
}

impl Planner<'_> {
    fn advise(&self) -> (Advice, Vec<FrontPoint>) {
        let r = self.request;
        let leave = |reason, words: String, hint: &str| {
            Advice::LeaveIt(LeaveIt { reason, words, hint: hint.to_owned(), best_safe: None })
        };
        if let Some((words, hint)) = unusable(r) {
            return (leave(LeaveReason::BadRequest, words, hint), Vec::new());
        }
        if r.estimate.has(Flag::Matte) {
            return (
                leave(LeaveReason::Matte, Flag::Matte.words().to_owned(), Flag::Matte.hint()),
                Vec::new(),
            );
        }
        if r.mark.as_um() <= r.wanted.as_um() + ROUNDING {
            return (Advice::NothingToDo, Vec::new());
        }
        let methods = coarse_to_fine(&r.methods);
        let labels = search(r, &methods);
        let front = self.front(&labels);
        let quickest = labels
            .iter()
            .filter(|l| self.reaches(l) && self.safe(l))
            .min_by(|a, b| a.time.total_cmp(&b.time).then(a.removal.total_cmp(&b.removal)));
        let advice = match quickest {
            Some(label) => Advice::Correct(self.correction(label, &methods)),
            None => Advice::LeaveIt(self.leave_it(&labels, &methods)),
        };
        (advice, front)
    }

    fn leave_it(&self, labels: &[Label], methods: &[&Method]) -> LeaveIt {
        let r = self.request;
        let best_safe = labels
            .iter()
            .filter(|l| l.any() && self.safe(l) && l.mark < r.mark.as_um() - ROUNDING)
            .min_by(|a, b| a.mark.total_cmp(&b.mark).then(a.time.total_cmp(&b.time)))
            .map(|l| self.correction(l, methods));
        let least = labels
            .iter()
            .filter(|l| self.reaches(l))
            .min_by(|a, b| a.removal.total_cmp(&b.removal).then(a.variance.total_cmp(&b.variance)));
        let wanted = r.wanted.as_um();
        let (reason, words) = match least {
            None => (
                LeaveReason::NoMethod,
                format!(
                    "No method in the table takes marks of {:.1} µm down to {wanted:.1} µm.",
                    r.mark.as_um()
                ),
            ),
            Some(l) if self.risk(l) <= r.alpha => (
                LeaveReason::Allowance,
                format!(
                    "It would take {:.1} µm; {:.1} µm of the allowance {} left here.",
                    l.removal,
                    self.allowance().max(0.0),
                    if r.near_edge { "are (edge or body line)" } else { "are" },
                ),
            ),
            Some(l) => (
                LeaveReason::Floor,
                format!(
                    "It would take {:.1} µm, with a risk of {:.1} % of less than {:.0} µm of clear coat at the thinnest place; {:.1} % is accepted.",
                    l.removal,
                    100.0 * self.risk(l),
                    r.floor.as_um(),
                    100.0 * r.alpha
                ),
            ),
        };
        let hint = match (&best_safe, reason) {
            (_, LeaveReason::NoMethod) => "Add a method to the table, or accept a coarser finish.",
            (Some(_), _) => "Offer the best safe finish shown, or more readings where it is thinnest.",
            (None, _) => {
                "Leave the marks, clean and protect; a layered (ultrasonic) reading may show more clear coat."
            }
        };
        LeaveIt { reason, words, hint: hint.to_owned(), best_safe }
    }

    fn correction(&self, label: &Label, methods: &[&Method]) -> Correction {
        let mut mark = self.request.mark.as_um();
        let mut steps = Vec::new();
        for (method, passes) in methods.iter().zip(&label.passes).filter(|(_, n)| **n > 0) {
            mark = mark_after(mark, method, *passes);
            let (removal, variance) = taken(method, *passes);
            steps.push(PlanStep {
                method: method.id.clone(),
                name: method.name.clone(),
                passes: *passes,
                removal: Spread::um(removal, variance.sqrt()),
                time: minutes(method, *passes, self.request),
                mark_after: Thickness::um(mark),
            });
        }
        Correction {
            steps,
            removal: Spread::um(label.removal, label.variance.sqrt()),
            risk: self.risk(label),
            time: Duration::minutes(label.time),
            remaining_mark: Thickness::um(label.mark),
            finish_chance: finish_chance(self.request, label.removal, label.variance.sqrt()),
        }
    }

    /// Least removal for each remaining mark, over every sequence.
    fn front(&self, labels: &[Label]) -> Vec<FrontPoint> {
        let mut sorted: Vec<&Label> = labels.iter().collect();
        sorted.sort_by(|a, b| {
            (a.removal.total_cmp(&b.removal)).then(a.mark.total_cmp(&b.mark)).then(a.time.total_cmp(&b.time))
        });
        let mut front: Vec<FrontPoint> = Vec::new();
        for label in sorted {
            if front.last().is_none_or(|p| label.mark < p.remaining_mark.as_um() - ROUNDING) {
                front.push(FrontPoint {
                    removal: Thickness::um(label.removal),
                    remaining_mark: Thickness::um(label.mark),
                    time: Duration::minutes(label.time),
                    risk: self.risk(label),
                    safe: self.safe(label),
                });
            }
        }
        front
    }

    fn reaches(&self, label: &Label) -> bool {
        label.mark <= self.request.wanted.as_um() + ROUNDING
    }

    fn safe(&self, label: &Label) -> bool {
        label.removal <= self.allowance() + ROUNDING && self.risk(label) <= self.request.alpha
    }

    fn risk(&self, label: &Label) -> f64 {
        let removal = Spread::um(label.removal, label.variance.sqrt());
        self.request.estimate.least_clear.below_after(removal, self.request.floor)
    }

    fn allowance(&self) -> f64 {
        allowance(self.request)
    }
}

/// Probability that a removal takes the marks down to the wanted finish.
fn finish_chance(r: &PlanRequest, removal: f64, sd: f64) -> f64 {
    normal_cdf((removal - (r.mark - r.wanted).as_um() + ROUNDING) / sd.max(ROUNDING))
}

/// What the allowance lets this place lose, µm.
pub(crate) fn allowance(r: &PlanRequest) -> f64 {
    r.allowance_left.as_um() * if r.near_edge { r.edge_share } else { 1.0 }
}

/// Mean and variance of what `passes` passes take: passes scatter each for itself, and are wrong
/// together where the mean is unsure.
pub(crate) fn taken(method: &Method, passes: u32) -> (f64, f64) {
    let n = f64::from(passes);
    let r = &method.removal_per_pass;
    (n * r.mean.as_um(), n * n * r.unsure.as_um().powi(2) + n * r.scatter.as_um().powi(2))
}

/// Working time of `passes` passes.
pub(crate) fn minutes(method: &Method, passes: u32, r: &PlanRequest) -> Duration {
    method.time_per_m2 * (f64::from(passes) * r.area.as_m2())
}

/// Deepest mark after `passes` passes by expected removal: old marks get shallower, and the method
/// leaves its own.
fn mark_after(mark: f64, method: &Method, passes: u32) -> f64 {
    (mark - f64::from(passes) * method.removal_per_pass.mean.as_um()).max(method.leaves_mark.as_um())
}

/// Methods from the one that leaves the deepest marks to the one that leaves the finest.
fn coarse_to_fine(methods: &[Method]) -> Vec<&Method> {
    let mut sorted: Vec<&Method> = methods.iter().collect();
    sorted.sort_by(|a, b| {
        (b.leaves_mark.total_cmp(&a.leaves_mark))
            .then(b.removal_per_pass.mean.total_cmp(&a.removal_per_pass.mean))
            .then(a.id.cmp(&b.id))
    });
    sorted
}

/// Every sequence worth keeping: dynamic programming method by method with labels instead of a grid,
/// so that nothing is rounded; a label that another dominates is dropped.
fn search(r: &PlanRequest, methods: &[&Method]) -> Vec<Label> {
    let start = Label { passes: Vec::new(), time: 0.0, mark: r.mark.as_um(), removal: 0.0, variance: 0.0 };
    let mut labels = vec![start];
    for method in methods {
        let mut next = Vec::new();
        for label in &labels {
            for passes in 0..=r.max_passes {
                let (removal, variance) = taken(method, passes);
                let mut longer = label.clone();
                longer.passes.push(passes);
                if passes > 0 {
                    longer.time += minutes(method, passes, r).as_minutes();
                    longer.mark = mark_after(label.mark, method, passes);
                    longer.removal += removal;
                    longer.variance += variance;
                }
                next.push(longer);
                // Once at the method's own mark, further passes only take more.
                if passes > 0 && mark_after(label.mark, method, passes) <= method.leaves_mark.as_um() {
                    break;
                }
            }
        }
        labels = undominated(next);
    }
    labels
}

fn undominated(mut labels: Vec<Label>) -> Vec<Label> {
    labels.sort_by(|a, b| {
        (a.removal.total_cmp(&b.removal))
            .then(a.time.total_cmp(&b.time))
            .then(a.mark.total_cmp(&b.mark))
            .then(a.variance.total_cmp(&b.variance))
    });
    let mut kept: Vec<Label> = Vec::new();
    for label in labels {
        if !kept.iter().any(|k| k.dominates(&label)) {
            kept.push(label);
        }
    }
    kept
}

/// What in a request cannot be used, and what to do about it.
fn unusable(r: &PlanRequest) -> Option<(String, &'static str)> {
    let bad = |t: Thickness| !t.is_finite() || t < Thickness::ZERO;
    if bad(r.mark) || bad(r.wanted) || bad(r.floor) || !r.allowance_left.is_finite() {
        return Some((
            "Mark, wanted finish, floor and allowance must be thicknesses of zero or more.".into(),
            "Correct the figure.",
        ));
    }
    if !(r.area.is_finite() && r.area.as_m2() > 0.0) {
        return Some(("The area to be worked must be above zero.".into(), "Enter the panel's area."));
    }
    if !(r.alpha > 0.0 && r.alpha <= 0.5) {
        return Some(("The accepted risk must lie above 0 and not above 50 %.".into(), "1 % is usual."));
    }
    if !(0.0..=1.0).contains(&r.edge_share) {
        return Some((
            "The share of the allowance at edges must lie between 0 and 1.".into(),
            "0.5 is usual.",
        ));
    }
    if r.max_passes > MOST_PASSES || r.methods.len() > MOST_METHODS {
        return Some((
            format!("At most {MOST_METHODS} methods and {MOST_PASSES} passes of each can be planned."),
            "Leave out methods that will not be used.",
        ));
    }
    r.methods.iter().find_map(|m| {
        let p = &m.removal_per_pass;
        let sound = p.mean.is_finite() && p.mean > Thickness::ZERO && !bad(p.unsure) && !bad(p.scatter);
        let timed = m.time_per_m2.is_finite() && m.time_per_m2 > Duration::ZERO;
        (!sound || !timed || bad(m.leaves_mark)).then(|| {
            (
                format!(
                    "Method `{}` needs a removal and a time above zero, and no negative spread or mark.",
                    m.id
                ),
                "Correct it in the table of methods.",
            )
        })
    })
}
