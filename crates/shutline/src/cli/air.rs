//! Dew point, clearing time, vapor, dilution.

use air::{Convention, Humidity, MoistAir, PerHour, ProductWindow, Release, Room, Ruling, Solvent, Verdict};
use clap::{Args as ClapArgs, Subcommand};
use serde_json::json;
use studio::Refusal;
use units::{Duration, Explained, Length, Temperature, Volume};

/// Arguments of `air`.
#[derive(Debug, ClapArgs)]
pub struct Args {
    #[command(subcommand)]
    what: What,
    /// Print as JSON.
    #[arg(long, global = true)]
    json: bool,
}

#[derive(Debug, Subcommand)]
enum What {
    /// Dew point of the air and whether film or coating may go on.
    Dew {
        /// Air, °C.
        #[arg(long, allow_hyphen_values = true)]
        air: f64,
        /// Relative humidity, percent.
        #[arg(long)]
        humidity: f64,
        /// Surface of the car, °C; the air's when it is not given.
        #[arg(long, allow_hyphen_values = true)]
        surface: Option<f64>,
    },
    /// How long the air of a room takes to clear.
    Clear {
        /// Air changes an hour.
        #[arg(long)]
        changes: f64,
        /// Share of the dust to be removed, percent.
        #[arg(long, default_value_t = 99.0)]
        removed: f64,
        /// How well the air mixes, 0 to 1.
        #[arg(long, default_value_t = 1.0)]
        mixing: f64,
    },
    /// Vapor of isopropyl alcohol in a room, against published limits.
    Vapor {
        /// Liquid used, mL.
        #[arg(long)]
        ml: f64,
        /// Share of alcohol in it, percent.
        #[arg(long, default_value_t = 100.0)]
        strength: f64,
        /// Room, m³.
        #[arg(long)]
        room: f64,
        /// Air changes an hour.
        #[arg(long)]
        changes: f64,
        /// Minutes over which it dries.
        #[arg(long, default_value_t = 15.0)]
        minutes: f64,
    },
    /// A bucket at one part of product to N parts of water.
    Mix {
        /// Parts of water.
        parts: f64,
        /// Bucket, L.
        #[arg(long, default_value_t = 10.0)]
        liters: f64,
    },
}

/// Answers one question about the air.
pub fn run(args: &Args) -> Result<(), Refusal> {
    let bad = |e: air::AirError| Refusal::invalid(e.to_string(), "Mend the value.");
    match &args.what {
        What::Dew { air, humidity, surface } => {
            let moist = MoistAir::new(Temperature::celsius(*air), Humidity::percent(*humidity).map_err(bad)?)
                .map_err(bad)?;
            let surface = Temperature::celsius(surface.unwrap_or(*air));
            let check =
                air::check_moisture(&moist, surface, Some(&ProductWindow::film_room())).map_err(bad)?;
            if args.json {
                return super::print_json(&json!({
                    "dew_point_c": check.dew_point, "least_surface_c": check.least_surface,
                    "wet_bulb_c": moist.wet_bulb(), "humidity_ratio": moist.humidity_ratio(), "verdict": check.verdict,
                }));
            }
            if let Some(dew) = check.dew_point {
                println!("Dew point {:.1} °C.", dew.as_celsius());
            }
            tell(&check.verdict);
            check.explained.iter().for_each(explain);
        }
        What::Clear { changes, removed, mixing } => {
            let ideal = Room::ideal(Volume::m3(100.0), Length::m(3.0), PerHour::per_hour(*changes));
            let room = Room { mixing: *mixing, ..ideal };
            let clearing = air::clearing_time(&room, None, removed / 100.0).map_err(bad)?;
            if args.json {
                return super::print_json(&json!({ "time_min": clearing.time, "caution": clearing.caution }));
            }
            match clearing.time {
                Some(time) => println!("{:.0} min to remove {removed} % of the dust.", time.as_minutes()),
                None => println!("Never: the air does not change."),
            }
            println!("{}", clearing.caution);
            explain(&clearing.explained);
        }
        What::Vapor { ml, strength, room, changes, minutes } => {
            let room = Room::ideal(Volume::m3(*room), Length::m(3.0), PerHour::per_hour(*changes));
            let release = Release {
                at: Duration::ZERO,
                volume: Volume::ml(*ml),
                strength: strength / 100.0,
                over: Duration::minutes(*minutes),
            };
            let solvent = Solvent::isopropyl_alcohol();
            let course = air::vapor(&solvent, &room, Temperature::celsius(22.0), &[release]).map_err(bad)?;
            if args.json {
                return super::print_json(&json!({
                    "peak_ppm": course.peak, "eight_hours_ppm": course.eight_hours,
                    "fifteen_minutes_ppm": course.fifteen_minutes, "limits": course.lines, "verdict": course.verdict,
                }));
            }
            println!("Peak {:.0} ppm.", course.peak.as_ppm());
            for line in &course.lines {
                println!(
                    "  {} {:.0} ppm: here {:.0} ppm ({})",
                    line.limit.name,
                    line.limit.at.as_ppm(),
                    line.level.as_ppm(),
                    line.limit.source
                );
            }
            tell(&course.verdict);
            course.cautions.iter().for_each(|c| println!("{c}"));
            explain(&course.explained);
        }
        What::Mix { parts, liters } => {
            let mix = air::dilution(Convention::OneToN, *parts, Volume::l(*liters)).map_err(bad)?;
            if args.json {
                return super::print_json(&json!({
                    "concentrate_ml": mix.concentrate, "water_ml": mix.water, "strength": mix.strength, "stated": mix.stated,
                }));
            }
            println!(
                "{:.0} mL of product, {:.2} L of water. {}",
                mix.concentrate.as_ml(),
                mix.water.as_l(),
                mix.stated
            );
            println!("{}", mix.caution);
            explain(&mix.explained);
        }
    }
    Ok(())
}

fn tell(verdict: &Verdict) {
    println!(
        "{}",
        match verdict.ruling {
            Ruling::Fit => "Fit.",
            Ruling::Caution => "With care.",
            Ruling::Unfit => "Not fit.",
        }
    );
    for reason in verdict.reasons.iter().filter(|r| r.ruling != Ruling::Fit) {
        println!("  {} {} ({})", reason.reason, reason.hint, reason.source);
    }
}

fn explain(explained: &Explained) {
    let inputs: Vec<String> = explained.inputs.iter().map(|(k, v)| format!("{k} {v}")).collect();
    println!(
        "{}: {}. {} Source: {}",
        explained.label,
        explained.formula,
        inputs.join(", "),
        explained.source
    );
}
