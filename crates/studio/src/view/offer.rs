//! Offers: options with their risk, and change orders.

use crate::engine::{self, route::Until, schedule::Load};
use crate::figure::Figure;
use crate::refusal::Refusal;
use crate::studio::{Studio, body_of};
use jiff::Timestamp;
use job::{
    CarHistory, ChangeNo, ChangeOrder, ChangeState, CoatTarget, Coverage, FindingNo, Finish, Job, JobId,
    Moment, OfferOption, Order, PanelId, Shop, Stage,
};
use paint::{Advice, LeaveReason};
use std::collections::BTreeMap;
use std::sync::Arc;
use units::Thickness;

/// An option as it would be offered now.
#[derive(Clone, Debug)]
pub struct DraftOption {
    /// The option with its price.
    pub option: OfferOption,
    /// Panels that get film.
    pub covered: Vec<PanelId>,
    /// Rows of the comparison: what, and what it is here (`Guards`, `Film`, `Paint`, `Back`, `Look after it`).
    pub rows: Vec<(String, String)>,
    /// Price, hours, film, clear coat, replacements: each explained.
    pub figures: Vec<Figure>,
    /// Why this option cannot be offered as it stands, with the way out.
    pub problem: Option<String>,
}

/// The offer sheet.
#[derive(Clone, Debug, Default)]
pub struct OfferView {
    /// Options as they would be offered now.
    pub draft: Vec<DraftOption>,
    /// What will not be attempted, and why.
    pub not_attempted: Vec<String>,
    /// What the price rests on: hours rate, margin, tax and rounding, in words.
    pub terms: Vec<String>,
    /// Deposit in words.
    pub deposit: String,
}

/// A change order as it would be proposed now.
#[derive(Clone, Debug)]
pub struct ChangeView {
    /// The change order.
    pub change: ChangeOrder,
    /// More money, hours, clear coat, days: each explained.
    pub figures: Vec<Figure>,
}

/// A scope that could be offered.
struct Scope {
    id: &'static str,
    title: String,
    buys: &'static str,
    order: Order,
    advised: bool,
}

impl Studio {
    /// The offer sheet: options as they would be offered now.
    ///
    /// # Errors
    /// When there is no such job or the shop's settings cannot be used.
    pub fn offer_view(&self, id: &JobId) -> Result<OfferView, Refusal> {
        self.offer_view_told(id, &|_, _| {})
    }

    /// The same; `told` hears how many options are done, and how many there are.
    ///
    /// # Errors
    /// As [`Studio::offer_view`].
    pub fn offer_view_told(&self, id: &JobId, told: &dyn Fn(usize, usize)) -> Result<OfferView, Refusal> {
        let entry = self.job(id)?;
        let shop = self.shop()?;
        let history = self.history(&entry.job.car.plate)?;
        let mut draft = Vec::new();
        let scopes = scopes(&entry.job);
        let count = scopes.len();
        for scope in scopes {
            told(draft.len(), count);
            draft.push(self.draft(id, &entry.job, &history, &shop, scope)?);
        }
        let prices = &shop.settings.prices;
        let tax = match prices.tax_rule {
            job::TaxRule::Invoice => "on the whole, rounded once",
            job::TaxRule::Line => "on each line, rounded each time",
        };
        Ok(OfferView {
            draft,
            not_attempted: not_attempted(self, &entry.job, &history, &shop)?,
            terms: vec![
                format!(
                    "The price is fixed. It is set so that it holds in {:.0} of 100 such jobs.",
                    prices.held * 100.0
                ),
                format!("Tax {} %, {tax}.", prices.tax_percent),
                format!("Valid for {} days.", prices.offer_days),
                "If something turns up, we stop, show it with a price and a date, and go on when you agree."
                    .into(),
            ],
            deposit: format!("Deposit {} % on acceptance.", prices.deposit_percent),
        })
    }

