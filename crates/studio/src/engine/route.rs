//! A job's findings and order for the route engine, and its route as steps of the job.

use super::{Case, WHOLE_CAR, film, paint};
use crate::refusal::Refusal;
use crate::studio::{Studio, body_of, zone_of};
use crate::view::Caution;
use ::route::{
    Air, Facts, Group, Library, Outcome, Place, Room, RoomKind, RouteStep, Situation, Skill, StepUse, Want,
};
use body::{Body, PanelKind};
use effort::Effort;
use jiff::{Timestamp, ToSpan};
use job::{
    After, CarHistory, ChangeState, CoatTarget, Drive, Finding, FindingKind, Finish, Job, Moment, Order,
    PaintFinish, PanelId, PlannedStep, ProductUse, RouteSheet, Severity, Shop, Soil, StepNo, StepState,
    Visit, VisitState,
};
use std::collections::BTreeSet;
use std::sync::Arc;
use units::{Area, Duration, Thickness};

/// Steps of work that a route may take.
const EFFORT: u64 = 20_000;

/// Surfaces that no body drawing shows.
const INSIDE: [(&str, &str, f64, u32); 3] = [
    ("leather_seats", "leather", 6.0, 5),
    ("carpet", "fabric", 4.0, 1),
    ("inside_trim", "inside_trim", 5.0, 1),
];

/// The step library that the shop uses.
///
/// # Errors
/// When the shop's own library is broken.
pub fn library(studio: &Studio, shop: &Shop) -> Result<Arc<Library>, Refusal> {
    let text = shop.settings.steps.as_deref().unwrap_or_else(|| Library::built_in_text());
    let result = studio.results.get("library", &text, || parse_library(text, "step library").map(Arc::new));
    (*result).clone()
}

/// Reads a step library.
///
/// # Errors
/// Names every flaw with its line.
pub fn parse_library(text: &str, origin: &str) -> Result<Library, Refusal> {
    Library::parse(text, origin).map_err(|flaws| {
        let first: Vec<String> = flaws.iter().take(5).map(ToString::to_string).collect();
        Refusal::invalid(
            format!("The step library has {} flaws. {}", flaws.len(), first.join(" ")),
            "Mend these lines, or go back to the built-in library.",
        )
    })
}

/// What a route is wanted for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Until {
    /// Cleaning and survey: all that may be done before the customer has agreed to anything.
    Surveyed,
    /// Everything ordered, up to the handover.
    HandedOver,
}

/// The facts as they are now: what was found at the door, then everything that was done, found and agreed since, in the
/// order in which it happened.
pub fn situation(
    case: Case<'_>,
    library: &Library,
    order: &Order,
    until: Until,
) -> Result<Situation, Refusal> {
    let Case { studio, job, history, shop } = case;
    let body = body_of(job);
    let covered: BTreeSet<PanelId> = film::covered(order, body).into_iter().collect();
    let mut situation = Situation::new();
    for group in surfaces(job, body, history, order, &covered) {
        situation = situation.group(group);
    }
    for bay in &shop.settings.bays {
        let serves = [RoomKind::WashBay, RoomKind::CorrectionBay, RoomKind::CleanRoom]
            .into_iter()
            .filter(|k| bay.kinds.contains(k.id()));
        situation = situation.room(Room::new(&bay.name, serves));
    }
    car_facts(&mut situation, job, order, &covered);
    let mut situation = replay(library, situation, job);
    settle_consent(&mut situation, job);
    limits(studio, &mut situation, job, history, shop, body)?;
    situation.wants = wants(case, &situation, order, &covered, until)?;
    accept_marks(&mut situation, until);
    Ok(situation)
}

