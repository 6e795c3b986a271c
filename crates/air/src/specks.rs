//! Specks under film, and how long waiting pays.

use crate::error::within;
use crate::{
    AirError, Density, PerCubicMeter, PerSquareMeter, Reason, Room, Ruling, Verdict, YieldLaw, settling,
};
use serde::{Deserialize, Serialize};
use units::{Area, Duration, Explained, Money, Thickness};

/// One size of dust in the air, large enough to be seen under film.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Dust {
    /// Of the particles.
    pub diameter: Thickness,
    /// Of what they are made of.
    pub density: Density,
    /// When polishing ended.
    pub at_start: PerCubicMeter,
    /// That never leaves: what the room always carries.
    pub background: PerCubicMeter,
}

/// The open panel: how large, how long, how clean to begin with.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Exposure {
    /// Level area on which dust can fall; a steep panel counts by its shadow on the floor.
    pub area: Area,
    /// From the last wipe until film covers it.
    pub open: Duration,
    /// Visible particles left on the panel by the work before, before any wipe.
    pub residue: PerSquareMeter,
    /// Share that each wipe takes away, 0 to 1.
    pub wipes: Vec<f64>,
    /// How specks scatter.
    pub law: YieldLaw,
}

/// What to expect under the film.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Specks {
    /// Mean number in all.
    pub expected: f64,
    /// Of these, fallen from the air while the panel was open.
    pub from_air: f64,
    /// Of these, left on the panel.
    pub from_surface: f64,
    /// Chance of none.
    pub clean: f64,
    /// How it was computed.
    pub explained: Explained,
}

/// What a minute of waiting and a refit cost.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct WaitCost {
    /// An hour of the room and its people standing still.
    pub per_hour: Money,
    /// Film off, film and hours again.
    pub refit: Money,
}

/// One point of the weighing.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct WaitPoint {
    /// Waited after polishing.
    pub wait: Duration,
    /// Chance of no speck.
    pub clean: f64,
    /// Waiting and risk together.
    pub cost: Money,
}

/// How long to wait.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct BestWait {
    /// The cheapest, to the minute.
    pub best: WaitPoint,
    /// Starting at once, for comparison.
    pub at_once: WaitPoint,
    /// The whole weighing, every five minutes.
    pub curve: Vec<WaitPoint>,
    /// What limits the gain, if something does.
    pub verdict: Verdict,
    /// How it was computed.
    pub explained: Explained,
}

/// Specks expected under film when the panel is opened `wait` after polishing:
/// N = A Σ v ∫ C dt + A · residue · Π(1 − wipe), P(clean) by the chosen law.
///
/// The air is well mixed; C falls from its start to the background at the room's rate plus v/H for its size.
///
/// # Errors
/// When room, dust or exposure make no sense.
pub fn specks(room: &Room, dust: &[Dust], exposure: &Exposure, wait: Duration) -> Result<Specks, AirError> {
    let fall = Fall::new(room, dust, exposure)?;
    within("the wait in minutes", wait.as_minutes(), 0.0, 1e6, "0 or more")?;
    let from_air = fall.falling(wait);
    let expected = from_air + fall.from_surface;
    let explained = Explained::new(
        "Specks under film",
        "area × Σ settling speed × ∫ count dt over the open time + area × residue × Π(1 − wipe)",
        "well-mixed room; settling by Stokes with slip and drag (Hinds, Aerosol Technology); P(none) = e^(−N)",
    )
    .with("area", format!("{:.2} m²", exposure.area.as_m2()))
    .with("open", format!("{:.0} min", exposure.open.as_minutes()))
    .with("waited", format!("{:.0} min", wait.as_minutes()))
    .with("from the air", format!("{from_air:.3}"))
    .with("left on the panel", format!("{:.3}", fall.from_surface));
    Ok(Specks {
        expected,
        from_air,
        from_surface: fall.from_surface,
        clean: exposure.law.clean(expected),
        explained,
    })
}

/// The wait that costs least: minutes × cost of waiting against (1 − P(clean)) × cost of a refit, by the minute.
///
/// # Errors
/// When room, dust or exposure make no sense, a cost is negative, or `longest` is above two days.
pub fn best_wait(
    room: &Room,
    dust: &[Dust],
    exposure: &Exposure,
    cost: &WaitCost,
    longest: Duration,
) -> Result<BestWait, AirError> {
    let fall = Fall::new(room, dust, exposure)?;
    within("the longest wait in minutes", longest.as_minutes(), 0.0, 2880.0, "0 to 2880 minutes")?;
    let (per_hour, refit) = (cost.per_hour.as_estimate(), cost.refit.as_estimate());
    within("the cost of waiting", per_hour, 0.0, 1e9, "0 or more")?;
    within("the cost of a refit", refit, 0.0, 1e9, "0 or more")?;
    let point = |minute: usize| {
        let wait = Duration::minutes(minute as f64);
        let clean = exposure.law.clean(fall.falling(wait) + fall.from_surface);
        (wait, clean, wait.as_hours() * per_hour + (1.0 - clean) * refit)
    };
    let last = longest.as_minutes().floor() as usize;
    let all: Vec<_> = (0..=last).map(point).collect();
    let best = all.iter().copied().min_by(|a, b| a.2.total_cmp(&b.2)).unwrap_or_else(|| point(0));
    let told = |(wait, clean, cost): (Duration, f64, f64)| WaitPoint {
        wait,
        clean,
        cost: Money::from_estimate(cost).unwrap_or_default(),
    };
    let explained = Explained::new(
        "Best wait",
        "least of minutes × cost of waiting + (1 − chance of no speck) × cost of a refit",
        "costs set by the shop",
    )
    .with("an hour of waiting", format!("{:.2}", cost.per_hour.amount()))
    .with("a refit", format!("{:.2}", cost.refit.amount()))
    .with("chance of no speck, at once", format!("{:.1} %", all[0].1 * 100.0))
    .with("chance of no speck, at best", format!("{:.1} %", best.1 * 100.0));
    Ok(BestWait {
        best: told(best),
        at_once: told(all[0]),
        curve: all.iter().step_by(5).copied().map(told).collect(),
        verdict: Verdict::of(limits(&fall, exposure.law, best, last)),
        explained,
    })
}

