//! Cautions that apply to a plan, in plain words.

use crate::correction::{Advice, Correction, Heat, MethodKind, PlanRequest};
use crate::flag::Flag;

/// Cautions that apply; general ones, no substitute for the maker's instructions and data sheets.
pub(crate) fn cautions(request: &PlanRequest, advice: &Advice) -> Vec<String> {
    let mut words: Vec<String> = Vec::new();
    let told = [
        Flag::NoReadingPossible,
        Flag::NoReadings,
        Flag::TooFewReadings,
        Flag::Thin,
        Flag::Refinished,
        Flag::Filled,
        Flag::Thinned,
        Flag::SingleStage,
        Flag::UnknownHistory,
    ];
    for flag in told.into_iter().filter(|f| request.estimate.has(*f)) {
        words.push(format!("{} {}", flag.words(), flag.hint()));
    }
    if request.near_edge {
        words.push(
            "Edge or body line: paint is thinner there than any gauge shows; tape it off or go by hand."
                .into(),
        );
    }
    let work = match advice {
        Advice::Correct(correction) => Some(correction),
        Advice::LeaveIt(leave) => leave.best_safe.as_ref(),
        Advice::NothingToDo => None,
    };
    if let Some(work) = work {
        words.push(
            "Test spot first: the removal per pass is a guess until it is measured on this paint.".into(),
        );
        if uses(request, work, |m| m.heat == Heat::High) {
            words.push(
                "This gets hot: keep the pad moving and check the paint by hand between passes.".into(),
            );
        }
        if uses(request, work, |m| m.kind == MethodKind::Sanding) {
            words.push("Sanding marks can go deeper than the paper's grain suggests: check under light after each grade.".into());
        }
        words.push(
            "Eye and hearing protection; cords clear of water, on a residual-current device; dust kept out of the lungs."
                .into(),
        );
    }
    words
}

fn uses(
    request: &PlanRequest,
    work: &Correction,
    wanted: impl Fn(&crate::correction::Method) -> bool,
) -> bool {
    request.methods.iter().any(|m| wanted(m) && work.steps.iter().any(|s| s.method == m.id))
}