fn surfaces(
    job: &Job,
    body: &Body,
    history: &CarHistory,
    order: &Order,
    covered: &BTreeSet<PanelId>,
) -> Vec<Group> {
    let soil = match job.arrival.as_ref().map_or(Soil::Light, |a| a.soil) {
        Soil::Light => 1,
        Soil::Heavy => 2,
        Soil::VeryHeavy => 3,
    };
    let mut groups = Vec::new();
    for panel in body.panels() {
        let id: PanelId = panel.id.into();
        let old = has_film(job, history, &id);
        let off = order.remove_film.iter().any(|p| *p == id || p.as_str() == WHOLE_CAR)
            || (old && covered.contains(&id))
            || (old && damaged(job, &id) && covered.contains(&id));
        let kind = match panel.kind {
            PanelKind::Paint | PanelKind::Lamp if old && !off => "film",
            PanelKind::Paint => "paint",
            PanelKind::Lamp => "lens",
            PanelKind::Glass => "glass",
            PanelKind::Trim => "trim",
            PanelKind::Fabric => "soft_top",
            PanelKind::Wheel => "wheel",
        };
        let mut group = Group::new(panel.id, kind, panel.area)
            .panels([panel.title.to_lowercase()])
            .fact("loose_soil", soil);
        if kind == "wheel" {
            group.area = Area::ZERO;
            if soil > 1 {
                group = group.fact("brake_dust", 1);
            }
        }
        if old && off && ["paint", "lens"].contains(&kind) {
            group = group.fact("old_film", 1);
        }
        if job.car.paint == PaintFinish::Matte && kind == "paint" {
            group = group.fact("matte", 1);
        }
        groups.push(group);
    }
    groups.push(Group::new("tires", "tire", Area::ZERO).items(4).fact("loose_soil", soil));
    let inside = order.interior
        || order.coatings.contains(&CoatTarget::Leather)
        || order.coatings.contains(&CoatTarget::Fabric);
    if inside {
        for (id, kind, area, items) in INSIDE {
            let mut group = Group::new(id, kind, Area::m2(area))
                .panels([id.replace('_', " ")])
                .items(items)
                .fact("loose_soil", 1);
            if order.interior || kind != "inside_trim" {
                group = group.fact("grime", 1);
            }
            groups.push(group);
        }
    }
    groups
}

/// Whether film lies on a panel: by the car's history, by a finding, or because the order says it comes off.
pub(crate) fn has_film(job: &Job, history: &CarHistory, panel: &PanelId) -> bool {
    let before = history
        .film
        .iter()
        .any(|f| f.piece.panel == *panel && f.off.is_none() && !job.laid.contains(&f.piece));
    before
        || job.order.remove_film.iter().any(|p| p == panel)
        || job.standing().any(|f| {
            matches!(f.kind, FindingKind::OldFilm | FindingKind::FilmDamage | FindingKind::FilmLift)
                && [panel.as_str(), WHOLE_CAR].contains(&f.place.panel.as_str())
        })
}

fn damaged(job: &Job, panel: &PanelId) -> bool {
    job.standing()
        .any(|f| matches!(f.kind, FindingKind::FilmDamage | FindingKind::FilmLift) && f.place.panel == *panel)
}

fn car_facts(situation: &mut Situation, job: &Job, order: &Order, covered: &BTreeSet<PanelId>) {
    if job.arrival.as_ref().is_some_and(|a| a.signed.is_some()) {
        situation.car.set("arrival_recorded", 1);
    }
    if order.interior && job.arrival.as_ref().is_some_and(|a| !a.belongings.trim().is_empty()) {
        situation.car.set("belongings", 1);
    }
    if job.car.drive != Drive::Combustion {
        situation.car.set("charge_port_open", 1);
    }
    let over_sensors =
        ["front_bumper", "rear_bumper", "windshield"].iter().any(|p| covered.contains(&PanelId::from(*p)));
    if over_sensors
        || order.coatings.contains(&CoatTarget::Paint)
        || order.coatings.contains(&CoatTarget::Film)
    {
        situation.car.set("sensors_unchecked", 1);
    }
}

enum Happened<'a> {
    Found(&'a Finding),
    Done(StepUse),
    Agreed,
}