/// The shortest wait after which the chance of no speck reaches `clean`; `None` when no wait up to two days does.
///
/// # Errors
/// When room, dust, exposure or `clean` make no sense.
pub fn wait_until_clean(
    room: &Room,
    dust: &[Dust],
    exposure: &Exposure,
    clean: f64,
) -> Result<Option<Duration>, AirError> {
    let fall = Fall::new(room, dust, exposure)?;
    within("the chance of a clean panel", clean, 0.0, 1.0, "0 to 1")?;
    let reached =
        |m: f64| exposure.law.clean(fall.falling(Duration::minutes(m)) + fall.from_surface) >= clean;
    let (mut low, mut high) = (0.0, 2880.0);
    if reached(low) {
        return Ok(Some(Duration::ZERO));
    }
    if !reached(high) {
        return Ok(None);
    }
    // counts never rise with waiting unless the background is above the start, which `Fall::new` refuses
    while high - low > 1e-6 {
        let middle = 0.5 * (low + high);
        if reached(middle) { high = middle } else { low = middle }
    }
    Ok(Some(Duration::minutes(high)))
}

fn limits(fall: &Fall, law: YieldLaw, best: (Duration, f64, f64), last: usize) -> Vec<Reason> {
    let mut reasons = Vec::new();
    let source = "computed".to_owned();
    if best.0.as_minutes() as usize == last && last > 0 {
        reasons.push(Reason {
            ruling: Ruling::Caution,
            reason: "the best wait is the longest one looked at".into(),
            hint: "Allow a longer wait, or raise the air changes.".into(),
            source: source.clone(),
        });
    }
    let ceiling = law.clean(fall.from_surface);
    if ceiling < 0.9 {
        reasons.push(Reason {
            ruling: Ruling::Caution,
            reason: format!(
                "{:.2} specks are left on the panel itself: even in clean air the chance of none is {:.0} %",
                fall.from_surface,
                ceiling * 100.0
            ),
            hint: "Waiting does not help there: clean and wipe once more.".into(),
            source,
        });
    }
    reasons
}

/// The sums behind an exposure, checked once.
struct Fall {
    /// Per size: v·A in m³/h, removal per hour, count above background, background.
    sizes: Vec<(f64, f64, f64, f64)>,
    open_hours: f64,
    from_surface: f64,
}

impl Fall {
    fn new(room: &Room, dust: &[Dust], exposure: &Exposure) -> Result<Self, AirError> {
        room.check()?;
        let area = within("the open area in m²", exposure.area.as_m2(), 0.0, 1000.0, "0 to 1000 m²")?;
        let open = within("the open time in minutes", exposure.open.as_minutes(), 0.0, 1e5, "0 or more")?;
        let residue = within("the residue per m²", exposure.residue.as_per_m2(), 0.0, 1e9, "0 or more")?;
        let mut left = area * residue;
        for wipe in &exposure.wipes {
            left *= 1.0 - within("the share a wipe takes away", *wipe, 0.0, 1.0, "0 to 1")?;
        }
        if let YieldLaw::Clustered { alpha } = exposure.law {
            within("the clustering parameter", alpha, 1e-3, 1e9, "above 0; 2 is strongly clustered")?;
        }
        let mut sizes = Vec::with_capacity(dust.len());
        for d in dust {
            let start =
                within("the count at the start", d.at_start.as_per_m3(), 0.0, 1e12, "0 or more per m³")?;
            let background = within(
                "the background count",
                d.background.as_per_m3(),
                0.0,
                start,
                "0 up to the count at the start",
            )?;
            let speed = settling(d.diameter, d.density)?.speed;
            sizes.push((
                speed.as_m_per_s() * 3600.0 * area,
                room.removal(Some(speed)),
                start - background,
                background,
            ));
        }
        Ok(Self { sizes, open_hours: open / 60.0, from_surface: left })
    }

    fn falling(&self, wait: Duration) -> f64 {
        let (w, t) = (wait.as_hours(), self.open_hours);
        self.sizes
            .iter()
            .map(|&(flow, k, above, background)| {
                // settling makes k positive always
                flow * (above * (-k * w).exp() * -(-k * t).exp_m1() / k + background * t)
            })
            .sum()
    }
}
