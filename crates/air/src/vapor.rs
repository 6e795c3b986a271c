//! Solvent vapor in a well-mixed room, against published limits.

use crate::error::within;
use crate::{AirError, Density, MassConcentration, MolarMass, Ppm, Pressure, Reason, Room, Ruling, Verdict};
use serde::{Deserialize, Serialize};
use units::{Duration, Explained, Temperature, Volume};

/// Over what a limit is averaged.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum LimitKind {
    /// Eight-hour average.
    EightHours,
    /// Fifteen-minute average.
    FifteenMinutes,
    /// At no moment.
    Peak,
}

/// One published limit.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Limit {
    /// Whose it is.
    pub name: String,
    /// Over what it is averaged.
    pub kind: LimitKind,
    /// The limit.
    pub at: Ppm,
    /// Where it was read.
    pub source: String,
}

/// What the engine must know about a solvent.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Solvent {
    /// As people call it.
    pub name: String,
    /// Molar mass.
    pub molar_mass: MolarMass,
    /// Of the liquid.
    pub density: Density,
    /// Lower explosive limit.
    pub lower_explosive: Ppm,
    /// Constants of log₁₀(P/Pa) = A − B / (T/K + C).
    pub antoine: (f64, f64, f64),
    /// Coolest and warmest temperature at which these hold.
    pub antoine_range: (Temperature, Temperature),
    /// Limits to show beside the computed level.
    pub limits: Vec<Limit>,
}

/// Liters that a mole of vapor fills at 25 °C and one atmosphere, as OSHA and NIOSH convert (24.4654 unrounded).
const LITERS_PER_MOLE: f64 = 24.45;

impl Solvent {
    /// Isopropyl alcohol.
    ///
    /// Molar mass 60.1 and density 0.785 g/mL; vapor pressure: Poling, Prausnitz and O'Connell, 5th ed., through
    /// `chemicals` 1.5.2; lower explosive limit 2.0 %: NFPA 497 and NIOSH IDLH page 67-63-0.
    pub fn isopropyl_alcohol() -> Self {
        let limit = |name: &str, kind, ppm, source: &str| Limit {
            name: name.into(),
            kind,
            at: Ppm::ppm(ppm),
            source: source.into(),
        };
        let niosh = "CDC/NIOSH IDLH page 67-63-0 (read)";
        let acgih = "ACGIH 2003, by the Ontario list through chemicals 1.5.2";
        use LimitKind::{EightHours, FifteenMinutes, Peak};
        Self {
            name: "isopropyl alcohol".into(),
            molar_mass: MolarMass::g_per_mol(60.1),
            density: Density::kg_per_m3(785.0),
            lower_explosive: Ppm::ppm(20_000.0),
            antoine: (10.242_68, 1580.92, -53.54),
            antoine_range: (Temperature::celsius(281.28 - 273.15), Temperature::celsius(373.46 - 273.15)),
            limits: vec![
                limit("OSHA PEL, 8 h", EightHours, 400.0, niosh),
                limit("NIOSH REL, 8 h", EightHours, 400.0, niosh),
                limit("NIOSH REL, 15 min", FifteenMinutes, 500.0, niosh),
                limit("ACGIH TLV, 8 h", EightHours, 200.0, acgih),
                limit("ACGIH TLV, 15 min", FifteenMinutes, 400.0, acgih),
                limit("10 % of the lower explosive limit", Peak, 2000.0, niosh),
            ],
        }
    }

    /// Of the saturated vapor over the liquid.
    ///
    /// # Errors
    /// Outside the range of the constants.
    pub fn vapor_pressure(&self, temperature: Temperature) -> Result<Pressure, AirError> {
        within(
            "the solvent's temperature in °C",
            temperature.as_celsius(),
            self.antoine_range.0.as_celsius(),
            self.antoine_range.1.as_celsius(),
            "a temperature inside the range of the vapor-pressure constants",
        )?;
        let (a, b, c) = self.antoine;
        Ok(Pressure::pa(10f64.powf(a - b / (temperature.as_kelvin() + c))))
    }

    /// Share of saturated vapor in the air right over the liquid.
    ///
    /// # Errors
    /// Outside the range of the constants.
    pub fn saturated(&self, temperature: Temperature) -> Result<Ppm, AirError> {
        Ok(Ppm::ppm(self.vapor_pressure(temperature)?.as_pa() / Pressure::STANDARD.as_pa() * 1e6))
    }