/// Plays what happened onto the facts. A step that broke a rule counts as done all the same: it was.
fn replay(library: &Library, mut situation: Situation, job: &Job) -> Situation {
    let mut line: Vec<(Timestamp, u32, Happened<'_>)> = Vec::new();
    for finding in job.standing() {
        line.push((finding.at, 0, Happened::Found(finding)));
    }
    for (no, record) in &job.work {
        let end = record.spans.last().and_then(|s| s.to);
        if let (StepState::Done, Some(end)) = (&record.state, end) {
            let groups = record.planned.panels.iter().map(|p| p.0.clone());
            line.push((end, no.0, Happened::Done(StepUse::new(&record.planned.step, groups))));
        }
    }
    if let Some(acceptance) = &job.acceptance {
        line.push((acceptance.signed.at, 0, Happened::Agreed));
    }
    for change in &job.changes {
        if let ChangeState::Agreed(signed) | ChangeState::Declined(signed) = &change.state {
            line.push((signed.at, 0, Happened::Agreed));
        }
    }
    line.sort_by_key(|a| (a.0, a.1));
    for (_, _, happened) in line {
        match happened {
            Happened::Found(finding) => found(&mut situation, finding),
            Happened::Done(used) => {
                let mut used = used;
                used.groups.retain(|g| situation.groups.iter().any(|h| h.id == *g));
                let end = ::route::check(library, &situation, &[used]).end;
                situation = situation.at(&end);
            }
            Happened::Agreed => {
                situation.car.set("consent", 1);
                situation.car.set("scope_open", 0);
            }
        }
    }
    situation
}

/// What a finding means for the surfaces that it is on.
fn found(situation: &mut Situation, finding: &Finding) {
    let everywhere = finding.place.panel.as_str() == WHOLE_CAR;
    let heavier = finding.severity > Severity::Light;
    for group in &mut situation.groups {
        let here = group.id == finding.place.panel.as_str();
        let body_kind = ["paint", "lens", "glass", "film", "trim"].contains(&group.kind.as_str());
        if !(here || everywhere && (body_kind || finding.kind == FindingKind::Wheel && group.kind == "wheel"))
        {
            continue;
        }
        let painted = group.kind == "paint" || group.kind == "lens";
        let mut raise = |fact: &str, level: u8| {
            let level = level.max(group.facts.level(fact));
            group.facts.set(fact, level);
        };
        match finding.kind {
            FindingKind::Adhesive => raise("adhesive", if heavier { 2 } else { 1 }),
            FindingKind::Tar => raise("tar", 1),
            FindingKind::BondedGrit | FindingKind::Overspray
                if group.kind != "trim" && group.kind != "film" =>
            {
                raise("bonded_grit", 1);
            }
            FindingKind::Iron => raise("iron", 1),
            // Marked swirls are too deep for a finishing polish alone.
            FindingKind::Swirls if painted => raise("marks", if heavier { 2 } else { 1 }),
            FindingKind::Scratch | FindingKind::Etching if painted => {
                raise("marks", if heavier { 2 } else { 1 })
            }
            FindingKind::SandingMarks if painted => raise("marks", 3),
            FindingKind::Leather if group.kind == "leather" => raise("grime", 1),
            FindingKind::Fabric if group.kind == "fabric" => raise("stain", 1),
            FindingKind::Wheel if group.kind == "wheel" => raise("brake_dust", 1),
            _ => {}
        }
    }
}

fn settle_consent(situation: &mut Situation, job: &Job) {
    if job.survey_closed.is_some() {
        situation.car.set("surveyed", 1);
        situation.car.set("readings", 1);
    }
    if job.open_change().is_some() {
        situation.car.set("scope_open", 1);
        situation.car.set("consent", 0);
    }
}

/// Panels whose clear coat must not be touched are named to the engine, so that no route polishes them.
fn limits(
    studio: &Studio,
    situation: &mut Situation,
    job: &Job,
    history: &CarHistory,
    shop: &Shop,
    body: &Body,
) -> Result<(), Refusal> {
    let survey = paint::survey(studio, job, history, shop, Moment::Before)?;
    for panel in paint::painted(body) {
        let spent = survey.panel(panel.id).is_some_and(|e| e.removable.amount <= Thickness::ZERO);
        if let Some(group) = situation.groups.iter_mut().find(|g| g.id == panel.id)
            && spent
        {
            group.facts.set("thin_clear", 1);
        }
    }
    Ok(())
}

fn wants(
    case: Case<'_>,
    situation: &Situation,
    order: &Order,
    covered: &BTreeSet<PanelId>,
    until: Until,
) -> Result<Vec<Want>, Refusal> {
    let Case { studio, job, history, shop } = case;
    let car = |goal: &str| Want { place: Place::Car, goal: goal.to_owned() };
    if until == Until::Surveyed {
        // The whole outside is washed, not only what the survey looks at: a half-washed car drips on what is measured.
        let outside = situation
            .groups
            .iter()
            .filter(|g| !["leather", "fabric", "inside_trim"].contains(&g.kind.as_str()));
        let cleaned = outside.map(|g| Want { place: Place::Group(g.id.clone()), goal: "cleaned".into() });
        return Ok([car("arrival"), car("surveyed")].into_iter().chain(cleaned).collect());
    }
    let survey = paint::survey(studio, job, history, shop, Moment::Before)?;
    let protect = !covered.is_empty() || !order.coatings.is_empty() || order.finish > Finish::Clean;
    let mut wants = vec![car("arrival"), car("surveyed"), car("handover")];
    for group in &situation.groups {
        let mut want =
            |goal: &str| wants.push(Want { place: Place::Group(group.id.clone()), goal: goal.to_owned() });
        want("cleaned");
        if protect && ["paint", "lens", "glass", "film"].contains(&group.kind.as_str()) {
            want("decontaminated");
        }
        let id: PanelId = group.id.as_str().into();
        if order.remove_film.contains(&id) && ["paint", "lens"].contains(&group.kind.as_str()) {
            want("film_removed");
        }
        if group.kind == "paint"
            && let Some(goal) = correction_goal(studio, job, shop, order, &survey, group)
        {
            want(goal);
        }
        let film = covered.contains(&id) && ["paint", "lens"].contains(&group.kind.as_str());
        if film {
            want("filmed");
        }
        if coats(order, group, film) {
            want("coated");
        }
    }
    Ok(wants)
}

/// Marks that the agreed scope leaves, because nothing was ordered for them or the clear coat forbids it, are accepted as
/// they are: the offer names them as not attempted, and film or coating goes over them.
fn accept_marks(situation: &mut Situation, until: Until) {
    if until == Until::Surveyed {
        return;
    }
    let corrected: BTreeSet<String> = situation
        .wants
        .iter()
        .filter(|w| w.goal.starts_with("corrected"))
        .filter_map(|w| match &w.place {
            Place::Group(id) => Some(id.clone()),
            _ => None,
        })
        .collect();
    for group in situation.groups.iter_mut().filter(|g| !corrected.contains(&g.id)) {
        group.facts.set("marks", 0);
    }
}

/// What correction a panel gets: none where nothing is ordered, no mark stands, or the clear coat forbids it.
fn correction_goal(
    studio: &Studio,
    job: &Job,
    shop: &Shop,
    order: &Order,
    survey: &::paint::Survey,
    group: &Group,
) -> Option<&'static str> {
    let marks = group.facts.level("marks");
    if order.finish == Finish::Clean
        || marks == 0
        || group.facts.level("thin_clear") > 0
        || group.facts.level("matte") > 0
    {
        return None;
    }
    let panel = body_of(job).panel(&group.id)?;
    let plan = paint::correction(studio, job, shop, order.finish, survey.panel(panel.id)?, panel)?;
    match (&plan.advice, order.finish) {
        (::paint::Advice::NothingToDo, _) => None,
        (::paint::Advice::LeaveIt(l), _) => {
            l.best_safe.as_ref().map(|_| "corrected_one_stage").filter(|_| marks > 1)
        }
        (::paint::Advice::Correct(_), Finish::Gloss) if marks > 1 => Some("corrected_one_stage"),
        (::paint::Advice::Correct(_), _) => Some("corrected_two_stage"),
    }
}

