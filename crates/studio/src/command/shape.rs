//! Shapes of panels taken in, and how their film is cut.

use super::book::{known_panel, still_open};
use crate::engine;
use crate::refusal::{Refusal, RefusalKind};
use crate::studio::{Before, Changes, Stamp, Studio, broken};
use crate::view::seam_plans;
use body::Style;
use flatten::read::Unit;
use job::{CutState, CutZone, Job, JobEvent, JobId, PanelCuts, PanelId, PanelShape, SeamChoice, Taken, Tape};

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

    /// Chooses how the film of a panel is cut; its pieces take the place of those the panel had, and mirrored of those of
    /// the panel on the other side where that is wanted.
    ///
    /// # Errors
    /// When the panel has no shape, the plan does not exist or cannot be cut, or its film is cut already.
    pub fn choose_seams(
        &self,
        id: &JobId,
        stamp: &Stamp,
        panel: &PanelId,
        plan: &str,
        both_sides: bool,
    ) -> Result<u64, Refusal> {
        // the long work first, outside of the decision
        let (entry, shop) = (self.job(id)?, self.shop()?);
        let shape = shape_of(&entry.job, panel)?;
        let flat = (*engine::flatten::flat(self, shape, shop.settings.wrap)).clone()?;
        let on_record = seam_plans(&entry.job, panel);
        let chosen = flat.plans.iter().chain(&on_record).find(|p| p.name == plan).ok_or_else(|| {
            Refusal::not_found(format!("There is no plan '{plan}'"), "Choose one that is on the page.")
        })?;
        let way = engine::flatten::way(&chosen.name, &chosen.cuts).ok_or_else(|| {
            Refusal::not_found(format!("The plan '{plan}' cuts nothing"), "Choose one that is on the page.")
        })?;
        let laid = (*engine::flatten::pieces(self, shape, &way, shop.settings.wrap)).clone()?;
        if laid.pieces.is_empty() {
            return Err(Refusal::new(
                RefusalKind::Impossible,
                "Cut like this, a piece of film would lie over itself",
                "Choose a plan with a cut: search the cuts, or draw one.",
            ));
        }
        let mirrored = engine::film::mirrored(&laid.pieces);
        if both_sides && mirrored.is_empty() {
            return Err(Refusal::invalid(
                format!("{} has no partner on the other side", panel.title()),
                "Choose the plan for this panel alone.",
            ));
        }
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
                worst_percent: laid.flattenings.iter().map(|f| f.worst).fold(0.0, f64::max) * 100.0,
                bound_percent: flat.bound * 100.0,
                at: now,
                by: stamp.by.clone(),
                in_sight: Some(chosen.in_sight),
                both_sides,
            };
            let mut events = vec![JobEvent::SeamChosen { choice: choice.clone() }];
            let mut pieces = laid.pieces.clone();
            if both_sides && let Some(partner) = mirrored.first() {
                events.push(JobEvent::SeamChosen {
                    choice: SeamChoice { panel: partner.panel.clone(), ..choice },
                });
                pieces.extend(mirrored.iter().cloned());
            }
            events.push(JobEvent::PiecesSet { pieces });
            Ok(Changes::from(events))
        })
    }

    /// Marks a zone of a panel where no cut may be, or where nobody sees one, inside a loop of places on it. Plans that were
    /// searched before hold no more.
    ///
    /// # Errors
    /// When the panel has no shape, or there are fewer than three places.
    pub fn mark_zone(
        &self,
        id: &JobId,
        stamp: &Stamp,
        panel: &PanelId,
        zone: &CutZone,
    ) -> Result<u64, Refusal> {
        if zone.ring_mm.len() < 3 {
            return Err(Refusal::invalid(
                "A zone needs three places or more",
                "Tap around it on the panel, then keep the zone.",
            ));
        }
        self.decide(id, stamp, |Before { job, .. }| {
            still_open(job)?;
            shape_of(job, panel)?;
            let mut zones = cuts_of(job, panel).zones;
            zones.push(zone.clone());
            Ok(JobEvent::CutsConsidered {
                cuts: PanelCuts { panel: panel.clone(), zones, plans: Vec::new() },
            }
            .into())
        })
    }

    /// Takes all zones off a panel; plans that were searched before hold no more.
    ///
    /// # Errors
    /// When the panel has no shape.
    pub fn clear_zones(&self, id: &JobId, stamp: &Stamp, panel: &PanelId) -> Result<u64, Refusal> {
        self.decide(id, stamp, |Before { job, .. }| {
            still_open(job)?;
            shape_of(job, panel)?;
            Ok(JobEvent::CutsConsidered { cuts: PanelCuts { panel: panel.clone(), ..PanelCuts::default() } }
                .into())
        })
    }

    /// Adds a plan of lines that somebody drew over a panel.
    ///
    /// # Errors
    /// When the panel has no shape, or it cannot be cut like that: says why.
    pub fn draw_cuts(
        &self,
        id: &JobId,
        stamp: &Stamp,
        panel: &PanelId,
        lines: &[Vec<[f64; 3]>],
    ) -> Result<u64, Refusal> {
        if lines.is_empty() || lines.iter().any(|l| l.len() < 2) {
            return Err(Refusal::invalid(
                "A cut needs two places on the panel or more",
                "Tap where it begins at the edge, then along its way.",
            ));
        }
        let entry = self.job(id)?;
        let known = cuts_of(&entry.job, panel);
        let plan = engine::flatten::drawn(self, shape_of(&entry.job, panel)?, &known, lines)?;
        self.decide(id, stamp, |Before { job, .. }| {
            still_open(job)?;
            let mut cuts = cuts_of(job, panel);
            cuts.plans.retain(|p| p.name != plan.name);
            cuts.plans.push(plan.clone());
            Ok(JobEvent::CutsConsidered { cuts }.into())
        })
    }
}

/// The shape of a panel.
pub(crate) fn shape_of<'a>(job: &'a Job, panel: &PanelId) -> Result<&'a PanelShape, Refusal> {
    job.shapes.iter().find(|s| s.panel == *panel).ok_or_else(|| {
        Refusal::not_found(
            format!("{} has no scan and no measures", panel.title()),
            "Take its shape in first.",
        )
    })
}

/// What is on record about cuts of a panel.
pub(crate) fn cuts_of(job: &Job, panel: &PanelId) -> PanelCuts {
    let known = job.cuts.iter().find(|c| c.panel == *panel).cloned();
    known.unwrap_or_else(|| PanelCuts { panel: panel.clone(), ..PanelCuts::default() })
}