    /// Mass in the air that a share by volume is (25 °C, one atmosphere).
    pub fn mass(&self, share: Ppm) -> MassConcentration {
        MassConcentration::mg_per_m3(share.as_ppm() * self.molar_mass.as_g_per_mol() / LITERS_PER_MOLE)
    }

    /// Vapor that a volume of pure liquid becomes, in m³·ppm: what raises a room of 1 m³ by that many ppm.
    fn m3_ppm(&self, liquid: Volume) -> f64 {
        liquid.as_ml() * self.density.as_kg_per_m3() / self.molar_mass.as_g_per_mol() * LITERS_PER_MOLE
    }
}

/// Solvent going into the air.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Release {
    /// When it begins.
    pub at: Duration,
    /// Mixture used.
    pub volume: Volume,
    /// Share of solvent in the mixture, 0 to 1.
    pub strength: f64,
    /// Over how long it dries off; zero for a spill counted at once.
    pub over: Duration,
}

/// A limit beside what is computed for it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct LimitLine {
    /// The limit.
    pub limit: Limit,
    /// The computed level, averaged as the limit is.
    pub level: Ppm,
    /// Level over limit.
    pub share: f64,
}

/// The level in the room over time.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct VaporCourse {
    /// The highest.
    pub peak: Ppm,
    /// When.
    pub peak_at: Duration,
    /// Worst eight-hour average.
    pub eight_hours: Ppm,
    /// Worst fifteen-minute average.
    pub fifteen_minutes: Ppm,
    /// The level every `step`, from the start.
    pub course: Vec<(Duration, Ppm)>,
    /// Every limit beside its level.
    pub lines: Vec<LimitLine>,
    /// May the work go on?
    pub verdict: Verdict,
    /// What to tell whoever works there, always.
    pub cautions: Vec<String>,
    /// How it was computed.
    pub explained: Explained,
}

/// Level of vapor by the well-mixed box dC/dt = G/V − Q·C/V, solved exactly between changes of G; Q is the room's
/// air changes times mixing (a filter for dust holds back no vapor). Minutes are the grid of averages.
///
/// Source: Basic Concepts of Industrial Hygiene, p. 163, equations 3 to 5, as quoted by later pages.
///
/// # Errors
/// When room or releases make no sense, or one starts later than two days on.
pub fn vapor(
    solvent: &Solvent,
    room: &Room,
    temperature: Temperature,
    releases: &[Release],
) -> Result<VaporCourse, AirError> {
    room.check()?;
    for r in releases {
        within("the start of a release in minutes", r.at.as_minutes(), 0.0, 2880.0, "0 to 2880 minutes")?;
        within("the volume used in mL", r.volume.as_ml(), 0.0, 1e6, "0 to 1 000 000 mL")?;
        within("the strength of the mixture", r.strength, 0.0, 1.0, "0 to 1")?;
        within("the drying time in minutes", r.over.as_minutes(), 0.0, 2880.0, "0 to 2880 minutes")?;
    }
    let saturated = solvent.saturated(temperature)?;
    let run = WellMixed::new(solvent, room, releases).run();
    let level_for = |kind| match kind {
        LimitKind::EightHours => run.eight_hours,
        LimitKind::FifteenMinutes => run.fifteen_minutes,
        LimitKind::Peak => run.peak.1,
    };
    let lines: Vec<_> = solvent
        .limits
        .iter()
        .map(|limit| {
            let level = level_for(limit.kind);
            LimitLine { limit: limit.clone(), level: Ppm::ppm(level), share: level / limit.at.as_ppm() }
        })
        .collect();
    let used: f64 = releases.iter().map(|r| r.volume.as_ml() * r.strength).sum();
    let explained = Explained::new(
        "Vapor level",
        "dC/dt = G/V − Q·C/V, well mixed; G from the liquid used: mL × density / molar mass × 24.45 L/mol",
        "Basic Concepts of Industrial Hygiene, p. 163 (as quoted); 24.45 L/mol at 25 °C as OSHA and NIOSH convert",
    )
    .with("solvent used", format!("{used:.0} mL of pure {}", solvent.name))
    .with("room", format!("{:.0} m³", room.volume.as_m3()))
    .with("air changes", format!("{:.1} an hour × mixing {:.2}", room.changes.as_per_hour(), room.mixing));
    Ok(VaporCourse {
        peak: Ppm::ppm(run.peak.1),
        peak_at: Duration::minutes(run.peak.0),
        eight_hours: Ppm::ppm(run.eight_hours),
        fifteen_minutes: Ppm::ppm(run.fifteen_minutes),
        course: run.course.iter().map(|&(t, c)| (Duration::minutes(t), Ppm::ppm(c))).collect(),
        verdict: Verdict::of(lines.iter().map(rule).collect()),
        lines,
        cautions: cautions(solvent, saturated),
        explained,
    })
}

