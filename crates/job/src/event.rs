//! What happens to a job.

use crate::{
    Acceptance, Arrival, Car, ChangeNo, ChangeOrder, Claim, ClaimAnswer, Customer, CutPlan, Finding,
    FindingNo, Handover, LaidPiece, LayoutWish, LotUse, Moment, Offer, Order, PanelCuts, PanelShape,
    PictureId, PictureMark, PicturePair, Piece, Place, Reading, Reminder, RouteSheet, SeamChoice, SidePlan,
    Signature, Stage, StepNo, Strokes, TestSpot, Thousandths, Visit, VoiceNote,
};
use jiff::Timestamp;
use serde::{Deserialize, Serialize};

/// A remark.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Note {
    /// When.
    pub at: Timestamp,
    /// Who.
    pub by: String,
    /// The remark.
    pub text: String,
}

/// What happens to a job. When and by whom stands in the journal's row and, where the state needs it, here too.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum JobEvent {
    /// A car was booked in.
    Booked {
        /// When.
        at: Timestamp,
        /// The car.
        car: Car,
        /// Its owner.
        customer: Customer,
        /// What is wanted.
        order: Order,
        /// Promised handover.
        promised: Option<Timestamp>,
        /// When the car is expected.
        expected: Option<Timestamp>,
    },
    /// What is known of the car changed.
    CarChanged {
        /// As it is now.
        car: Car,
    },
    /// What is known of the owner changed.
    CustomerChanged {
        /// As it is now.
        customer: Customer,
    },
    /// The customer wants something else (before an offer was accepted).
    OrderChanged {
        /// As it is now.
        order: Order,
    },
    /// A handover was promised, or the promise was moved.
    Promised {
        /// Promised handover.
        promised: Option<Timestamp>,
    },
    /// The car came in.
    Arrived {
        /// The arrival record.
        arrival: Arrival,
    },
    /// The customer signed the arrival record.
    ArrivalSigned {
        /// Signature.
        signed: Signature,
    },
    /// Something was found.
    Found {
        /// The finding with its number.
        finding: Finding,
    },
    /// A finding was described better.
    FindingChanged {
        /// As it is now.
        finding: Finding,
    },
    /// A finding was taken back.
    FindingWithdrawn {
        /// Which.
        no: FindingNo,
        /// Why.
        why: String,
    },
    /// Thickness was read.
    Measured {
        /// The readings.
        readings: Vec<Reading>,
    },
    /// Readings of a panel were taken back, to be taken again.
    ReadingsWithdrawn {
        /// The panel.
        place: Place,
        /// Which of them.
        moment: Moment,
        /// Why.
        why: String,
    },
    /// A method was tried on a test spot.
    TestSpotted {
        /// What was read.
        spot: TestSpot,
    },
    /// A test spot was taken back.
    TestSpotWithdrawn {
        /// Which, counted from 0 over those that stand.
        index: usize,
        /// Why.
        why: String,
    },
    /// The survey was closed.
    SurveyClosed {
        /// Signature.
        signed: Signature,
    },
    /// A picture was put into the record.
    Pictured {
        /// The picture.
        picture: PictureId,
        /// Name of the file as it came.
        name: String,
        /// Where on the car.
        place: Option<Place>,
        /// At which stage.
        stage: Stage,
        /// The finding that it shows.
        finding: Option<FindingNo>,
        /// The step during which it was taken.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        step: Option<StepNo>,
    },
    /// Something was marked on a picture.
    PictureMarked {
        /// The picture.
        picture: PictureId,
        /// Height of the upright picture.
        tall: Thousandths,
        /// The mark with its number.
        mark: PictureMark,
    },
    /// A mark was taken off a picture.
    PictureMarkRemoved {
        /// The picture.
        picture: PictureId,
        /// Number of the mark.
        no: u32,
    },
    /// Two pictures show the same place before and after.
    PicturesPaired {
        /// The two.
        pair: PicturePair,
    },
    /// Two pictures do not belong together after all.
    PicturesParted {
        /// Before.
        before: PictureId,
        /// After.
        after: PictureId,
    },
    /// Options were put before the customer.
    Offered {
        /// The offer.
        offer: Offer,
    },
    /// The customer agreed to an option.
    Accepted {
        /// The consent.
        acceptance: Acceptance,
    },
    /// A change of scope was proposed.
    ChangeProposed {
        /// The change order.
        change: ChangeOrder,
    },
    /// A change of scope was agreed to.
    ChangeAgreed {
        /// Which.
        no: ChangeNo,
        /// Signature.
        signed: Signature,
        /// The signature as it was drawn.
        #[serde(default, skip_serializing_if = "Strokes::is_empty")]
        strokes: Strokes,
    },
    /// A change of scope was declined.
    ChangeDeclined {
        /// Which.
        no: ChangeNo,
        /// Signature.
        signed: Signature,
        /// The signature as it was drawn.
        #[serde(default, skip_serializing_if = "Strokes::is_empty")]
        strokes: Strokes,
    },
    /// The route was set, or set anew for what is left.
    RouteSet {
        /// The route.
        route: RouteSheet,
    },
    /// Work on a step began.
    StepStarted {
        /// Which.
        no: StepNo,
        /// When.
        at: Timestamp,
        /// Who.
        by: String,
    },
    /// Work on a step stopped for now.
    StepPaused {
        /// Which.
        no: StepNo,
        /// When.
        at: Timestamp,
    },
    /// A step is finished.
    StepFinished {
        /// Which.
        no: StepNo,
        /// When.
        at: Timestamp,
        /// Who.
        by: String,
        /// A remark.
        note: String,
        /// Lots used.
        lots: Vec<LotUse>,
        /// What was looked at and found in order, in words.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        checked: Vec<String>,
    },
    /// The last start, pause or finish was a slip of the hand.
    StepUndone {
        /// Which.
        no: StepNo,
        /// When.
        at: Timestamp,
    },
    /// A step is left out.
    StepDropped {
        /// Which.
        no: StepNo,
        /// Why.
        why: String,
    },
    /// Outlines of pieces were taken in; each replaces the piece of the same name.
    PiecesSet {
        /// The pieces.
        pieces: Vec<Piece>,
    },
    /// Somebody chose how pieces are laid out, or put them somewhere.
    LayoutWished {
        /// How.
        wish: Box<LayoutWish>,
    },
    /// The shape of a panel was taken: by a scan or by tape measures. It replaces an older one.
    ShapeTaken {
        /// The shape.
        shape: PanelShape,
    },
    /// Zones were marked on a panel, or plans for cuts computed: all there is of the panel, in place of what there was.
    CutsConsidered {
        /// Zones and plans.
        cuts: PanelCuts,
    },
    /// It was chosen how the film of a panel is cut: whole, with relief cuts, or with seams.
    SeamChosen {
        /// The choice.
        choice: SeamChoice,
    },
    /// It was chosen where the seams on the sides lie.
    SidesPlanned {
        /// The choice.
        plan: SidePlan,
    },
    /// A cut plan was accepted: film is reserved.
    CutPlanned {
        /// The plan.
        plan: CutPlan,
    },
    /// The reserved film was cut.
    CutDone {
        /// When.
        at: Timestamp,
    },
    /// The cut plan was undone before cutting.
    CutUndone {
        /// When.
        at: Timestamp,
    },
    /// Pieces were laid on the car.
    Laid {
        /// The pieces.
        pieces: Vec<LaidPiece>,
    },
    /// The car was given back.
    HandedOver {
        /// The handover.
        handover: Handover,
    },
    /// Visits were planned.
    VisitsPlanned {
        /// The visits; they replace those still to come.
        visits: Vec<Visit>,
    },
    /// A visit happened.
    VisitDone {
        /// Which, counted from 0.
        index: usize,
        /// What was seen.
        seen: String,
    },
    /// Something failed after the handover.
    Claimed {
        /// The claim.
        claim: Claim,
    },
    /// The shop answered a claim.
    ClaimAnswered {
        /// Which, counted from 0.
        index: usize,
        /// What was said.
        answer: ClaimAnswer,
    },
    /// A reminder was written anew, sent by somebody, or left; it replaces the one about the same thing.
    ReminderSet {
        /// The reminder.
        reminder: Reminder,
    },
    /// A remark.
    Noted {
        /// The remark.
        note: Note,
    },
    /// A remark was spoken.
    Spoken {
        /// The remark.
        voice: VoiceNote,
    },
    /// The job was called off.
    CalledOff {
        /// Why.
        why: String,
    },
}

/// A picture in the record.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct PictureEntry {
    /// The picture.
    pub picture: PictureId,
    /// Name of the file as it came.
    pub name: String,
    /// Where on the car.
    pub place: Option<Place>,
    /// At which stage.
    pub stage: Stage,
    /// The finding that it shows.
    pub finding: Option<FindingNo>,
}
