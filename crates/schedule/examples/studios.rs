//! Plans random studios and counts what came of it: `studios COUNT STEPS`. Stops at the first plan that the validator
//! refuses.

#[path = "../tests/common/mod.rs"]
mod common;

use effort::Effort;
use schedule::{Config, Outcome, solve};
use units::Seed;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let words: Vec<String> = std::env::args().collect();
    let [_, count, steps] = &words[..] else { return Err("usage: studios COUNT STEPS".into()) };
    let (count, steps): (u64, u64) = (count.parse()?, steps.parse()?);
    let (mut planned, mut impossible, mut open) = (0, 0, 0);
    for seed in 0..count {
        let problem = common::studio(seed);
        match solve(&problem, &Config { seed: Seed(seed) }, &Effort::steps(steps))? {
            Outcome::Plan(plan) => {
                plan.verify(&problem).map_err(|flaw| format!("studio {seed}: {flaw}"))?;
                planned += 1;
            }
            Outcome::Infeasible(_) => impossible += 1,
            Outcome::Unsettled(why) if why.reason.contains("did not pass") => {
                return Err(format!("studio {seed}: {}", why.reason).into());
            }
            Outcome::Unsettled(_) => open += 1,
        }
    }
    println!("{{\"studios\":{count},\"planned\":{planned},\"impossible\":{impossible},\"open\":{open}}}");
    Ok(())
}
