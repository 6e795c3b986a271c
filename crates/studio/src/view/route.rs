//! Route and work: the steps, why they are there, where they stand.

use crate::command::step::{ended, needs};
use crate::engine;
use crate::figure::Figure;
use crate::refusal::Refusal;
use crate::studio::{Studio, zone_of};
use crate::view::Caution;
use jiff::Timestamp;
use job::{Booking, Drive, Job, JobId, PlannedStep, Shop, StepNo, StepRecord, StepState};
use route::Library;
use units::{Duration, Volume};

/// A step on the route sheet and on its card.
#[derive(Clone, Debug)]
pub struct StepView {
    /// The step as planned.
    pub planned: PlannedStep,
    /// Where it stands.
    pub state: StepState,
    /// What was done of it.
    pub record: Option<StepRecord>,
    /// When, where and by whom the known plan has it.
    pub booking: Option<Booking>,
    /// When it could begin at the earliest, by waits after steps that are over; none while such steps are not over.
    pub ready_at: Option<Timestamp>,
    /// What must be over first, in words; empty when it can begin.
    pub needs: Vec<String>,
    /// Cautions that apply.
    pub cautions: Vec<Caution>,
    /// Amounts for the bucket, air and dew point, vapor: each explained.
    pub figures: Vec<Figure>,
    /// Lots on the shelf for its products: product and lots with what is left and expiry.
    pub lots: Vec<(String, Vec<job::Lot>)>,
    /// Something to mind before it begins, loudly: dew point too near, air not settled, lot expired.
    pub warnings: Vec<String>,
    /// Pictures wanted or checks to sign, in words.
    pub wanted: Vec<String>,
}

/// The route.
#[derive(Clone, Debug, Default)]
pub struct RouteView {
    /// Steps, those done first, then in order.
    pub steps: Vec<StepView>,
    /// Work in all.
    pub work: Duration,
    /// Whether this route was set, or is only what would be set now.
    pub set: bool,
    /// Why there is no valid route, with the way out.
    pub problem: Option<String>,
    /// Rules that the set route breaks: rule, harm, remedy.
    pub breaches: Vec<String>,
    /// What was found or agreed since the route was set, so that it should be set anew; empty otherwise.
    pub stale: Option<String>,
    /// Every step of the library, by id and title, in its own order.
    pub library: Vec<(String, String)>,
}

/// The bucket for which mixes are made up.
const BUCKET: Volume = Volume::l(10.0);

impl Studio {
    /// The route of a job as it was set; without one, as it would be set now.
    ///
    /// # Errors
    /// When there is no such job or the step library is broken.
    pub fn route_view(&self, id: &JobId) -> Result<RouteView, Refusal> {
        let entry = self.job(id)?;
        let job = &*entry.job;
        let shop = self.shop()?;
        let history = self.history(&job.car.plate)?;
        let library = engine::route::library(self, &shop)?;
        let now = self.now();
        let mut view = RouteView::default();
        let mut steps: Vec<PlannedStep> = Vec::new();
        match &job.route {
            Some(sheet) => {
                view.set = true;
                view.breaches = engine::route::breaches(self, job, &history, &shop, sheet)?;
                view.stale = stale(job, &view.breaches);
                steps.extend(
                    job.work
                        .iter()
                        .filter(|(no, r)| over(&r.state) && sheet.steps.iter().all(|s| s.no != **no))
                        .map(|(_, r)| r.planned.clone()),
                );
                steps.extend(sheet.steps.iter().cloned());
            }
            None => {
                let until = crate::command::route::until(job);
                let draft = engine::route::derive(self, job, &history, &shop, &job.order, until)?;
                view.problem = draft.problem;
                steps = draft.steps;
            }
        }
        view.library = library.steps().iter().map(|s| (s.id.clone(), s.title.clone())).collect();
        view.work = steps.iter().map(|s| s.work).sum();
        view.steps = steps.iter().map(|planned| step_view(id, job, &shop, &library, planned, now)).collect();
        Ok(view)
    }

    /// One step of a job, for its card.
    ///
    /// # Errors
    /// When there is no such job or step.
    pub fn step_view(&self, id: &JobId, no: StepNo) -> Result<StepView, Refusal> {
        let view = self.route_view(id)?;
        view.steps.into_iter().find(|s| s.planned.no == no).ok_or_else(|| {
            Refusal::not_found(
                format!("There is no step {no} on the route"),
                "Open the route again: it may have been set anew.",
            )
        })
    }
}

fn over(state: &StepState) -> bool {
    matches!(state, StepState::Done | StepState::Dropped(_))
}

