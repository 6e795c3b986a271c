//! What speaks for a kind of finish, in plain words.

use crate::ledger::History;
use crate::prior::Expected;
use crate::settings::Settings;
use crate::survey::PanelInfo;
use stats::{Summary, chi_squared_quantile};

/// How much more than usual thickness must vary to be called uneven: chance of a false alarm.
const FALSE_ALARM: f64 = 0.001;

/// Sentences with the figures that moved the probabilities.
pub(crate) fn words(
    seen: Option<&Summary>,
    expected: &[Expected; 4],
    panel: &PanelInfo,
    settings: &Settings,
) -> Vec<String> {
    let mut words = Vec::new();
    let Some(s) = seen else {
        words.push("No reading: these are the shares the shop expects before looking.".to_owned());
        return words;
    };
    words.push(format!("The readings average {:.0} µm.", s.mean));
    for kind in expected {
        let (mean, sd) = (kind.levels.mean[0], kind.level_sd[0]);
        let (low, high) = ((mean - 1.96 * sd).max(0.0), mean + 1.96 * sd);
        let fits = if (low..=high).contains(&s.mean) { "fits" } else { "does not fit" };
        words.push(format!(
            "That {fits} {}, where the shop expects {low:.0} to {high:.0} µm.",
            kind.kind.words()
        ));
    }
    if s.n > 1 {
        let usual = expected[0].within.hypot(noise(s.mean, settings));
        let judged = if uneven(s, settings) {
            "more than factory paint does"
        } else {
            "no more than factory paint does"
        };
        words.push(format!(
            "They vary by {:.1} µm (sd), {judged}: {usual:.1} µm with the gauge's own scatter.",
            s.sd
        ));
    }
    if let History::Known { removed } = panel.history
        && removed.as_um() > 0.0
    {
        words.push(format!("The ledger has {:.1} µm taken from it before.", removed.as_um()));
    }
    words
}

/// Whether readings vary more than factory paint with a generous spread and the gauge's scatter do.
pub(crate) fn uneven(s: &Summary, settings: &Settings) -> bool {
    if s.n < 3 {
        return false;
    }
    let layers = &settings.finishes.factory;
    let within: f64 = std::iter::once(&layers.clear)
        .chain(&layers.beneath)
        .map(|l| l.within.as_um().powi(2))
        .sum::<f64>()
        .sqrt();
    let usual = (within * settings.field.spread_factor).hypot(noise(s.mean, settings));
    let df = (s.n - 1) as f64;
    s.sd > usual * (chi_squared_quantile(1.0 - FALSE_ALARM, df) / df).sqrt()
}

fn noise(mean: f64, settings: &Settings) -> f64 {
    settings.gauge.fixed.as_um() + settings.gauge.relative * mean
}
