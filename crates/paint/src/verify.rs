//! Checks a correction plan by other means than those that made it.

use crate::correction::{Advice, Correction, CorrectionPlan, PlanFlaw, PlanRequest};
use crate::flag::Flag;
use units::{Seed, Sequence};

/// Rounding allowed, µm or minutes.
const ROUNDING: f64 = 1e-6;
/// Draws of the simulation.
const DRAWS: usize = 20_000;

impl CorrectionPlan {
    /// Checks the plan against its request: order and number of passes, marks and removal followed pass
    /// by pass, time, allowance, and the risk by simulating every pass.
    ///
    /// # Errors
    /// The first thing that does not hold.
    pub fn verify(&self, request: &PlanRequest) -> Result<(), PlanFlaw> {
        if self.panel != request.estimate.panel {
            return flaw(format!("plan for {} under a request for {}", self.panel, request.estimate.panel));
        }
        for pair in self.front.windows(2) {
            if pair[0].removal >= pair[1].removal || pair[0].remaining_mark <= pair[1].remaining_mark {
                return flaw("the front does not trade removal against marks".into());
            }
        }
        match &self.advice {
            Advice::NothingToDo => {
                if request.mark.as_um() > request.wanted.as_um() + ROUNDING {
                    return flaw("nothing to do, yet the marks are deeper than wanted".into());
                }
            }
            Advice::Correct(correction) => {
                follow(correction, request)?;
                if correction.remaining_mark.as_um() > request.wanted.as_um() + ROUNDING {
                    return flaw("the plan does not reach the wanted finish".into());
                }
            }
            Advice::LeaveIt(leave) => {
                if let Some(correction) = &leave.best_safe {
                    follow(correction, request)?;
                }
                let missed = self.front.iter().find(|p| p.safe && p.remaining_mark <= request.wanted);
                if let Some(point) = missed {
                    return flaw(format!(
                        "left, though {:.2} µm of removal would do safely",
                        point.removal.as_um()
                    ));
                }
            }
        }
        Ok(())
    }
}

fn flaw(words: String) -> Result<(), PlanFlaw> {
    Err(PlanFlaw(words))
}

/// Follows a correction pass by pass.
fn follow(correction: &Correction, request: &PlanRequest) -> Result<(), PlanFlaw> {
    if request.estimate.has(Flag::Matte) {
        return flaw("a matte panel is to be polished".into());
    }
    let (mut mark, mut removal, mut time, mut coarseness) = (request.mark.as_um(), 0.0, 0.0, f64::INFINITY);
    for step in &correction.steps {
        let Some(method) = request.methods.iter().find(|m| m.id == step.method) else {
            return flaw(format!("method `{}` is not in the table", step.method));
        };
        if step.passes == 0 || step.passes > request.max_passes {
            return flaw(format!("{} passes of `{}`", step.passes, step.method));
        }
        if method.leaves_mark.as_um() > coarseness {
            return flaw(format!("`{}` follows a finer method", step.method));
        }
        coarseness = method.leaves_mark.as_um();
        for _ in 0..step.passes {
            mark = (mark - method.removal_per_pass.mean.as_um()).max(coarseness);
            removal += method.removal_per_pass.mean.as_um();
            time += method.time_per_m2.as_minutes() * request.area.as_m2();
        }
        if (step.mark_after.as_um() - mark).abs() > ROUNDING {
            return flaw(format!(
                "mark after `{}` is {mark:.3} µm, not {:.3}",
                step.method,
                step.mark_after.as_um()
            ));
        }
    }
    let near = |a: f64, b: f64| (a - b).abs() <= ROUNDING * (1.0 + b.abs());
    if !near(correction.remaining_mark.as_um(), mark) {
        return flaw("the remaining mark does not follow from the passes".into());
    }
    if !near(correction.removal.mean.as_um(), removal) || !near(correction.time.as_minutes(), time) {
        return flaw("removal or time does not follow from the passes".into());
    }
    let allowed = request.allowance_left.as_um() * if request.near_edge { request.edge_share } else { 1.0 };
    if removal > allowed + ROUNDING {
        return flaw(format!("takes {removal:.2} µm of an allowance of {allowed:.2} µm"));
    }
    if correction.risk > request.alpha {
        return flaw(format!("risk {:.4} above the accepted {:.4}", correction.risk, request.alpha));
    }
    let simulated = simulate(correction, request);
    let error = (correction.risk.max(1.0 / DRAWS as f64) / DRAWS as f64).sqrt();
    if (simulated - correction.risk).abs() > 6.0 * error {
        return flaw(format!("risk {:.4} is {simulated:.4} by simulation", correction.risk));
    }
    Ok(())
}

/// Share of draws in which the thinnest place ends below the floor.
fn simulate(correction: &Correction, request: &PlanRequest) -> f64 {
    let mut chance = Seed(0x5EED).sequence();
    let below = (0..DRAWS).filter(|_| draw(correction, request, &mut chance) < request.floor.as_um()).count();
    below as f64 / DRAWS as f64
}

/// The least clear coat after every pass, drawn once.
fn draw(correction: &Correction, request: &PlanRequest, chance: &mut Sequence) -> f64 {
    let mixture = &request.estimate.least_clear.mixture;
    let mut at = chance.uniform();
    let part = mixture.iter().find(|p| {
        at -= p.share;
        at < 0.0
    });
    let Some(part) = part.or(mixture.last()) else { return 0.0 };
    let mut clear = part.normal.mean.as_um() + part.normal.sd.as_um() * chance.normal();
    for step in &correction.steps {
        let Some(method) = request.methods.iter().find(|m| m.id == step.method) else { continue };
        let r = &method.removal_per_pass;
        let mean = r.mean.as_um() + r.unsure.as_um() * chance.normal();
        for _ in 0..step.passes {
            clear -= mean + r.scatter.as_um() * chance.normal();
        }
    }
    clear
}