    fn draft(
        &self,
        id: &JobId,
        job: &Arc<Job>,
        history: &CarHistory,
        shop: &Shop,
        scope: Scope,
    ) -> Result<DraftOption, Refusal> {
        let Scope { id: option, title, buys, order, advised } = scope;
        let covered = engine::film::covered(&order, body_of(job));
        let route = engine::route::derive(self, job, history, shop, &order, Until::HandedOver)?;
        let film = engine::film::film(self, id, job, &order, shop);
        let mut problem = route.problem.clone().or_else(|| film.problem.clone());
        let priced = engine::price::price(
            engine::Case { studio: self, job, history, shop },
            &title,
            &order,
            &route.steps,
            &film,
        )?;
        let mut back_by = None;
        if problem.is_none() {
            match self.back_by(id, job, shop, &route.steps)? {
                Ok(at) => back_by = Some(at),
                Err(why) => problem = Some(format!("There is no plan that brings this car back. {why}")),
            }
        }
        let sight = priced.price.seam_in_sight;
        let sides = match &job.sides {
            Some(s) if sight > units::Length::ZERO => {
                format!("{:.1} m, {} pieces a side", sight.as_m(), s.pieces)
            }
            _ => "none but at the shut lines".to_owned(),
        };
        let rows = rows(&order, &covered, &priced.quote, back_by, shop, sides);
        let option = OfferOption {
            id: option.to_owned(),
            title,
            buys: buys.to_owned(),
            order,
            quote: priced.quote,
            back_by,
            advised,
        };
        Ok(DraftOption { option, covered, rows, figures: priced.figures, problem })
    }

    /// When this car would be back if these were its steps, all other open jobs planned beside it; or why it would not.
    fn back_by(
        &self,
        id: &JobId,
        job: &Arc<Job>,
        shop: &Shop,
        steps: &[job::PlannedStep],
    ) -> Result<Result<Timestamp, String>, Refusal> {
        let mut loads = self.loads(shop)?;
        // The promise of the car in question is what is being looked for: without it.
        let free = Arc::new(Job { promised: None, ..(**job).clone() });
        loads.retain(|l| l.id != *id);
        loads.push(Load { id: id.clone(), job: free, steps: steps.to_vec() });
        let plan = engine::schedule::plan(self, &loads, shop, self.now(), false);
        Ok(match plan.ends.get(id) {
            Some(end) => Ok(end_of_working_hour(*end)),
            None => Err(plan.problem.clone().unwrap_or_else(|| "It has no steps left.".into())),
        })
    }

    /// A change order as it would be proposed now.
    ///
    /// # Errors
    /// When there is no such job, nothing was accepted yet, or the new scope has no valid route.
    pub fn change_view(&self, id: &JobId, order: &Order, reason: &str) -> Result<ChangeView, Refusal> {
        let entry = self.job(id)?;
        let job = &entry.job;
        let shop = self.shop()?;
        let history = self.history(&job.car.plate)?;
        if job.acceptance.is_none() {
            return Err(Refusal::not_yet(
                "No offer was accepted yet",
                "Change the order and make a new offer instead.",
            ));
        }
        // Both scopes are reckoned from where the car stands now: the difference is what the change brings.
        let as_if_agreed = agreed(job, order, self.now());
        let old = self.whole(id, job, &history, &shop, &job.order)?;
        let new = self.whole(id, &as_if_agreed, &history, &shop, order)?;
        let change_price = price::difference(&old.0.price, &new.0.price, None);
        let back_by = self.back_by(id, &Arc::new(as_if_agreed.clone()), &shop, &new.1)?.ok();
        let route = job.route.as_ref().map_or(Timestamp::UNIX_EPOCH, |r| r.at);
        let findings: Vec<FindingNo> =
            job.standing().filter(|f| f.at > route || f.found == Stage::Work).map(|f| f.no).collect();
        let change = ChangeOrder {
            no: ChangeNo(job.changes.len() as u32 + 1),
            at: self.now(),
            by: String::new(),
            reason: reason.trim().to_owned(),
            findings,
            order: order.clone(),
            quote: new.0.quote.clone(),
            more: change_price.gross,
            more_hours: change_price.labor_p50,
            more_clear: change_price.clear_coat,
            back_by: back_by.map(|b| job.promised.map_or(b, |p| b.max(p))),
            state: ChangeState::Proposed,
            ..ChangeOrder::default()
        };
        let currency = shop.settings.prices.currency;
        let figures = vec![
            Figure::new("More to pay", change.more.display(currency), "").how(change_price.explained.clone()),
            Figure::new("More work", format!("{:.1}", change.more_hours.as_hours()), "h")
                .by("hours of the new scope − hours of the agreed scope, both from where the car stands now, half of such jobs", "Simulation"),
            Figure::new("More clear coat", format!("{:.1}", change.more_clear.as_um()), "µm")
                .by("on the panel that gives most", "Correction plan; it never comes back"),
        ];
        Ok(ChangeView { change, figures })
    }

