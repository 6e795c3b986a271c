//! The piece itself: mean stretch made least under the shop's limit, starting from the least worst stretch.

use crate::certificate::balance;
use crate::energy::Film;
use crate::newton::{Flat, Newton};
use crate::rest::Rest;
use crate::sparse::NotSolvable;
use effort::Effort;

/// A flat shape whose worst stretch stays within `limit` (a fraction), with less mean stretch than the one given; none
/// where that was not reached. `least` is the worst stretch of `start`, which must be below the limit.
pub fn within(
    rest: &Rest,
    newton: &mut Newton<'_>,
    start: &Flat,
    limit: f64,
    effort: &Effort,
) -> Result<Option<Flat>, NotSolvable> {
    let least = worst(rest, start);
    let mut best: Option<(f64, Flat)> = None;
    // The limit of the energy is soft, and the last rescaling takes a little more: ask for less, then ask anew.
    let mut asked = 0.985 * limit;
    for _ in 0..4 {
        let mut flat = start.clone();
        stretched_only(rest, &mut flat);
        for stiff in [1e2, 1e3, 1e4] {
            for _ in 0..12 {
                if !effort.spend(rest.triangles.len() as u64 / 1000 + 1) {
                    return Ok(best.map(|b| b.1));
                }
                let step = newton.step(&Film { limit: asked, stiff }, 1e-7, &mut flat)?;
                if step.length == 0.0 || step.promised < 1e-3 * step.after {
                    break;
                }
            }
        }
        let reached = worst(rest, &flat);
        effort.tell(format!("asked for {:.2} %, reached {:.2} %", 100.0 * asked, 100.0 * reached));
        if reached <= limit {
            best = Some((reached, flat));
            break;
        }
        asked *= 0.5 * (1.0 + limit / reached);
        if asked < 0.5 * least {
            break;
        }
    }
    Ok(best.map(|b| b.1))
}

/// The worst stretch after scaling so that nothing is compressed, as a fraction.
fn worst(rest: &Rest, flat: &Flat) -> f64 {
    let s = rest.singular_values(flat);
    let (low, high) = s.iter().fold((f64::INFINITY, 0.0_f64), |(l, h), s| (l.min(s[1]), h.max(s[0])));
    high / low - 1.0
}

fn stretched_only(rest: &Rest, flat: &mut Flat) {
    balance(rest, flat);
    let by = 1.0 / rest.singular_values(flat).iter().fold(0.0_f64, |m, s| m.max(s[0]));
    flat.iter_mut().for_each(|p| *p = p.map(|c| c * by));
}
