//! A job as the fold of its events.

use crate::{
    Acceptance, Arrival, Car, ChangeOrder, ChangeState, Claim, Customer, CutPlan, CutState, Finding,
    FindingNo, Handover, JobEvent, LaidPiece, LayoutWish, MarkedPicture, Moment, Note, Offer, OfferOption,
    Order, PanelCuts, PanelShape, PictureEntry, PictureId, PicturePair, Piece, PlannedStep, Reading,
    Reminder, RouteSheet, SeamChoice, SidePlan, Signature, Span, StepNo, StepRecord, StepState, Strokes,
    TestSpot, Visit, VisitState, VoiceNote,
};
use jiff::Timestamp;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// The stages of a job, as a car's page follows them.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Stage {
    /// Recorded at the door, before anything is touched.
    #[default]
    Arrival,
    /// Findings and readings after the first wash.
    Survey,
    /// Options and consent.
    Offer,
    /// Steps in order.
    Route,
    /// Pieces on rolls.
    Film,
    /// Steps done.
    Work,
    /// The car given back.
    Handover,
    /// What comes after.
    Visits,
}

impl Stage {
    /// All, in order.
    pub const ALL: [Self; 8] = [
        Self::Arrival,
        Self::Survey,
        Self::Offer,
        Self::Route,
        Self::Film,
        Self::Work,
        Self::Handover,
        Self::Visits,
    ];

    /// Its name.
    pub const fn title(self) -> &'static str {
        match self {
            Self::Arrival => "Arrival",
            Self::Survey => "Survey",
            Self::Offer => "Offer",
            Self::Route => "Route",
            Self::Film => "Film",
            Self::Work => "Work",
            Self::Handover => "Handover",
            Self::Visits => "Visits",
        }
    }
}

/// A job: everything that its stream says, folded.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Job {
    /// When it was booked.
    pub booked: Timestamp,
    /// The car.
    pub car: Car,
    /// Its owner.
    pub customer: Customer,
    /// The scope that holds now: as asked for, as accepted, as changed by agreement.
    pub order: Order,
    /// Promised handover.
    pub promised: Option<Timestamp>,
    /// When the car is expected.
    pub expected: Option<Timestamp>,
    /// The arrival record.
    pub arrival: Option<Arrival>,
    /// Findings by number, in order; withdrawn ones stay.
    pub findings: Vec<Finding>,
    /// Readings in the order in which they were taken.
    pub readings: Vec<Reading>,
    /// Test spots that stand, oldest first.
    pub test_spots: Vec<TestSpot>,
    /// Pictures.
    pub pictures: Vec<PictureEntry>,
    /// Marks on pictures; one entry a picture.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub marked: Vec<MarkedPicture>,
    /// Pictures that belong together, in the order in which that was said.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub pairs: Vec<PicturePair>,
    /// Before and after that do not belong together.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub parted: Vec<(PictureId, PictureId)>,
    /// Remarks that were spoken.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub voices: Vec<VoiceNote>,
    /// Who closed the survey.
    pub survey_closed: Option<Signature>,
    /// Offers, oldest first.
    pub offers: Vec<Offer>,
    /// The customer's consent.
    pub acceptance: Option<Acceptance>,
    /// Change orders, oldest first.
    pub changes: Vec<ChangeOrder>,
    /// The route: what is left to do and what was done of it.
    pub route: Option<RouteSheet>,
    /// What was done of each step, by number.
    pub work: BTreeMap<StepNo, StepRecord>,
    /// Pieces of film.
    pub pieces: Vec<Piece>,
    /// How pieces are to be laid out.
    pub wish: LayoutWish,
    /// Shapes of panels as they were taken; one a panel.
    pub shapes: Vec<PanelShape>,
    /// Zones and computed plans for cuts; one a panel.
    pub cuts: Vec<PanelCuts>,
    /// How the film of a panel is cut; one a panel, chosen after its shape was taken.
    pub seams: Vec<SeamChoice>,
    /// Where the seams on the sides lie; as the drawing has it when nothing was chosen.
    pub sides: Option<SidePlan>,
    /// The cut plan.
    pub cut: Option<CutPlan>,
    /// Pieces on the car.
    pub laid: Vec<LaidPiece>,
    /// The handover.
    pub handover: Option<Handover>,
    /// Visits.
    pub visits: Vec<Visit>,
    /// Claims.
    pub claims: Vec<Claim>,
    /// Reminders that a person has had in hands; one about a thing.
    pub reminders: Vec<Reminder>,
    /// Remarks.
    pub notes: Vec<Note>,
    /// Why it was called off, if it was.
    pub called_off: Option<String>,
}

