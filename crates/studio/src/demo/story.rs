//! Telling a job: people come and do their steps in working hours.

use crate::command::Finished;
use crate::refusal::{Refusal, RefusalKind};
use crate::studio::{Stamp, Studio, zone_of};
use jiff::SignedDuration;
use job::{Finding, JobId, LotUse, Material, Moment, PanelId, PlannedStep, Reading, StepNo, StepState};
use plane::{Outline, Point};
use units::{Seed, Sequence, Thickness, Volume};

/// A job being told.
pub struct Story<'a> {
    pub studio: &'a Studio,
    pub id: JobId,
}

impl Story<'_> {
    /// By the owner.
    pub fn by(&self) -> Stamp {
        Stamp::by(super::OWNER)
    }

    /// Lets minutes go by, and nights and days off with them.
    pub fn wait(&self, minutes: i64) {
        self.studio.clock().advance(SignedDuration::from_mins(minutes));
    }

    /// Puts the clock to working hours if it is not.
    fn working_hours(&self) -> Result<(), Refusal> {
        let shop = self.studio.shop()?;
        let shift = &shop.settings.shift;
        for _ in 0..14 * 24 * 4 {
            let now = self.studio.now().to_zoned_datetime(zone_of(&shop));
            let works = shift.days.contains(&now.weekday().to_monday_one_offset())
                && now.time() >= shift.from
                && now.time() < shift.to;
            if works {
                break;
            }
            self.wait(15);
        }
        Ok(())
    }

    /// Records findings.
    pub fn find(&self, findings: &[Finding]) -> Result<(), Refusal> {
        for finding in findings {
            self.wait(2);
            self.studio.find(&self.id, &self.by(), finding)?;
        }
        Ok(())
    }

    /// Takes readings on every readable painted panel: mean and drift of its total in µm, by its name.
    pub fn read(
        &self,
        seed: u64,
        moment: Moment,
        total: impl Fn(&str) -> Option<(f64, f64)>,
    ) -> Result<(), Refusal> {
        self.take(seed, moment, |panel| total(panel).map(|(mean, drift)| Level { mean, drift, clear: None }))
    }

    /// The same by a gauge that tells layers apart: mean and drift of the total, and the clear coat, in µm.
    pub fn read_layers(
        &self,
        seed: u64,
        layers: impl Fn(&str) -> Option<(f64, f64, f64)>,
    ) -> Result<(), Refusal> {
        self.take(seed, Moment::Before, |panel| {
            layers(panel).map(|(mean, drift, clear)| Level { mean, drift, clear: Some(clear) })
        })
    }

    fn take(&self, seed: u64, moment: Moment, level: impl Fn(&str) -> Option<Level>) -> Result<(), Refusal> {
        let entry = self.studio.job(&self.id)?;
        let body = crate::studio::body_of(&entry.job);
        let mut chance = Seed(seed).sequence();
        let mut readings = Vec::new();
        for panel in crate::engine::paint::painted(body) {
            let id: PanelId = panel.id.into();
            let material = crate::engine::paint::material(&entry.job, body, &id);
            if !matches!(material, Material::Steel | Material::Aluminum) {
                continue;
            }
            let Some(mut level) = level(panel.id) else { continue };
            level.mean += 2.0 * chance.normal();
            let spots = match panel.area.as_m2() {
                a if a > 0.6 => 8,
                a if a > 0.2 => 6,
                _ => 3,
            };
            let corners = crate::engine::paint::outline(body, panel.id);
            let outline = Outline::new(corners.iter().map(|p| Point::mm(p.0, p.1)).collect()).ok();
            readings.extend((0..spots).map(|_| spot(&mut chance, panel.id, outline.as_ref(), level, moment)));
        }
        self.studio.measure(&self.id, &self.by(), &readings)?;
        Ok(())
    }

    /// Does the steps of the route in order, each by somebody with the skill, until one of the named steps has been done
    /// or nothing is left.
    pub fn work(&self, until: &[&str]) -> Result<(), Refusal> {
        for _ in 0..400 {
            let entry = self.studio.job(&self.id)?;
            let open: Vec<PlannedStep> = entry.job.open_steps().cloned().collect();
            if open.is_empty() {
                return Ok(());
            }
            self.working_hours()?;
            let now = self.studio.now();
            let ready = open.iter().find(|s| crate::command::step::needs(&entry.job, s.no, now).is_empty());
            let Some(step) = ready else {
                self.wait(30);
                continue;
            };
            self.start(step.no)?;
            self.wait((step.work.as_minutes().round() as i64).max(3));
            self.finish(step)?;
            if until.contains(&step.step.as_str()) {
                return Ok(());
            }
        }
        Err(Refusal::new(RefusalKind::Broken, "The demo's job does not come to its end", ""))
    }

    /// Starts the step that the known plan has first in a bay, of those that can be started by people who are free.
    pub fn start_next(&self) -> Result<(), Refusal> {
        let entry = self.studio.job(&self.id)?;
        let shop = self.studio.shop()?;
        let now = self.studio.now();
        let mut busy = std::collections::BTreeSet::new();
        for other in self.studio.jobs()? {
            let running = other.job.work.values().filter(|r| r.state == StepState::Running);
            busy.extend(running.filter_map(|r| r.spans.last()).map(|s| s.by.clone()));
        }
        let ready = shop.plan.iter().filter(|b| b.job == self.id && b.bay.is_some()).find(|b| {
            !b.people.iter().any(|p| busy.contains(p))
                && entry.job.step_state(b.step) == StepState::Todo
                && entry.job.planned(b.step).is_some()
                && crate::command::step::needs(&entry.job, b.step, now).is_empty()
        });
        match ready {
            Some(booking) => self.start(booking.step),
            None => Ok(()),
        }
    }

    fn start(&self, no: StepNo) -> Result<(), Refusal> {
        let entry = self.studio.job(&self.id)?;
        let shop = self.studio.shop()?;
        let skill = entry.job.planned(no).and_then(|s| s.skill.clone()).unwrap_or_default();
        let able: Vec<_> = shop.settings.people.iter().filter(|p| p.skills.contains(&skill)).collect();
        let booked = shop
            .plan
            .iter()
            .find(|b| b.job == self.id && b.step == no)
            .and_then(|b| b.people.first().cloned());
        let name =
            booked.or_else(|| able.last().map(|p| p.name.clone())).unwrap_or_else(|| super::OWNER.to_owned());
        self.studio.start_step(&self.id, &Stamp::by(&name), no)?;
        Ok(())
    }

    fn finish(&self, step: &PlannedStep) -> Result<(), Refusal> {
        let shop = self.studio.shop()?;
        let today = self.studio.now().to_zoned_datetime(zone_of(&shop)).date();
        let lot_of = |product: &str, amount: Volume| {
            let product = shop.products.iter().find(|p| p.name == product)?;
            let lot =
                product.lots.iter().find(|l| l.left >= amount && l.expires.is_none_or(|e| e >= today))?;
            Some(LotUse { product: product.name.clone(), lot: lot.lot.clone(), amount })
        };
        let lots = step.products.iter().filter_map(|p| lot_of(&p.product, p.amount)).collect();
        let entry = self.studio.job(&self.id)?;
        let by = entry
            .job
            .work
            .get(&step.no)
            .and_then(|r| r.spans.last())
            .map_or_else(String::new, |s| s.by.clone());
        self.studio.finish_step(
            &self.id,
            &Stamp::by(&by),
            step.no,
            &Finished { lots, ..Finished::default() },
        )?;
        Ok(())
    }

    /// Steps from booking to consent: survey closed, offer made, the advised option accepted by the owner of the car.
    pub fn agree(&self) -> Result<(), Refusal> {
        let customer = self.studio.job(&self.id)?.job.customer.name.clone();
        self.studio.close_survey(&self.id, &self.by(), super::OWNER)?;
        self.wait(40);
        let offer = self.studio.make_offer(&self.id, &self.by())?;
        self.wait(90);
        let entry = self.studio.job(&self.id)?;
        let options = &entry.job.offers.last().map(|o| o.options.clone()).unwrap_or_default();
        let chosen =
            options.iter().find(|o| o.advised).or(options.first()).map(|o| o.id.clone()).unwrap_or_default();
        self.studio.accept(&self.id, &self.by(), offer, &chosen, &customer, &job::Strokes::default())?;
        self.wait(5);
        self.studio.set_route(&self.id, &self.by())?;
        Ok(())
    }
}

