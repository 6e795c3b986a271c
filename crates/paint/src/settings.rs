//! The shop's settings: priors, gauge, floor, allowance, risks. Every default is `common practice,
//! no source`: a starting point that a shop replaces by its own figures.

use serde::{Deserialize, Serialize};
use units::{Length, Thickness};

/// A normal distribution of a thickness.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Spread {
    /// Mean.
    pub mean: Thickness,
    /// Standard deviation.
    pub sd: Thickness,
}

impl Spread {
    /// From mean and standard deviation in micrometers.
    pub const fn um(mean: f64, sd: f64) -> Self {
        Self { mean: Thickness::um(mean), sd: Thickness::um(sd) }
    }
}

/// One layer of paint as the shop expects it before reading anything.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Layer {
    /// Name of the layer.
    pub name: String,
    /// Level from panel to panel: mean and standard deviation.
    pub level: Spread,
    /// Standard deviation over one panel.
    pub within: Thickness,
}

impl Layer {
    fn um(name: &str, mean: f64, sd: f64, within: f64) -> Self {
        Self { name: name.into(), level: Spread::um(mean, sd), within: Thickness::um(within) }
    }
}

/// What one kind of finish looks like: the joint normal of its layers.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct FinishPrior {
    /// Share of panels of this kind before anything is known; shares are normalized.
    pub share: f64,
    /// The clear coat (on single-stage paint: the top coat).
    pub clear: Layer,
    /// All layers beneath it.
    pub beneath: Vec<Layer>,
    /// Correlation between the levels of any two layers, 0 to below 1.
    pub correlation: f64,
}

/// Priors of the four kinds of finish.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Finishes {
    /// As it left the factory.
    pub factory: FinishPrior,
    /// Painted again over the old paint.
    pub refinished: FinishPrior,
    /// Painted over filler.
    pub filled: FinishPrior,
    /// Factory paint that lost clear coat to earlier correction.
    pub thinned: FinishPrior,
}

/// How well the gauge repeats: standard deviation of one reading = `fixed + relative × reading`.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct GaugeSettings {
    /// Part that does not depend on the reading.
    pub fixed: Thickness,
    /// Part that grows with the reading (0.01 = 1 %).
    pub relative: f64,
    /// Standard deviation of the gauge's own offset, drift over a job included, when no foils were read.
    pub offset_sd: Thickness,
    /// Standard deviation of one layered (ultrasonic) reading of the clear coat.
    pub layered_sd: Thickness,
}

/// How thickness wanders over a panel (Matérn 3/2 correlation).
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct FieldSettings {
    /// Typical correlation length.
    pub length: Length,
    /// Shortest correlation length considered.
    pub shortest: Length,
    /// Longest correlation length considered.
    pub longest: Length,
    /// How far the spread over one panel may lie from its prior: a factor, as one standard deviation of its logarithm (2 = half to double).
    pub spread_factor: f64,
    /// The same for the correlation length.
    pub length_factor: f64,
}

/// A finish a customer can ask for, by the deepest mark that may remain.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct FinishLevel {
    /// Name shown to the customer.
    pub name: String,
    /// Deepest mark that may remain.
    pub mark: Thickness,
}

/// The shop's settings of this engine.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Settings {
    /// Priors per kind of finish.
    pub finishes: Finishes,
    /// Gauge.
    pub gauge: GaugeSettings,
    /// Variation over a panel.
    pub field: FieldSettings,
    /// Least clear coat that must stay.
    pub floor: Thickness,
    /// Clear coat a shop allows itself to take from a panel over the car's life.
    pub allowance: Thickness,
    /// Confidence of bounds.
    pub confidence: f64,
    /// Share of the panel that the tolerance bound speaks for.
    pub coverage: f64,
    /// Confidence of the two-sided interval of the mean.
    pub interval_confidence: f64,
    /// Accepted risk that a correction goes below the floor somewhere on the panel.
    pub alpha: f64,
    /// Level of the outlier test (two-sided Grubbs).
    pub outlier_alpha: f64,
    /// Wanted half-width of the interval of the mean.
    pub wanted_half_width: Thickness,
    /// What an unknown history is taken to have removed.
    pub unknown_history: Spread,
    /// Share of the allowance left on edges and body lines.
    pub edge_share: f64,
    /// Finishes to choose from.
    pub finish_levels: Vec<FinishLevel>,
}