/// Above half a limit the mean of a room is no comfort: close to the cloth the level is several times higher.
fn rule(line: &LimitLine) -> Reason {
    let (ruling, hint) = match line.share {
        s if s >= 1.0 => (
            Ruling::Unfit,
            "Use less at once, spread it over more time, or raise the air changes before this work starts.",
        ),
        s if s >= 0.5 => (
            Ruling::Caution,
            "Open the room or use less at once: near the cloth the level is above the room's mean.",
        ),
        _ => (Ruling::Fit, ""),
    };
    Reason {
        ruling,
        reason: format!(
            "{}: {:.0} ppm of {:.0} ppm ({:.0} %)",
            line.limit.name,
            line.level.as_ppm(),
            line.limit.at.as_ppm(),
            line.share * 100.0
        ),
        hint: hint.into(),
        source: line.limit.source.clone(),
    }
}

fn cautions(solvent: &Solvent, saturated: Ppm) -> Vec<String> {
    let over = saturated.as_ppm() / solvent.lower_explosive.as_ppm();
    let mut cautions = Vec::new();
    if over >= 1.0 {
        cautions.push(format!(
            "Right over wet {} the vapor is {over:.1} times the lower explosive limit: no flame, no heat gun, no spark near it.",
            solvent.name
        ));
    }
    cautions.push(
        "The mean of a well-mixed room, not what somebody breathes bent over the panel. Ventilate; gloves and eye protection; \
         the safety data sheet and local law come first."
            .into(),
    );
    cautions
}

/// The room as a well-mixed box, in minutes and ppm.
struct WellMixed {
    /// Start, end, ppm a minute while it lasts; or start, start, ppm at once.
    sources: Vec<(f64, f64, f64)>,
    decay: f64,
    /// Every whole minute and every change of a source, sorted.
    times: Vec<f64>,
}

struct Run {
    peak: (f64, f64),
    eight_hours: f64,
    fifteen_minutes: f64,
    course: Vec<(f64, f64)>,
}

impl WellMixed {
    fn new(solvent: &Solvent, room: &Room, releases: &[Release]) -> Self {
        let sources: Vec<_> = releases
            .iter()
            .map(|r| {
                let ppm = solvent.m3_ppm(r.volume) * r.strength / room.volume.as_m3();
                let (start, over) = (r.at.as_minutes(), r.over.as_minutes());
                (start, start + over, if over > 0.0 { ppm / over } else { ppm })
            })
            .collect();
        let last = sources.iter().map(|s| s.1).fold(0.0, f64::max).ceil() as usize + 480;
        let mut times: Vec<f64> =
            (0..=last).map(|m| m as f64).chain(sources.iter().flat_map(|s| [s.0, s.1])).collect();
        times.sort_by(f64::total_cmp);
        times.dedup();
        Self { sources, decay: room.changes.as_per_hour() * room.mixing / 60.0, times }
    }

    fn run(&self) -> Run {
        let mut level = 0.0;
        let mut dose = 0.0;
        let mut peak = (0.0, 0.0);
        let mut course = Vec::new();
        // dose so far at every whole minute, for the averages
        let mut doses = Vec::new();
        for (i, &t) in self.times.iter().enumerate() {
            level += self.sources.iter().filter(|s| s.0 == t && s.1 == t).map(|s| s.2).sum::<f64>();
            if level > peak.1 {
                peak = (t, level);
            }
            if t.fract() == 0.0 {
                course.push((t, level));
                doses.push(dose);
            }
            let Some(&next) = self.times.get(i + 1) else { break };
            let dt = next - t;
            let gain: f64 =
                self.sources.iter().filter(|s| s.0 <= t && s.1 >= next && s.1 > s.0).map(|s| s.2).sum();
            if self.decay > 0.0 {
                let steady = gain / self.decay;
                let after = steady + (level - steady) * (-self.decay * dt).exp();
                dose += steady * dt + (level - after) / self.decay;
                level = after;
            } else {
                dose += level * dt + 0.5 * gain * dt * dt;
                level += gain * dt;
            }
        }
        let worst = |minutes: usize| {
            (0..doses.len()).map(|i| doses[(i + minutes).min(doses.len() - 1)] - doses[i]).fold(0.0, f64::max)
                / minutes as f64
        };
        Run { peak, eight_hours: worst(480), fifteen_minutes: worst(15), course }
    }
}
