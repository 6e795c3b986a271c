//! The shop's priors turned into figures for one panel.

use crate::condition::{Levels, invert};
use crate::finish::Kind;
use crate::ledger::History;
use crate::settings::{FinishPrior, Settings};

/// What is expected of a panel of one kind before its readings; µm throughout.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Expected {
    pub kind: Kind,
    /// Probability of the kind.
    pub share: f64,
    /// Levels of total and clear.
    pub levels: Levels,
    /// Standard deviations of these two levels.
    pub level_sd: [f64; 2],
    /// Typical standard deviation of the total over the panel.
    pub within: f64,
    /// Share of the clear coat in the variance over the panel.
    pub clear_share: f64,
}

/// What is expected of each kind of finish.
pub(crate) fn expected(settings: &Settings, history: History) -> [Expected; 4] {
    let kinds = &settings.finishes;
    let all = [
        (Kind::Factory, &kinds.factory),
        (Kind::Refinished, &kinds.refinished),
        (Kind::Filled, &kinds.filled),
        (Kind::Thinned, &kinds.thinned),
    ];
    let whole: f64 = all.iter().map(|(_, p)| p.share).sum();
    all.map(|(kind, prior)| of(kind, prior, whole, settings, history))
}

fn of(kind: Kind, prior: &FinishPrior, whole: f64, settings: &Settings, history: History) -> Expected {
    let layers = || std::iter::once(&prior.clear).chain(&prior.beneath);
    let sd_sum: f64 = layers().map(|l| l.level.sd.as_um()).sum();
    let square_sum: f64 = layers().map(|l| l.level.sd.as_um().powi(2)).sum();
    let r = prior.correlation;
    let clear_sd = prior.clear.level.sd.as_um();
    // Correction takes from clear and total alike, so its spread adds to all entries.
    let (taken, taken_sd) = match history {
        History::Known { removed } => (removed.as_um(), 0.0),
        History::Unknown => (settings.unknown_history.mean.as_um(), settings.unknown_history.sd.as_um()),
    };
    let extra = taken_sd * taken_sd;
    let total = (1.0 - r) * square_sum + r * sd_sum * sd_sum + extra;
    let both = clear_sd * clear_sd * (1.0 - r) + r * clear_sd * sd_sum + extra;
    let clear = clear_sd * clear_sd + extra;
    let mean_total: f64 = layers().map(|l| l.level.mean.as_um()).sum();
    let within: f64 = layers().map(|l| l.within.as_um().powi(2)).sum();
    Expected {
        kind,
        share: prior.share / whole,
        levels: Levels {
            mean: [mean_total - taken, prior.clear.level.mean.as_um() - taken],
            precision: invert([[total, both], [both, clear]]),
        },
        level_sd: [total.sqrt(), clear.sqrt()],
        within: within.sqrt(),
        clear_share: prior.clear.within.as_um().powi(2) / within,
    }
}