/// What happened since the route was set that makes another route right.
fn stale(job: &Job, breaches: &[String]) -> Option<String> {
    let route = job.route.as_ref()?;
    if job.acceptance.as_ref().is_some_and(|a| a.signed.at > route.at) {
        return Some(
            "The customer has agreed since this route was set: set it anew for the whole order.".into(),
        );
    }
    let changed =
        job.changes.iter().any(|c| matches!(&c.state, job::ChangeState::Agreed(s) if s.at > route.at));
    if changed {
        return Some("A change order was agreed since this route was set: set it anew.".into());
    }
    let found = job.standing().filter(|f| f.at > route.at).count();
    if found > 0 && (!breaches.is_empty() || job.open_steps().next().is_some()) {
        return Some(format!(
            "{found} finding(s) since this route was set: look whether the scope changes, then set it anew."
        ));
    }
    None
}

fn step_view(
    id: &JobId,
    job: &Job,
    shop: &Shop,
    library: &Library,
    planned: &PlannedStep,
    now: Timestamp,
) -> StepView {
    let record = job.work.get(&planned.no).cloned();
    let state = job.step_state(planned.no);
    let booking = shop.plan.iter().find(|b| b.job == *id && b.step == planned.no).cloned();
    let bay =
        booking.as_ref().and_then(|b| shop.settings.bays.iter().find(|x| Some(&x.name) == b.bay.as_ref()));
    let mut figures = Vec::new();
    let mut warnings = Vec::new();
    for used in &planned.products {
        if let Some(parts) = used.parts_water
            && let Some(figure) = engine::air::mix(&used.product, parts, BUCKET)
        {
            figures.push(figure);
        }
        figures.push(
            Figure::new(format!("{}, in all", used.product), format!("{:.0}", used.amount.as_ml()), "mL")
                .by(
                    "amount of the step library × area and items",
                    "Step library: common practice, no source; the product's sheet comes first",
                )
                .from(
                    "Surface",
                    if planned.area > units::Area::ZERO {
                        format!("{:.2} m²", planned.area.as_m2())
                    } else {
                        "counted by piece or by use, not by area".to_owned()
                    },
                ),
        );
    }
    if let Some((figure, warning)) = engine::air::vapor(planned, bay, shop) {
        figures.push(figure);
        warnings.extend(warning);
    }
    if planned.air == "clean"
        && !over(&state)
        && let Some(reading) = bay.and_then(|b| shop.air.get(&b.name))
    {
        let (climate, warning) = engine::air::climate(reading, true);
        figures.extend(climate);
        warnings.extend(warning);
    } else if planned.room != "wash_bay"
        && !over(&state)
        && let Some(reading) = bay.and_then(|b| shop.air.get(&b.name))
    {
        // where nothing is washed, water that settles on a cold panel does harm in any bay
        warnings.extend(engine::air::climate(reading, false).1);
    }
    let mut needs = if over(&state) { Vec::new() } else { needs(job, planned.no, now) };
    if let Some(change) = job.open_change().filter(|_| !over(&state)) {
        needs.insert(0, format!("change order {} waits for the customer", change.no));
    }
    let ready_at = ready_at(job, planned);
    let today = now.to_zoned_datetime(zone_of(shop)).date();
    let lots = planned
        .products
        .iter()
        .filter_map(|used| {
            let product = shop.products.iter().find(|p| p.name == used.product)?;
            let good: Vec<_> = product.lots.iter().filter(|l| l.left > Volume::ZERO).cloned().collect();
            if !over(&state) && !good.iter().any(|l| l.expires.is_none_or(|e| e >= today)) {
                warnings.push(format!("There is no usable lot of {} on the shelf.", used.product));
            }
            Some((used.product.clone(), good))
        })
        .collect();
    let mut cautions = engine::route::cautions(library, &planned.cautions);
    if job.car.drive != Drive::Combustion && planned.room == "wash_bay" {
        cautions.extend(engine::route::cautions(library, &["high_voltage".to_owned()]));
    }
    cautions.dedup();
    let mut wanted = Vec::new();
    if let Some(step) = library.step(&planned.step) {
        wanted.extend(step.pictures.iter().map(|p| format!("Picture: {p}")));
        wanted.extend(step.check.iter().map(|c| format!("Check: {c}")));
    }
    StepView {
        planned: planned.clone(),
        state,
        record,
        booking,
        ready_at,
        needs,
        cautions,
        figures,
        lots,
        warnings,
        wanted,
    }
}

/// When the waits after finished steps are over; none while a step before it is open.
fn ready_at(job: &Job, planned: &PlannedStep) -> Option<Timestamp> {
    let mut ready = Timestamp::UNIX_EPOCH;
    for after in &planned.after {
        match job.step_state(after.step) {
            StepState::Done => {
                let free = ended(job, after.step)?.checked_add(engine::span(after.least)).ok()?;
                ready = ready.max(free);
            }
            StepState::Dropped(_) => {}
            _ if job.planned(after.step).is_none() => {}
            _ => return None,
        }
    }
    Some(ready)
}