fn coats(order: &Order, group: &Group, film: bool) -> bool {
    let has = |target: CoatTarget| order.coatings.contains(&target);
    match group.kind.as_str() {
        "paint" | "lens" if film => has(CoatTarget::Film),
        "film" => has(CoatTarget::Film),
        "paint" => has(CoatTarget::Paint),
        "wheel" => has(CoatTarget::Wheels),
        "glass" => has(CoatTarget::Glass),
        "leather" => has(CoatTarget::Leather),
        "fabric" => has(CoatTarget::Fabric),
        _ => false,
    }
}

/// A route as it would be set now.
#[derive(Clone, Debug)]
pub struct Draft {
    /// The steps; numbers go on from those that the job has.
    pub steps: Vec<PlannedStep>,
    /// Why there is none, with the way out.
    pub problem: Option<String>,
}

/// Derives what is left to do for an order.
///
/// # Errors
/// When the step library is broken.
pub fn derive(
    studio: &Studio,
    job: &Job,
    history: &CarHistory,
    shop: &Shop,
    order: &Order,
    until: Until,
) -> Result<Draft, Refusal> {
    let library = library(studio, shop)?;
    let situation = situation(Case { studio, job, history, shop }, &library, order, until)?;
    let first = job.next_step();
    let key = (&situation, first, shop.settings.steps.as_deref());
    let outcome =
        studio.results.get("route", &key, || ::route::derive(&library, &situation, &Effort::steps(EFFORT)));
    Ok(match &*outcome {
        Outcome::Found(route) => {
            Draft { steps: planned(&library, &situation, &route.steps, first), problem: None }
        }
        Outcome::None(none) => {
            let ways: Vec<&str> = none.obstacles.iter().take(4).map(|o| o.text.as_str()).collect();
            let problem = format!("{} {} {}", none.reason, ways.join(" "), none.hint);
            Draft {
                steps: Vec::new(),
                problem: Some(problem.split_whitespace().collect::<Vec<_>>().join(" ")),
            }
        }
    })
}