impl Job {
    /// Folds events from the beginning.
    pub fn fold<'a>(events: impl IntoIterator<Item = &'a JobEvent>) -> Self {
        let mut job = Self::default();
        for event in events {
            job.apply(event);
        }
        job
    }

    /// Applies one event. Never fails: what makes no sense any more leaves the state as it is.
    pub fn apply(&mut self, event: &JobEvent) {
        match event.clone() {
            JobEvent::Booked { at, car, customer, order, promised, expected } => {
                *self = Self { booked: at, car, customer, order, promised, expected, ..Self::default() };
            }
            JobEvent::CarChanged { car } => self.car = car,
            JobEvent::CustomerChanged { customer } => self.customer = customer,
            JobEvent::OrderChanged { order } => self.order = order,
            JobEvent::Promised { promised } => self.promised = promised,
            JobEvent::Arrived { arrival } => self.arrival = Some(arrival),
            JobEvent::ArrivalSigned { signed } => {
                if let Some(arrival) = &mut self.arrival {
                    arrival.signed = Some(signed);
                }
            }
            JobEvent::Found { finding } => self.findings.push(finding),
            JobEvent::FindingChanged { finding } => {
                if let Some(old) = self.finding_mut(finding.no) {
                    *old = finding;
                }
            }
            JobEvent::FindingWithdrawn { no, why } => {
                if let Some(finding) = self.finding_mut(no) {
                    finding.withdrawn = Some(why);
                }
            }
            JobEvent::Measured { readings } => self.readings.extend(readings),
            JobEvent::ReadingsWithdrawn { place, moment, .. } => {
                self.readings.retain(|r| r.place.panel != place.panel || r.moment != moment);
            }
            JobEvent::TestSpotted { spot } => self.test_spots.push(spot),
            JobEvent::TestSpotWithdrawn { index, .. } => {
                if index < self.test_spots.len() {
                    self.test_spots.remove(index);
                }
            }
            JobEvent::SurveyClosed { signed } => self.survey_closed = Some(signed),
            JobEvent::Pictured { picture, name, place, stage, finding, step } => {
                if let Some(record) = step.and_then(|no| self.work.get_mut(&no))
                    && !record.pictures.contains(&picture)
                {
                    record.pictures.push(picture.clone());
                }
                if let Some(found) = finding.and_then(|no| self.finding_mut(no))
                    && !found.pictures.contains(&picture)
                {
                    found.pictures.push(picture.clone());
                }
                self.pictures.push(PictureEntry { picture, name, place, stage, finding });
            }
            JobEvent::PictureMarked { picture, tall, mark } => {
                let i = self.marked.iter().position(|m| m.picture == picture).unwrap_or_else(|| {
                    self.marked.push(MarkedPicture { picture, ..MarkedPicture::default() });
                    self.marked.len() - 1
                });
                let of = &mut self.marked[i];
                of.tall = tall;
                of.given = of.given.max(mark.no);
                of.marks.push(mark);
            }
            JobEvent::PictureMarkRemoved { picture, no } => {
                if let Some(of) = self.marked.iter_mut().find(|m| m.picture == picture) {
                    of.marks.retain(|m| m.no != no);
                }
            }
            JobEvent::PicturesPaired { pair } => {
                self.parted.retain(|(b, a)| *b != pair.before || *a != pair.after);
                self.pairs.retain(|p| p.before != pair.before || p.after != pair.after);
                self.pairs.push(pair);
            }
            JobEvent::PicturesParted { before, after } => {
                self.pairs.retain(|p| p.before != before || p.after != after);
                let both = (before, after);
                if !self.parted.contains(&both) {
                    self.parted.push(both);
                }
            }
            JobEvent::Offered { offer } => self.offers.push(offer),
            JobEvent::Accepted { acceptance } => {
                if let Some(option) = self.option(acceptance.offer, &acceptance.option) {
                    self.order = option.order.clone();
                }
                self.acceptance = Some(acceptance);
            }
            JobEvent::ChangeProposed { change } => self.changes.push(change),
            JobEvent::ChangeAgreed { no, signed, strokes } => {
                if let Some(change) = self.changes.iter_mut().find(|c| c.no == no) {
                    change.state = ChangeState::Agreed(signed);
                    change.strokes = strokes;
                    self.order = change.order.clone();
                    if change.back_by.is_some() {
                        self.promised = change.back_by;
                    }
                }
            }
            JobEvent::ChangeDeclined { no, signed, strokes } => {
                if let Some(change) = self.changes.iter_mut().find(|c| c.no == no) {
                    change.state = ChangeState::Declined(signed);
                    change.strokes = strokes;
                }
            }
            JobEvent::RouteSet { route } => {
                // What is under way goes on as the new route has it.
                for step in &route.steps {
                    if let Some(record) = self.work.get_mut(&step.no)
                        && matches!(record.state, StepState::Running | StepState::Paused)
                    {
                        record.planned = step.clone();
                    }
                }
                self.route = Some(route);
            }
            JobEvent::StepStarted { no, at, by } => self.start_step(no, at, by),
            JobEvent::StepPaused { no, at } => self.stop_step(no, at, StepState::Paused),
            JobEvent::StepFinished { no, at, by, note, lots, checked } => {
                if !self.work.contains_key(&no) {
                    self.start_step(no, at, by);
                }
                self.stop_step(no, at, StepState::Done);
                if let Some(record) = self.work.get_mut(&no) {
                    record.lots.extend(lots);
                    record.checked = checked;
                    if !note.is_empty() {
                        record.notes.push(note);
                    }
                }
            }
            JobEvent::StepUndone { no, .. } => self.undo_step(no),
            JobEvent::StepDropped { no, why } => {
                let planned = self.planned(no).cloned().unwrap_or_default();
                let record =
                    self.work.entry(no).or_insert_with(|| StepRecord { planned, ..StepRecord::default() });
                record.state = StepState::Dropped(why);
            }
            JobEvent::PiecesSet { pieces } => {
                for piece in pieces {
                    match self.pieces.iter_mut().find(|p| p.id == piece.id) {
                        Some(old) => *old = piece,
                        None => self.pieces.push(piece),
                    }
                }
            }
            JobEvent::LayoutWished { wish } => self.wish = *wish,
            JobEvent::ShapeTaken { shape } => {
                // a choice made on an older shape holds no more
                self.seams.retain(|s| s.panel != shape.panel);
                self.shapes.retain(|s| s.panel != shape.panel);
                self.cuts.retain(|c| c.panel != shape.panel);
                self.shapes.push(shape);
            }
            JobEvent::CutsConsidered { cuts } => {
                self.cuts.retain(|c| c.panel != cuts.panel);
                self.cuts.push(cuts);
            }
            JobEvent::SeamChosen { choice } => {
                // pieces of the plan before it go; those of this one come with it
                self.pieces.retain(|p| p.panel != choice.panel);
                self.seams.retain(|s| s.panel != choice.panel);
                self.seams.push(choice);
            }
            JobEvent::SidesPlanned { plan } => self.sides = Some(plan),
            JobEvent::CutPlanned { plan } => self.cut = Some(plan),
            JobEvent::CutDone { .. } => self.set_cut(CutState::Cut),
            JobEvent::CutUndone { .. } => self.set_cut(CutState::Undone),
            JobEvent::Laid { pieces } => self.laid.extend(pieces),
            JobEvent::HandedOver { handover } => self.handover = Some(handover),
            JobEvent::VisitsPlanned { visits } => {
                self.visits.retain(|v| v.state != VisitState::Due);
                self.visits.extend(visits);
            }
            JobEvent::VisitDone { index, seen } => {
                if let Some(visit) = self.visits.get_mut(index) {
                    visit.state = VisitState::Done(seen);
                }
            }
            JobEvent::Claimed { claim } => self.claims.push(claim),
            JobEvent::ClaimAnswered { index, answer } => {
                if let Some(claim) = self.claims.get_mut(index) {
                    claim.answer = Some(answer);
                }
            }
            JobEvent::ReminderSet { reminder } => {
                self.reminders.retain(|r| r.about != reminder.about);
                self.reminders.push(reminder);
            }
            JobEvent::Noted { note } => self.notes.push(note),
            JobEvent::Spoken { voice } => self.voices.push(voice),
            JobEvent::CalledOff { why } => self.called_off = Some(why),
        }
    }

    /// The first stage that is not finished.
    pub fn stage(&self) -> Stage {
        if self.handover.is_some() {
            Stage::Visits
        } else if self.arrival.as_ref().is_none_or(|a| a.signed.is_none()) {
            Stage::Arrival
        } else if self.survey_closed.is_none() {
            Stage::Survey
        } else if self.acceptance.is_none() {
            Stage::Offer
        } else if !self.route_follows_consent() {
            Stage::Route
        } else if self.order.film != crate::Coverage::None && self.cut.is_none() {
            Stage::Film
        } else if self.open_steps().next().is_some() {
            Stage::Work
        } else {
            Stage::Handover
        }
    }

    /// Whether the route was set after the customer agreed; before that there is at most a route for the survey.
    pub fn route_follows_consent(&self) -> bool {
        let agreed = self.acceptance.as_ref().map(|a| a.signed.at);
        self.route.as_ref().zip(agreed).is_some_and(|(route, at)| route.at >= at)
    }

    /// The same without the customer: for people who are not to see who it is. Names under signatures go too.
    pub fn without_customer(&self) -> Self {
        const SOMEBODY: &str = "the customer";
        let mut job = self.clone();
        job.customer = Customer::default();
        job.reminders.clear();
        job.acceptance.iter_mut().for_each(|a| a.strokes = Strokes::default());
        job.changes.iter_mut().for_each(|c| c.strokes = Strokes::default());
        let signatures = job.arrival.iter_mut().filter_map(|a| a.signed.as_mut());
        let signatures = signatures.chain(job.acceptance.iter_mut().map(|a| &mut a.signed));
        let signatures = signatures.chain(job.handover.iter_mut().filter_map(|h| h.signed.as_mut()));
        for signature in signatures.chain(job.changes.iter_mut().filter_map(|c| match &mut c.state {
            ChangeState::Agreed(s) | ChangeState::Declined(s) => Some(s),
            ChangeState::Proposed => None,
        })) {
            SOMEBODY.clone_into(&mut signature.name);
        }
        job
    }

    /// Marks of a picture, when there are any.
    pub fn marks_of(&self, picture: &PictureId) -> Option<&MarkedPicture> {
        self.marked.iter().find(|m| m.picture == *picture && !m.marks.is_empty())
    }

    /// Whether a picture is part of this job: by itself, or with a finding, a step or the handover.
    pub fn shows(&self, picture: &PictureId) -> bool {
        self.pictures.iter().any(|p| p.picture == *picture)
            || self.findings.iter().any(|f| f.pictures.contains(picture))
            || self.work.values().any(|r| r.pictures.contains(picture))
            || self.handover.iter().any(|h| h.pictures.contains(picture))
    }

    /// Findings that count.
    pub fn standing(&self) -> impl Iterator<Item = &Finding> {
        self.findings.iter().filter(|f| f.stands())
    }

    /// A finding by its number.
    pub fn finding(&self, no: FindingNo) -> Option<&Finding> {
        self.findings.iter().find(|f| f.no == no)
    }

    /// The number that the next finding gets.
    pub fn next_finding(&self) -> FindingNo {
        FindingNo(self.findings.iter().map(|f| f.no.0).max().unwrap_or(0) + 1)
    }

    /// The number that the next new step gets.
    pub fn next_step(&self) -> StepNo {
        let planned = self.route.iter().flat_map(|r| &r.steps).map(|s| s.no.0);
        StepNo(planned.chain(self.work.keys().map(|n| n.0)).max().unwrap_or(0) + 1)
    }

    /// An option of an offer.
    pub fn option(&self, offer: crate::OfferNo, option: &str) -> Option<&OfferOption> {
        self.offers.iter().find(|o| o.no == offer)?.options.iter().find(|o| o.id == option)
    }

    /// The option that was accepted.
    pub fn accepted(&self) -> Option<&OfferOption> {
        let acceptance = self.acceptance.as_ref()?;
        self.option(acceptance.offer, &acceptance.option)
    }

    /// A change order that waits for the customer.
    pub fn open_change(&self) -> Option<&ChangeOrder> {
        self.changes.iter().find(|c| c.state == ChangeState::Proposed)
    }

    /// A step of the route.
    pub fn planned(&self, no: StepNo) -> Option<&PlannedStep> {
        self.route.as_ref()?.steps.iter().find(|s| s.no == no)
    }

    /// Where a step stands.
    pub fn step_state(&self, no: StepNo) -> StepState {
        self.work.get(&no).map_or(StepState::Todo, |r| r.state.clone())
    }

    /// Steps of the route that are neither done nor dropped, in order.
    pub fn open_steps(&self) -> impl Iterator<Item = &PlannedStep> {
        self.route
            .iter()
            .flat_map(|r| &r.steps)
            .filter(|s| !matches!(self.step_state(s.no), StepState::Done | StepState::Dropped(_)))
    }

    /// Whether the job still wants work or an answer.
    pub fn is_open(&self) -> bool {
        self.handover.is_none() && self.called_off.is_none()
    }

    /// Readings of one moment.
    pub fn readings_at(&self, moment: Moment) -> impl Iterator<Item = &Reading> {
        self.readings.iter().filter(move |r| r.moment == moment)
    }

    fn finding_mut(&mut self, no: FindingNo) -> Option<&mut Finding> {
        self.findings.iter_mut().find(|f| f.no == no)
    }

    fn start_step(&mut self, no: StepNo, at: Timestamp, by: String) {
        let planned = self.planned(no).cloned().unwrap_or_default();
        let record = self.work.entry(no).or_insert_with(|| StepRecord { planned, ..StepRecord::default() });
        if matches!(record.state, StepState::Todo | StepState::Paused) {
            record.state = StepState::Running;
            record.spans.push(Span { from: at, to: None, by });
        }
    }

    fn stop_step(&mut self, no: StepNo, at: Timestamp, state: StepState) {
        let Some(record) = self.work.get_mut(&no) else { return };
        if matches!(record.state, StepState::Done | StepState::Dropped(_)) {
            return;
        }
        if let Some(open) = record.spans.iter_mut().rev().find(|s| s.to.is_none()) {
            open.to = Some(at);
        }
        record.state = state;
    }

    fn undo_step(&mut self, no: StepNo) {
        let Some(record) = self.work.get_mut(&no) else { return };
        match record.state {
            StepState::Running => {
                record.spans.pop();
                record.state = if record.spans.is_empty() { StepState::Todo } else { StepState::Paused };
            }
            StepState::Paused | StepState::Done => {
                // What was said at the finish is taken back with it.
                record.lots.clear();
                record.checked.clear();
                if let Some(last) = record.spans.last_mut() {
                    last.to = None;
                }
                record.state = StepState::Running;
            }
            StepState::Dropped(_) | StepState::Todo => {
                record.state = if record.spans.is_empty() { StepState::Todo } else { StepState::Paused };
            }
        }
        if record.state == StepState::Todo {
            self.work.remove(&no);
        }
    }

    fn set_cut(&mut self, state: CutState) {
        if let Some(plan) = &mut self.cut {
            plan.state = state;
        }
    }
}
