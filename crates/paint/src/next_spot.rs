//! Where the next reading tells most.

use crate::posterior::Posterior;
use crate::settings::GaugeSettings;

/// Places that are the thinnest less often than this are not worth a look.
const RARELY: f64 = 0.005;

/// The place (u, v) where one more reading of the total narrows the clear coat most where it is likely to be thinnest.
///
/// For every candidate, the expected fall in variance of the clear coat at each place, weighted by how
/// often that place is the thinnest, under the likeliest part of the mixture. `thinnest` holds places in
/// millimeters and those weights.
pub(crate) fn next_spot(
    posterior: &Posterior,
    thinnest: &[((f64, f64), f64)],
    gauge: &GaugeSettings,
) -> Option<(f64, f64)> {
    let part = posterior.likeliest()?;
    let sheet = &posterior.sheet;
    let suspects: Vec<_> = thinnest
        .iter()
        .filter(|(_, weight)| *weight > RARELY)
        .map(|(at, weight)| (*at, *weight, part.clear_at(posterior, *at)))
        .collect();
    let gain = |candidate: (f64, f64)| {
        let link = part.total_at(posterior, candidate);
        let variance = link.covariance(&link, part.total_prior(sheet, candidate, candidate), &part.levels);
        let noise = gauge.fixed.as_um() + gauge.relative * link.mean(&part.levels).max(0.0);
        let seen = variance + noise * noise;
        suspects
            .iter()
            .map(|(at, weight, clear)| {
                // Clear coat and total share the field of the clear coat.
                let both = clear.covariance(&link, part.clear_prior(sheet, *at, candidate), &part.levels);
                weight * both * both / seen
            })
            .sum::<f64>()
    };
    thinnest
        .iter()
        .map(|(at, _)| (*at, gain(*at)))
        .fold(None, |best: Option<((f64, f64), f64)>, next| match best {
            Some(b) if b.1 >= next.1 => Some(b),
            _ => Some(next),
        })
        .map(|((x, y), _)| (x / sheet.width, y / sheet.height))
}