    fn whole(
        &self,
        id: &JobId,
        job: &Job,
        history: &CarHistory,
        shop: &Shop,
        order: &Order,
    ) -> Result<(engine::price::Priced, Vec<job::PlannedStep>), Refusal> {
        let route = engine::route::derive(self, job, history, shop, order, Until::HandedOver)?;
        if let Some(problem) = route.problem {
            return Err(Refusal::new(
                crate::RefusalKind::Impossible,
                "There is no valid route for this scope",
                problem,
            ));
        }
        let film = engine::film::film(self, id, job, order, shop);
        let priced = engine::price::price(
            engine::Case { studio: self, job, history, shop },
            "scope",
            order,
            &route.steps,
            &film,
        )?;
        Ok((priced, route.steps))
    }
}

/// The job as it would be if the customer agreed now: work that is under way goes on, consent stands.
fn agreed(job: &Job, order: &Order, now: Timestamp) -> Job {
    let mut job = job.clone();
    job.order = order.clone();
    let signed = job::Signature { name: String::new(), at: now };
    job.changes.push(ChangeOrder {
        state: ChangeState::Agreed(signed),
        order: order.clone(),
        ..ChangeOrder::default()
    });
    job
}

/// A handover is promised at the full hour.
fn end_of_working_hour(at: Timestamp) -> Timestamp {
    let seconds = at.as_second();
    Timestamp::from_second(
        seconds.div_euclid(3600) * 3600 + if seconds.rem_euclid(3600) == 0 { 0 } else { 3600 },
    )
    .unwrap_or(at)
}

/// At least three ways to go on: the order as asked for, and its neighbors.
fn scopes(job: &Job) -> Vec<Scope> {
    let asked = &job.order;
    let with = |id: &'static str, title: &str, buys: &'static str, order: Order| Scope {
        id,
        title: title.to_owned(),
        buys,
        advised: order == *asked,
        order,
    };
    let film = |coverage: Coverage| Order { film: coverage, ..asked.clone() };
    match &asked.film {
        Coverage::None => [
            ("gloss", "One fine pass", "Gloss up, fine swirls gone. Takes least clear coat.", Finish::Gloss),
            ("corrected", "Corrected", "Swirls and light scratches gone.", Finish::Corrected),
            ("best", "As far as it goes", "As far as the clear coat allows, and no further.", Finish::Best),
        ]
        .into_iter()
        .map(|(id, title, buys, finish)| with(id, title, buys, Order { finish, ..asked.clone() }))
        .collect(),
        Coverage::Panels(_) => {
            let mut coated = asked.clone();
            coated.coatings.insert(CoatTarget::Film);
            let mut options = vec![with("asked", "These panels", "Just what was asked for.", asked.clone())];
            if coated != *asked {
                options.push(with(
                    "coated",
                    "These panels, coated",
                    "Film that sheds water and is easier to wash.",
                    coated,
                ));
            } else {
                let mut plain = asked.clone();
                plain.coatings.remove(&CoatTarget::Film);
                options.insert(0, with("plain", "These panels, not coated", "Film only.", plain));
            }
            options.push(with("front", "Whole front", "Where most chips land.", film(Coverage::Front)));
            options
        }
        Coverage::Front | Coverage::FrontAndSides | Coverage::Whole => vec![
            with("front", "Front", "Where most chips land.", film(Coverage::Front)),
            with(
                "front_and_sides",
                "Front and sides",
                "Nose, doors, sills, behind the wheels.",
                film(Coverage::FrontAndSides),
            ),
            with("whole", "Whole car", "Every painted panel.", film(Coverage::Whole)),
        ],
    }
}