/// What a step waits for, by the numbers of its job.
fn links(step: &RouteStep, number: impl Fn(usize) -> StepNo) -> Vec<After> {
    let direct = step.after.iter().map(|j| {
        let lag = step.lags.iter().find(|l| l.after == *j);
        After {
            step: number(*j),
            least: lag.map_or(Duration::ZERO, |l| l.least),
            most: lag.and_then(|l| l.most),
        }
    });
    let limits = step.lags.iter().filter(|l| !step.after.contains(&l.after));
    direct.chain(limits.map(|l| After { step: number(l.after), least: l.least, most: l.most })).collect()
}

fn planned(library: &Library, situation: &Situation, steps: &[RouteStep], first: StepNo) -> Vec<PlannedStep> {
    let number = |i: usize| StepNo(first.0 + i as u32);
    steps
        .iter()
        .enumerate()
        .map(|(i, step)| {
            let area = situation.groups.iter().filter(|g| step.groups.contains(&g.id)).map(|g| g.area).sum();
            let after = links(step, number);
            let dilution = |name: &str| {
                let known = library.step(&step.step)?.products.iter().find(|p| p.name == name)?;
                (known.dilution.water > 0.0).then_some(known.dilution.water)
            };
            PlannedStep {
                no: number(i),
                step: step.step.clone(),
                title: step.title.clone(),
                panels: step.groups.iter().map(|g| g.as_str().into()).collect(),
                area,
                work: step.minutes,
                skill: Some(skill_name(step.skill).to_owned()),
                people: u32::from(step.people),
                room: match (step.skill, step.room) {
                    (Skill::Desk, RoomKind::Any) => String::new(),
                    (_, room) => room.id().to_owned(),
                },
                air: match step.air {
                    Air::Dusty => "dusty",
                    Air::Clean => "clean",
                    Air::Neutral => "neutral",
                }
                .to_owned(),
                tools: step.tools.clone(),
                products: step
                    .products
                    .iter()
                    .map(|p| ProductUse {
                        product: p.name.clone(),
                        amount: p.concentrate,
                        parts_water: dilution(&p.name),
                    })
                    .collect(),
                after,
                wait: step.wait.least,
                cautions: step.cautions.clone(),
                why: step.why.iter().map(|r| r.text.clone()).collect(),
                pictures: !step.pictures.is_empty(),
                check: step.check.is_some(),
            }
        })
        .collect()
}

/// The name of a skill in settings and plans.
pub fn skill_name(skill: Skill) -> &'static str {
    match skill {
        Skill::Wash => "wash",
        Skill::Correction => "correction",
        Skill::Film => "film",
        Skill::Coating => "coating",
        Skill::Interior => "interior",
        Skill::Driver => "driver",
        Skill::Desk => "desk",
    }
}

/// All skills that settings can give to people.
pub const SKILLS: [&str; 7] = ["wash", "correction", "film", "coating", "interior", "driver", "desk"];

/// All kinds of room that settings can give to bays.
pub const ROOMS: [&str; 3] = ["wash_bay", "correction_bay", "clean_room"];

/// An open step: its number, what it waits for, and why it is there.
pub type OpenStep = (StepNo, Vec<After>, Vec<String>);

/// What is wrong with a route as things stand now, and the nearest one that holds.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Judgment {
    /// Broken rules and goals left open, in words; empty when the route holds.
    pub breaches: Vec<String>,
    /// What to change for a valid order, in words; empty when none was found.
    pub nearest: String,
    /// What the open steps wait for and why they are there, in their order; none when a rule is broken.
    pub open: Option<Vec<OpenStep>>,
}

/// Rules that a set route breaks as things stand now; what is done counts as done.
///
/// # Errors
/// When the step library is broken.
pub fn breaches(
    studio: &Studio,
    job: &Job,
    history: &CarHistory,
    shop: &Shop,
    sheet: &RouteSheet,
) -> Result<Vec<String>, Refusal> {
    Ok(judge(Case { studio, job, history, shop }, sheet)?.breaches)
}

