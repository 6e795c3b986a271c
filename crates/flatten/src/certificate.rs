//! The least worst stretch: min max |ln s| by rising powers. It equals the least worst stretch of film that is never
//! compressed, since scale is free (Milnor 1969).

use crate::energy::Worst;
use crate::newton::{Flat, Newton};
use crate::rest::Rest;
use crate::sparse::NotSolvable;
use effort::Effort;

/// Weight of the quadratic part.
const STAY: f64 = 1e-4;
/// Share of the mean diagonal that holds the piece in place.
const HOLD: f64 = 1e-10;
/// Powers of the continuation, with the most iterations of each: most settle before that.
const POWERS: [(i32, usize); 6] = [(2, 8), (4, 8), (8, 8), (16, 8), (32, 10), (64, 14)];

/// The same in haste, for comparing cuts: a worst stretch about a hundredth of itself too large. Then the factor by which
/// the worst stretch after that power was above the last one at most, over 121 cuts of a panel; what is above the bar by
/// more is given up.
const HASTE: [(i32, usize, f64); 6] =
    [(2, 3, 4.5), (4, 3, 2.2), (8, 3, 1.5), (16, 4, 1.2), (32, 4, 1.1), (64, 6, 1.0)];

/// From a map without flips to one whose worst stretch is the least found; false if the effort ended first.
pub fn least_worst(
    rest: &Rest,
    newton: &mut Newton<'_>,
    start: &Flat,
    effort: &Effort,
) -> Result<(Flat, bool), NotSolvable> {
    let mut flat = start.clone();
    balance(rest, &mut flat);
    for (power, most) in POWERS {
        if !press(rest, newton, &mut flat, power, most, effort)? {
            return Ok((flat, false));
        }
    }
    Ok((flat, true))
}

/// The same in haste; none if the effort ended first, or as soon as the worst stretch will not come below the bar.
pub fn in_haste(
    rest: &Rest,
    newton: &mut Newton<'_>,
    start: &Flat,
    bar: f64,
    effort: &Effort,
) -> Result<Option<Flat>, NotSolvable> {
    let mut flat = start.clone();
    balance(rest, &mut flat);
    for (power, most, above) in HASTE {
        if !press(rest, newton, &mut flat, power, most, effort)?
            || (2.0 * largest(rest, &flat)).exp_m1() > above * bar
        {
            return Ok(None);
        }
    }
    Ok(Some(flat))
}

/// Newton at one power until it settles; false if the effort ended first.
fn press(
    rest: &Rest,
    newton: &mut Newton<'_>,
    flat: &mut Flat,
    power: i32,
    most: usize,
    effort: &Effort,
) -> Result<bool, NotSolvable> {
    for _ in 0..most {
        if !effort.spend(rest.triangles.len() as u64 / 1000 + 1) {
            return Ok(false);
        }
        let largest = largest(rest, flat);
        if largest < 1e-7 {
            break;
        }
        effort.tell(format!(
            "worst stretch {:.2} %, {} triangles, power {power}",
            100.0 * (2.0 * largest).exp_m1(),
            rest.triangles.len()
        ));
        let step = newton.step(&Worst { power, largest, stay: STAY }, HOLD, flat)?;
        if step.length == 0.0 || step.promised < 0.01 * step.after {
            break;
        }
    }
    Ok(true)
}

/// max |ln s| over all triangles.
pub fn largest(rest: &Rest, flat: &Flat) -> f64 {
    rest.singular_values(flat).into_iter().flatten().fold(0.0, |m: f64, s| m.max(s.ln().abs()))
}

/// Scaled so that the greatest and the least singular value are each other's inverse.
pub fn balance(rest: &Rest, flat: &mut Flat) {
    let (low, high) = rest
        .singular_values(flat)
        .into_iter()
        .fold((f64::INFINITY, 0.0_f64), |(low, high), s| (low.min(s[1]), high.max(s[0])));
    let by = 1.0 / (low * high).sqrt();
    flat.iter_mut().for_each(|p| *p = p.map(|c| c * by));
}
