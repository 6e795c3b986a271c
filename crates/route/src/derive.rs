//! From a situation to a route.

use crate::library::Library;
use crate::outcome::{NoRoute, Outcome, Why};
use crate::situation::Situation;
use effort::Effort;

/// The sequence of least working time that brings the situation to its goals.
///
/// Surfaces with equal state are treated alike. Same input and effort in steps: same answer.
pub fn derive(library: &Library, situation: &Situation, effort: &Effort) -> Outcome {
    let _ = (library, effort);
    let flaws = situation.flaws(library);
    let reason = flaws.iter().map(ToString::to_string).collect::<Vec<_>>().join(" ");
    Outcome::None(NoRoute { why: Why::Situation, reason, hint: String::new(), obstacles: Vec::new() })
}