/// Paint of a panel of the demo, in µm.
#[derive(Clone, Copy)]
struct Level {
    mean: f64,
    drift: f64,
    clear: Option<f64>,
}

fn spot(
    chance: &mut Sequence,
    panel: &str,
    outline: Option<&Outline>,
    level: Level,
    moment: Moment,
) -> Reading {
    // A gauge is set down on the panel, not beside it; a narrow one is hit after a few tries.
    const RIM: f64 = 0.03;
    let around = [(0.0, 0.0), (RIM, 0.0), (-RIM, 0.0), (0.0, RIM), (0.0, -RIM)];
    let on_panel = |chance: &mut Sequence| {
        (0..50)
            .map(|_| (chance.between(0.08, 0.92), chance.between(0.1, 0.9)))
            .find(|(u, v)| {
                outline.is_some_and(|o| around.iter().all(|(x, y)| o.contains(Point::mm(u + x, v + y))))
            })
            .unwrap_or((0.5, 0.5))
    };
    let (u, v) = on_panel(chance);
    // Thickness drifts over the panel; the gauge adds its own noise.
    let shape = (u * 3.1).sin() + 0.6 * (v * 2.3).cos() - 0.6 + 0.4 * chance.normal();
    let total = level.mean + level.drift * shape + (0.6 + 0.004 * level.mean) * chance.normal();
    let tenth = |um: f64| Thickness::um((um * 10.0).round() / 10.0);
    Reading {
        place: job::Place::spot(panel, (u * 100.0).round() / 100.0, (v * 100.0).round() / 100.0),
        total: tenth(total),
        clear: level.clear.map(|clear| tenth(clear + 0.5 * level.drift * shape + 1.2 * chance.normal())),
        spot: None,
        repeat: None,
        gauge: Some(if level.clear.is_some() { "layer gauge".into() } else { "gauge 1".into() }),
        substrate: Some(Material::Steel),
        moment,
    }
}
