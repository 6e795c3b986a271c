//! Shapes of panels taken in, and how their film is cut.

use super::book::{known_panel, still_open};
use crate::engine;
use crate::refusal::Refusal;
use crate::studio::{Before, Changes, Stamp, Studio, broken};
use body::Style;
use flatten::read::Unit;
use job::{CutState, JobEvent, JobId, PanelId, PanelShape, SeamChoice, Taken, Tape};

impl Studio {
    /// Takes a scan of a panel in. Without a unit the likeliest one is taken, and kept with the scan.
    ///
    /// # Errors
    /// When the file is no mesh, or the panel is unknown.
    pub fn take_scan(
        &self,
        id: &JobId,
        stamp: &Stamp,
        panel: &PanelId,
        file: (&str, &[u8]),
        unit: Option<&str>,
        turned: bool,
    ) -> Result<u64, Refusal> {
        let (name, bytes) = file;
        let scan = engine::flatten::check_scan(bytes, name)?;
        let unit = match unit {
            None => scan.guess_unit().unit,
            Some(unit) => Unit::from_name(unit).ok_or_else(|| {
                Refusal::invalid(format!("'{unit}' is no unit of a scan"), "Choose mm, cm, m or inch.")
            })?,
        };
        let mesh = job::PictureId(self.journal().put_picture(bytes).map_err(broken)?.to_string());
        let taken = Taken::Scan { mesh, name: name.to_owned(), unit: unit.name().into(), turned };
        self.take_shape(id, stamp, panel, taken)
    }

    /// Takes tape measures of a panel in.
    ///
    /// # Errors
    /// When they make no panel, or the panel is unknown.
    pub fn take_tapes(
        &self,
        id: &JobId,
        stamp: &Stamp,
        panel: &PanelId,
        along: Vec<Tape>,
        across: Vec<Tape>,
    ) -> Result<u64, Refusal> {
        engine::flatten::check_tapes(&along, &across)?;
        self.take_shape(id, stamp, panel, Taken::Tapes { along, across })
    }

    fn take_shape(&self, id: &JobId, stamp: &Stamp, panel: &PanelId, taken: Taken) -> Result<u64, Refusal> {
        self.decide(id, stamp, |Before { job, now, .. }| {
            still_open(job)?;
            known_panel(Style::from_name(&job.car.body).unwrap_or(Style::Saloon), panel)?;
            let shape =
                PanelShape { panel: panel.clone(), taken: taken.clone(), at: now, by: stamp.by.clone() };
            Ok(JobEvent::ShapeTaken { shape }.into())
        })
    }

    /// Chooses how the film of a panel is cut; its pieces take the place of those the panel had.
    ///
    /// # Errors
    /// When the panel has no shape, the plan does not exist, or its film is cut already.
    pub fn choose_seams(
        &self,
        id: &JobId,
        stamp: &Stamp,
        panel: &PanelId,
        plan: &str,
    ) -> Result<u64, Refusal> {
        // the long work first, outside of the decision
        let views = self.shapes_view(id)?;
        let view = views.into_iter().find(|v| v.panel == *panel).ok_or_else(|| {
            Refusal::not_found(
                format!("{} has no scan and no measures", panel.title()),
                "Take its shape in first.",
            )
        })?;
        let flat = view.flat?;
        let chosen = flat.plans.iter().find(|p| p.name == plan).ok_or_else(|| {
            Refusal::not_found(format!("There is no plan '{plan}'"), "Choose one that is on the page.")
        })?;
        self.decide(id, stamp, |Before { job, now, .. }| {
            still_open(job)?;
            if job.cut.as_ref().is_some_and(|c| c.state == CutState::Cut) {
                return Err(Refusal::not_yet("The film is cut already", "What is cut stays cut."));
            }
            let choice = SeamChoice {
                panel: panel.clone(),
                plan: chosen.name.clone(),
                cuts_mm: chosen.cuts.clone(),
                length: chosen.length,
                worst_percent: chosen.worst * 100.0,
                bound_percent: flat.bound * 100.0,
                at: now,
                by: stamp.by.clone(),
            };
            Ok(Changes::from(vec![
                JobEvent::SeamChosen { choice },
                JobEvent::PiecesSet { pieces: chosen.pieces.clone() },
            ]))
        })
    }
}
