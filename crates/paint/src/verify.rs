//! Checks a correction plan by other means than those that made it.

use crate::correction::{Advice, Correction, CorrectionPlan, PlanFlaw, PlanRequest};
use crate::flag::Flag;
use units::{Seed, Sequence};

/// Rounding allowed, µm or minutes.
const ROUNDING: f64 = 1e-6;
/// Draws of the simulation.
const DRAWS: usize = 10_000;

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
    let passes = Passes::of(correction, request);
    let (below, reached) = passes.simulate(request);
    for (what, stated, simulated) in
        [("risk", correction.risk, below), ("chance of the finish", correction.finish_chance, reached)]
    {
        let error = (stated.clamp(1.0 / DRAWS as f64, 1.0) / DRAWS as f64).sqrt();
        if (simulated - stated).abs() > 6.0 * error {
            return flaw(format!("{what} {stated:.4} is {simulated:.4} by simulation"));
        }
    }
    Ok(())
}

/// Passes with the removal of their method, µm.
struct Passes {
    /// Number, mean, how unsure the mean is, scatter.
    each: Vec<(u32, f64, f64, f64)>,
    /// Cumulative share, mean and standard deviation of the least clear coat.
    clear: Vec<(f64, f64, f64)>,
}

impl Passes {
    fn of(correction: &Correction, request: &PlanRequest) -> Self {
        let each = correction.steps.iter().filter_map(|step| {
            let r = request.methods.iter().find(|m| m.id == step.method)?.removal_per_pass;
            Some((step.passes, r.mean.as_um(), r.unsure.as_um(), r.scatter.as_um()))
        });
        let mut share = 0.0;
        let clear = request.estimate.least_clear.mixture.iter().map(|p| {
            share += p.share;
            (share, p.normal.mean.as_um(), p.normal.sd.as_um())
        });
        Self { each: each.collect(), clear: clear.collect() }
    }

    /// Shares of draws in which the thinnest place ends below the floor, and in which the marks come out.
    fn simulate(&self, request: &PlanRequest) -> (f64, f64) {
        let mut chance = Seed(0x5EED).sequence();
        let needed = (request.mark - request.wanted).as_um() - ROUNDING;
        let (mut below, mut reached) = (0, 0);
        for _ in 0..DRAWS {
            let taken = self.taken(&mut chance);
            below += usize::from(self.least(&mut chance) - taken < request.floor.as_um());
            reached += usize::from(taken >= needed);
        }
        (below as f64 / DRAWS as f64, reached as f64 / DRAWS as f64)
    }

    fn taken(&self, chance: &mut Sequence) -> f64 {
        let mut taken = 0.0;
        for (passes, mean, unsure, scatter) in &self.each {
            let mean = mean + unsure * chance.normal();
            taken += (0..*passes).map(|_| mean + scatter * chance.normal()).sum::<f64>();
        }
        taken
    }

    fn least(&self, chance: &mut Sequence) -> f64 {
        let at = chance.uniform();
        let part = self.clear.iter().find(|p| at < p.0).or(self.clear.last());
        part.map_or(0.0, |(_, mean, sd)| mean + sd * chance.normal())
    }
}
