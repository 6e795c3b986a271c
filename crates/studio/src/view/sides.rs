//! Seams on the sides: what each choice costs now and later, and how much of it is seen.

use crate::engine::{Case, seams};
use crate::figure::Figure;
use crate::refusal::Refusal;
use crate::studio::Studio;
use job::{JobId, SidePlan};
use units::{Length, Money};

/// One choice of seams. Money, renewals and lengths are those of all sides that are alike.
#[derive(Clone, Debug, PartialEq)]
pub struct SideChoice {
    /// Names of its seams.
    pub seams: Vec<String>,
    /// The same in words.
    pub titles: Vec<String>,
    /// Pieces on each side.
    pub pieces: usize,
    /// Film and hours now, as the customer pays them.
    pub install: Money,
    /// Present value of the expected renewals.
    pub renewals: Money,
    /// Mean number of pieces renewed.
    pub expected: f64,
    /// What renewing one piece costs on average, weighed by how often each is damaged.
    pub one_renewal: Money,
    /// Seam in sight.
    pub in_sight: Length,
    /// Whether it is what holds for this car now.
    pub holds: bool,
}

/// The choices.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct SidesView {
    /// None is beaten in price now, renewals and seam in sight at once; the cheapest now comes first. The choice without
    /// seams and the one that holds stand among them even if they are.
    pub choices: Vec<SideChoice>,
    /// How many sides are alike.
    pub sides: f64,
    /// What it is worth to the customer not to see a meter of seam: as chosen, or as the shop has it.
    pub unseen_m: Money,
    /// Years that are looked ahead.
    pub years: f64,
    /// Worst stretch of panels whose shape was taken, in words; none when no shape was taken.
    pub stretch: Vec<String>,
    /// What was chosen.
    pub chosen: Option<SidePlan>,
    /// How it was reckoned.
    pub how: Vec<Figure>,
    /// Why there is nothing to choose.
    pub nothing: Option<String>,
}

impl SidesView {
    /// The choice that is cheapest in all at a price of a meter of seam in sight.
    pub fn cheapest(&self, unseen_m: Money) -> Option<usize> {
        (0..self.choices.len()).min_by_key(|i| self.choices[*i].total(unseen_m))
    }
}

impl SideChoice {
    /// Now, later, and what seeing the seams is worth.
    pub fn total(&self, unseen_m: Money) -> Money {
        let sight = Money::from_estimate(unseen_m.as_estimate() * self.in_sight.as_m()).unwrap_or_default();
        self.install + self.renewals + sight
    }
}

impl Studio {
    /// The choices of seams for a car's sides under its order.
    ///
    /// # Errors
    /// When there is no such job, or prices make no sense.
    pub fn sides_view(&self, id: &JobId) -> Result<SidesView, Refusal> {
        let entry = self.job(id)?;
        let shop = self.shop()?;
        let history = self.history(&entry.job.car.plate)?;
        let case = Case { studio: self, job: &entry.job, history: &history, shop: &shop };
        let estimates = &shop.settings.estimates;
        let mut view = SidesView {
            unseen_m: entry.job.sides.as_ref().map_or(estimates.seams.unseen_m, |s| s.unseen_m),
            years: estimates.years,
            chosen: entry.job.sides.clone(),
            stretch: entry
                .job
                .seams
                .iter()
                .map(|s| format!("{}, {}: {:.1} % at worst", s.panel.title(), s.plan, s.worst_percent))
                .collect(),
            ..SidesView::default()
        };
        let Some(front) = seams::front(case, &entry.job.order)? else {
            view.nothing = Some(if shop.rolls.is_empty() {
                "There is no roll on the shelf to reckon with. Receive one under stock.".to_owned()
            } else {
                "The order covers no panel of the sides on which a seam could lie.".to_owned()
            });
            return Ok(view);
        };
        view.sides = front.sides;
        let wanted: Vec<String> = entry.job.sides.as_ref().map_or_else(Vec::new, |s| s.seams.clone());
        let times = |m: Money| Money::from_estimate(m.as_estimate() * front.sides).unwrap_or_default();
        let digits = shop.settings.prices.currency.digits();
        let paid = |m: Money| times(m).rounded(digits, shop.settings.prices.rounding);
        let choice = |plan: &price::SeamPlan| {
            let seams: Vec<String> = plan.seams.iter().map(|i| front.lines[*i].name.clone()).collect();
            let weighed: f64 = plan.pieces.iter().map(|p| p.renewals * p.renewal.as_estimate()).sum();
            SideChoice {
                titles: plan.seams.iter().map(|i| front.lines[*i].title.clone()).collect(),
                holds: same(&seams, &wanted),
                seams,
                pieces: plan.pieces.len(),
                install: paid(plan.install),
                renewals: paid(plan.renewals),
                expected: plan.expected_renewals * front.sides,
                one_renewal: Money::from_estimate(weighed / plan.expected_renewals.max(1e-12))
                    .unwrap_or_default()
                    .rounded(digits, shop.settings.prices.rounding),
                in_sight: plan.in_sight * front.sides,
            }
        };
        view.choices = front.plans.iter().map(choice).collect();
        for more in [Some(&front.uncut), front.of(&wanted)?.as_ref()].into_iter().flatten() {
            let more = choice(more);
            if !view.choices.iter().any(|c| same(&c.seams, &more.seams)) {
                view.choices.push(more);
            }
        }
        view.choices.sort_by_key(|c| c.install);
        view.how = how(&view, &front, shop.settings.prices.currency);
        Ok(view)
    }
}

fn same(a: &[String], b: &[String]) -> bool {
    a.len() == b.len() && a.iter().all(|x| b.contains(x))
}

fn how(view: &SidesView, front: &seams::SideFront, currency: units::Currency) -> Vec<Figure> {
    vec![
        Figure::new("Choices of seams", view.choices.len().to_string(), "not beaten")
            .by(
                "every choice of the candidate seams reckoned: Σ install + Σ λ × renewal × (1 − e^(−rT))/r; a choice is left out when another is no dearer now, no dearer later and shows no more seam",
                "Each piece nested alone on the shelf's rolls; fitting times and zone rates under Shop, What we learnt: common practice, no source, until the shop's own history says better",
            )
            .from("Candidate seams on a side", front.lines.len().to_string())
            .from("Choices reckoned", (1u64 << front.lines.len()).to_string())
            .from("Years looked ahead", format!("{:.0}", view.years))
            .from("Worth to the customer, each 1.00 m not seen", view.unseen_m.display(currency)),
    ]
}
