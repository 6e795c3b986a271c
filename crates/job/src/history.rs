//! What a car carries from job to job: clear coat spent, film on it.

use crate::{JobId, LaidPiece, PanelId};
use jiff::civil::Date;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use units::Thickness;

/// Clear coat taken from a panel. It never comes back.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Removal {
    /// In which job.
    pub job: JobId,
    /// When.
    pub on: Date,
    /// How much, on average.
    #[serde(rename = "taken_um")]
    pub taken: Thickness,
    /// Standard deviation of that estimate.
    #[serde(rename = "sd_um")]
    pub sd: Thickness,
    /// Whether it was measured before and after, or reckoned from passes.
    pub measured: bool,
}

/// Film on a panel.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct FilmOnCar {
    /// In which job it was laid.
    pub job: JobId,
    /// The piece with its batch.
    pub piece: LaidPiece,
    /// When it came off, if it did, and why.
    pub off: Option<(Date, String)>,
}

/// What happens to a car over all its jobs.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum CarEvent {
    /// A job of this car.
    JobOpened {
        /// The job.
        job: JobId,
    },
    /// Correction took clear coat.
    ClearTaken {
        /// The panel.
        panel: PanelId,
        /// How much.
        removal: Removal,
    },
    /// Film was laid.
    FilmLaid {
        /// In which job.
        job: JobId,
        /// The piece.
        piece: LaidPiece,
    },
    /// Film came off a panel.
    FilmOff {
        /// The panel.
        panel: PanelId,
        /// When.
        on: Date,
        /// Why.
        why: String,
    },
}

/// A car over all its jobs.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct CarHistory {
    /// Its jobs, oldest first.
    pub jobs: Vec<JobId>,
    /// Clear coat taken, by panel.
    pub taken: BTreeMap<PanelId, Vec<Removal>>,
    /// Film, laid and taken off.
    pub film: Vec<FilmOnCar>,
}

impl CarHistory {
    /// Folds events from the beginning.
    pub fn fold<'a>(events: impl IntoIterator<Item = &'a CarEvent>) -> Self {
        let mut history = Self::default();
        for event in events {
            history.apply(event);
        }
        history
    }

    /// Applies one event.
    pub fn apply(&mut self, event: &CarEvent) {
        match event.clone() {
            CarEvent::JobOpened { job } => {
                if !self.jobs.contains(&job) {
                    self.jobs.push(job);
                }
            }
            CarEvent::ClearTaken { panel, removal } => self.taken.entry(panel).or_default().push(removal),
            CarEvent::FilmLaid { job, piece } => self.film.push(FilmOnCar { job, piece, off: None }),
            CarEvent::FilmOff { panel, on, why } => {
                for film in self.film.iter_mut().filter(|f| f.piece.panel == panel && f.off.is_none()) {
                    film.off = Some((on, why.clone()));
                }
            }
        }
    }

    /// Clear coat taken from a panel so far.
    pub fn taken_from(&self, panel: &PanelId) -> Thickness {
        self.taken.get(panel).map_or(Thickness::ZERO, |all| all.iter().map(|r| r.taken).sum())
    }

    /// Whether film lies on a panel.
    pub fn filmed(&self, panel: &PanelId) -> bool {
        self.film.iter().any(|f| f.piece.panel == *panel && f.off.is_none())
    }
}