/// Judges a route as things stand now; what is done counts as done.
///
/// # Errors
/// When the step library is broken.
pub fn judge(case: Case<'_>, sheet: &RouteSheet) -> Result<Judgment, Refusal> {
    let Case { studio, job, shop, .. } = case;
    let library = library(studio, shop)?;
    let situation = situation(case, &library, &job.order, crate::command::route::until(job))?;
    let todo: Vec<&PlannedStep> = sheet
        .steps
        .iter()
        .filter(|s| !matches!(job.step_state(s.no), StepState::Done | StepState::Dropped(_)))
        .collect();
    let uses: Vec<StepUse> =
        todo.iter().map(|s| StepUse::new(&s.step, s.panels.iter().map(|p| p.0.clone()))).collect();
    let verdict = ::route::check(&library, &situation, &uses);
    let mut breaches: Vec<String> = verdict
        .broken
        .iter()
        .map(|b| format!("{}: {}. {}", b.title, b.harm.trim_end_matches('.'), b.remedy))
        .collect();
    breaches.extend(verdict.open.iter().map(|o| o.text.clone()));
    breaches.dedup();
    let nearest = verdict.nearest.map_or_else(String::new, |n| {
        let lead = if n.proved {
            "The nearest valid order"
        } else {
            "A valid order near it, not proved the nearest"
        };
        format!("{lead}: {}", n.changes.join(" "))
    });
    let open = ::route::describe(&library, &situation, &uses).map(|steps| {
        let number = |i: usize| todo[i].no;
        steps
            .iter()
            .zip(&todo)
            .map(|(s, t)| (t.no, links(s, number), s.why.iter().map(|r| r.text.clone()).collect()))
            .collect()
    });
    Ok(Judgment { breaches, nearest, open })
}

/// A step of the library that is not on the route yet, for these panels.
///
/// # Errors
/// When the step library is broken or does not have the step.
pub fn single(case: Case<'_>, step: &str, panels: &[PanelId], no: StepNo) -> Result<PlannedStep, Refusal> {
    let Case { studio, job, shop, .. } = case;
    let library = library(studio, shop)?;
    let situation = situation(case, &library, &job.order, crate::command::route::until(job))?;
    let used = StepUse::new(step, panels.iter().map(|p| p.0.clone()));
    let found = ::route::single(&library, &situation, &used)
        .and_then(|step| planned(&library, &situation, &[step], no).pop());
    found.ok_or_else(|| Refusal::not_found("The step library has no such step", "Choose one from the list."))
}

/// Cautions of a step as they are shown.
pub fn cautions(library: &Library, ids: &[String]) -> Vec<Caution> {
    ids.iter()
        .filter_map(|id| library.caution(id))
        .map(|c| Caution { title: caution_title(&c.id), text: c.text.clone() })
        .collect()
}

fn caution_title(id: &str) -> String {
    let words = id.replace('_', " ");
    let mut chars = words.chars();
    chars.next().map_or_else(String::new, |c| c.to_uppercase().chain(chars).collect())
}

/// Visits after a handover, from the care table of the step library.
pub(crate) fn visits(job: &Job, shop: &Shop, now: Timestamp) -> Result<Vec<Visit>, Refusal> {
    let text = shop.settings.steps.as_deref().unwrap_or_else(|| Library::built_in_text());
    let library = parse_library(text, "step library")?;
    let today = now.to_zoned_datetime(zone_of(shop)).date();
    let coated = |kinds: &[String]| {
        job.order.coatings.iter().any(|c| {
            let kind = match c {
                CoatTarget::Paint => "paint",
                CoatTarget::Film => "film",
                CoatTarget::Wheels => "wheel",
                CoatTarget::Glass => "glass",
                CoatTarget::Leather => "leather",
                CoatTarget::Fabric => "fabric",
            };
            kinds.iter().any(|k| k == kind)
        })
    };
    let mut visits: Vec<Visit> = library
        .care()
        .iter()
        .filter(|care| match care.fact.as_deref() {
            None => true,
            Some("filmed" | "settling") => !job.laid.is_empty(),
            Some("coated") => coated(&care.kinds),
            Some(_) => false,
        })
        .filter_map(|care| {
            let due = today.checked_add((care.least.as_days().round() as i64).days()).ok()?;
            Some(Visit { what: care.what.clone(), due, state: VisitState::Due })
        })
        .collect();
    visits.sort_by(|a, b| a.due.cmp(&b.due).then(a.what.cmp(&b.what)));
    Ok(visits)
}

/// Facts of a group in words, for the page that shows why.
pub fn facts_in_words(library: &Library, facts: &Facts) -> Vec<String> {
    facts.iter().filter_map(|(id, level)| library.fact(id).map(|f| f.at(level))).collect()
}