impl Default for Settings {
    fn default() -> Self {
        // Common practice, no source, throughout. Layer ranges (e-coat 18–25, primer 25–40, clear
        // 35–60 µm) are read as two-way 95 % ranges. The base coat's (12–25 µm) is widened for paints
        // with a mid coat, so that totals of 90–180 µm, also common practice, stay believable.
        let factory_beneath = || {
            vec![
                Layer::um("e-coat", 21.5, 1.8, 0.6),
                Layer::um("primer", 32.5, 3.8, 1.5),
                Layer::um("base coat, mid coat where there is one", 22.0, 9.0, 1.5),
            ]
        };
        Self {
            finishes: Finishes {
                factory: FinishPrior {
                    share: 0.80,
                    clear: Layer::um("clear coat", 47.5, 5.8, 2.2),
                    beneath: factory_beneath(),
                    correlation: 0.2,
                },
                refinished: FinishPrior {
                    share: 0.12,
                    clear: Layer::um("clear coat", 55.0, 13.0, 5.0),
                    beneath: vec![
                        Layer::um("old paint", 105.0, 25.0, 6.0),
                        Layer::um("refinish primer and base coat", 60.0, 20.0, 6.0),
                    ],
                    correlation: 0.0,
                },
                filled: FinishPrior {
                    share: 0.03,
                    clear: Layer::um("clear coat", 55.0, 13.0, 5.0),
                    beneath: vec![
                        Layer::um("old paint", 60.0, 30.0, 15.0),
                        Layer::um("filler", 450.0, 250.0, 120.0),
                        Layer::um("refinish primer and base coat", 70.0, 20.0, 6.0),
                    ],
                    correlation: 0.0,
                },
                thinned: FinishPrior {
                    share: 0.05,
                    clear: Layer::um("clear coat", 33.0, 7.5, 3.0),
                    beneath: factory_beneath(),
                    correlation: 0.2,
                },
            },
            gauge: GaugeSettings {
                fixed: Thickness::um(1.0),
                relative: 0.01,
                offset_sd: Thickness::um(1.0),
                layered_sd: Thickness::um(1.5),
            },
            field: FieldSettings {
                length: Length::mm(350.0),
                shortest: Length::mm(60.0),
                longest: Length::mm(2000.0),
                spread_factor: 1.6,
                length_factor: 1.7,
            },
            floor: Thickness::um(30.0),
            allowance: Thickness::um(8.0),
            confidence: 0.99,
            coverage: 0.99,
            interval_confidence: 0.95,
            alpha: 0.01,
            outlier_alpha: 0.05,
            wanted_half_width: Thickness::um(2.0),
            unknown_history: Spread::um(2.0, 2.0),
            edge_share: 0.5,
            finish_levels: vec![
                FinishLevel { name: "clean gloss".into(), mark: Thickness::um(1.0) },
                FinishLevel { name: "fine".into(), mark: Thickness::um(0.5) },
                FinishLevel { name: "show".into(), mark: Thickness::um(0.2) },
            ],
        }
    }
}

/// A setting that cannot be used.
#[derive(Clone, Debug, PartialEq, thiserror::Error, Serialize, Deserialize)]
#[error("setting `{setting}`: {problem}")]
pub struct SettingsError {
    /// Which setting.
    pub setting: String,
    /// What is wrong and what to enter instead.
    pub problem: String,
}