fn rows(
    order: &Order,
    covered: &[PanelId],
    quote: &job::Quote,
    back_by: Option<Timestamp>,
    shop: &Shop,
    sides: String,
) -> Vec<(String, String)> {
    let mut rows: Vec<(String, String)> = Vec::new();
    let mut row = |name: &str, text: String| rows.push((name.to_owned(), text));
    if covered.is_empty() {
        row("Film", "none".into());
    } else {
        row("Film", format!("{} panels, {:.1} m² from the roll", covered.len(), quote.film.as_m2()));
    }
    row("Paint", order.finish.title().to_owned());
    let coats: Vec<&str> = order.coatings.iter().map(|c| c.title()).collect();
    row("Coating", if coats.is_empty() { "none".into() } else { coats.join(", ") });
    if order.interior {
        row("Inside", "cleaned".into());
    }
    if !order.remove_film.is_empty() {
        row("Old film", "comes off; what it hides is agreed anew".into());
    }
    if quote.clear > Thickness::ZERO {
        row(
            "Clear coat spent",
            format!(
                "up to {:.1} µm of {:.0} µm allowed over the car's life",
                quote.clear.as_um(),
                shop.settings.allowance.as_um()
            ),
        );
    }
    row("Work", format!("{:.0} to {:.0} h", quote.hours_p50.as_hours(), quote.hours_p80.as_hours()));
    if let Some(back) = back_by {
        row("Back", crate::times::Times::of(shop).moment(back));
    }
    if order.film != Coverage::None {
        row("Seam in sight, sides", sides);
        if quote.replaced > 0.0 {
            let years = shop.settings.estimates.years;
            row("Renewed", format!("about {:.1} pieces in {years:.0} years", quote.replaced));
        }
        row("Look after it", "no wash for a week".into());
    }
    rows
}

/// What will not be attempted, and why.
fn not_attempted(
    studio: &Studio,
    job: &Job,
    history: &CarHistory,
    shop: &Shop,
) -> Result<Vec<String>, Refusal> {
    let survey = engine::paint::survey(studio, job, history, shop, Moment::Before)?;
    let mut all = Vec::new();
    let finish = if job.order.finish == Finish::Clean { Finish::Corrected } else { job.order.finish };
    // Panels that are left for the same reason stand together: titles, the risk where there is one, what to do instead.
    let mut left: BTreeMap<(String, String), Vec<&str>> = BTreeMap::new();
    for panel in engine::paint::painted(body_of(job)) {
        let Some(estimate) = survey.panel(panel.id) else { continue };
        let Some(plan) = engine::paint::correction(studio, job, shop, finish, estimate, panel) else {
            continue;
        };
        if let Advice::LeaveIt(leave) = &plan.advice {
            let reason = match leave.reason {
                LeaveReason::Floor => format!(
                    "marks are reduced at most, not taken out: the risk of less than {:.0} µm of clear coat at the thinnest place would be over {:.0} %",
                    shop.settings.floor.as_um(),
                    shop.settings.risk * 100.0
                ),
                LeaveReason::Allowance => {
                    "marks stay: what may be taken over the car's life is used up".to_owned()
                }
                LeaveReason::Matte => "no machine polishing of a matte finish".to_owned(),
                LeaveReason::NoMethod | LeaveReason::BadRequest => {
                    leave.words.trim_end_matches('.').to_owned()
                }
            };
            left.entry((reason, leave.hint.clone())).or_default().push(panel.title);
        }
    }
    all.extend(
        left.iter().map(|((reason, hint), panels)| format!("{}: {reason}. {hint}", panels.join(", "))),
    );
    for finding in job.standing() {
        let what = match finding.kind {
            job::FindingKind::Chip => {
                "stone chips are not filled by polishing or film; touch them in first if you wish"
            }
            job::FindingKind::Dent => "dents stay; a dent technician can be called in first",
            job::FindingKind::Glass => "glass damage stays; a glass specialist should look at it",
            _ => continue,
        };
        all.push(format!("{}: {what}.", finding.place.panel.title()));
    }
    all.dedup();
    Ok(all)
}