impl Settings {
    /// Checks that every setting can be used.
    ///
    /// # Errors
    /// The first setting that cannot, with what to enter instead.
    pub fn validate(&self) -> Result<(), SettingsError> {
        let fail = |setting: &str, problem: &str| {
            Err(SettingsError { setting: setting.to_owned(), problem: problem.to_owned() })
        };
        for (setting, value) in [
            ("confidence", self.confidence),
            ("coverage", self.coverage),
            ("interval_confidence", self.interval_confidence),
        ] {
            if !(0.5..=0.9999).contains(&value) {
                return fail(setting, "must lie between 0.5 and 0.9999; 0.99 is usual");
            }
        }
        for (setting, value) in [("alpha", self.alpha), ("outlier_alpha", self.outlier_alpha)] {
            if !(0.0001..=0.5).contains(&value) {
                return fail(setting, "must lie between 0.0001 and 0.5; 0.01 is usual");
            }
        }
        let positive = |t: Thickness| t.is_finite() && t > Thickness::ZERO;
        let not_negative = |t: Thickness| t.is_finite() && t >= Thickness::ZERO;
        if !not_negative(self.floor) {
            return fail("floor", "must be zero or a positive thickness");
        }
        if !not_negative(self.allowance) {
            return fail("allowance", "must be zero or a positive thickness");
        }
        if !positive(self.wanted_half_width) {
            return fail("wanted_half_width", "must be a positive thickness");
        }
        if !not_negative(self.unknown_history.mean) || !not_negative(self.unknown_history.sd) {
            return fail("unknown_history", "mean and sd must be zero or positive thicknesses");
        }
        if !(0.0..=1.0).contains(&self.edge_share) {
            return fail("edge_share", "must lie between 0 and 1; 0.5 is usual");
        }
        let g = &self.gauge;
        if !positive(g.fixed) || !(0.0..=0.2).contains(&g.relative) {
            return fail("gauge", "fixed must be a positive thickness, relative between 0 and 0.2");
        }
        if !not_negative(g.offset_sd) || !positive(g.layered_sd) {
            return fail("gauge", "offset_sd must not be negative, layered_sd must be positive");
        }
        let f = &self.field;
        if !(f.shortest > Length::ZERO
            && f.shortest <= f.length
            && f.length <= f.longest
            && f.longest.is_finite())
        {
            return fail("field", "needs 0 < shortest ≤ length ≤ longest");
        }
        if !(1.0..=10.0).contains(&f.spread_factor) || !(1.0..=10.0).contains(&f.length_factor) {
            return fail("field", "spread_factor and length_factor must lie between 1 and 10");
        }
        let kinds = &self.finishes;
        let all = [
            ("finishes.factory", &kinds.factory),
            ("finishes.refinished", &kinds.refinished),
            ("finishes.filled", &kinds.filled),
            ("finishes.thinned", &kinds.thinned),
        ];
        for (setting, prior) in all {
            if !(prior.share.is_finite() && prior.share >= 0.0) {
                return fail(setting, "share must be zero or positive");
            }
            if !(0.0..=0.95).contains(&prior.correlation) {
                return fail(setting, "correlation must lie between 0 and 0.95");
            }
            if prior.beneath.is_empty() {
                return fail(setting, "needs at least one layer beneath the clear coat");
            }
            let layers = std::iter::once(&prior.clear).chain(&prior.beneath);
            if layers.clone().any(|l| !positive(l.level.mean) || !positive(l.level.sd) || !positive(l.within))
            {
                return fail(setting, "mean, sd and within of every layer must be positive thicknesses");
            }
        }
        if all.iter().map(|(_, p)| p.share).sum::<f64>() <= 0.0 {
            return fail("finishes", "at least one share must be above zero");
        }
        if self.finish_levels.iter().any(|l| !not_negative(l.mark)) {
            return fail("finish_levels", "marks must be zero or positive thicknesses");
        }
        Ok(())
    }
}
