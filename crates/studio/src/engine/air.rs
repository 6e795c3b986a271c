//! Air in the bays: dew point, settling dust, vapor, and what they allow.

use super::minutes_in_words;
use crate::figure::Figure;
use ::air::{Humidity, MoistAir, MoistureCheck, PerHour, ProductWindow, Release, Room, Solvent};
use job::{AirReading, Bay, PlannedStep, Shop};
use units::{Duration, Length, Temperature, Volume};

/// Height of a bay when only its volume is known; settling of dust is left out, so it only bounds the box.
const HEIGHT: Length = Length::m(3.0);

/// What is known of the air of a bay.
pub fn room(bay: &Bay) -> Option<Room> {
    (bay.volume > Volume::ZERO && bay.air_changes > 0.0).then(|| Room {
        mixing: if bay.mixing > 0.0 { bay.mixing } else { 1.0 },
        ..Room::ideal(bay.volume, HEIGHT, PerHour::per_hour(bay.air_changes))
    })
}

/// Moisture of a bay against the dew point and a window; none without a sound reading.
pub fn moisture(reading: &AirReading, window: Option<&ProductWindow>) -> Option<MoistureCheck> {
    let air = MoistAir::new(reading.air, Humidity::percent(reading.humidity_percent).ok()?).ok()?;
    ::air::check_moisture(&air, reading.surface.unwrap_or(reading.air), window).ok()
}

/// Figures of the air measured in a bay, and the warning if work should wait: where film is laid by the window of film,
/// anywhere by the dew point, for water settles on a cold panel in any bay.
pub fn climate(reading: &AirReading, film: bool) -> (Vec<Figure>, Option<String>) {
    let mut figures = vec![
        Figure::new("Air", format!("{:.1}", reading.air.as_celsius()), "°C")
            .by("as measured", "hygrometer of the shop"),
        Figure::new("Humidity", format!("{:.0}", reading.humidity_percent), "%")
            .by("as measured", "hygrometer of the shop"),
    ];
    let window = film.then(ProductWindow::film_room);
    let Some(check) = moisture(reading, window.as_ref()) else { return (figures, None) };
    if let Some(dew) = check.dew_point {
        figures.push(
            Figure::new("Dew point", format!("{:.1}", dew.as_celsius()), "°C")
                .by("temperature at which this air is saturated", "ASHRAE Handbook, Fundamentals, chapter 1")
                .from("Air", format!("{:.1} °C", reading.air.as_celsius()))
                .from("Humidity", format!("{:.0} %", reading.humidity_percent)),
        );
    }
    let warning = (!check.verdict.fit()).then(|| {
        let unfit = check.verdict.reasons.iter().filter(|r| r.ruling != ::air::Ruling::Fit);
        unfit.map(|r| format!("{} {}", r.reason, r.hint).trim().to_owned()).collect::<Vec<_>>().join(" ")
    });
    (figures, warning)
}

/// How long the air of a bay clears after dusty work.
pub fn clearing(bay: &Bay, shop: &Shop) -> Option<Figure> {
    let room = room(bay)?;
    let removed = 1.0 - 1.0 / shop.settings.dust_ratio.max(1.000_1);
    let clearing = ::air::clearing_time(&room, None, removed).ok()?;
    Some(
        Figure::new("Air clear after", minutes_in_words(clearing.time?.as_minutes()), "")
            .by(
                "ln(dust before ÷ dust after) ÷ (air changes × mixing); empty room, no source, settling left out",
                "CDC, Guidelines for Environmental Infection Control (2003), Table B.1",
            )
            .from("Air changes", format!("{:.1} an hour", bay.air_changes))
            .from("Mixing", format!("{:.2}", room.mixing))
            .from("Dust to go down", format!("{:.0} : 1", shop.settings.dust_ratio)),
    )
}

/// Vapor of alcohol in a step, against published limits; none when its products have none or the bay is not known.
pub fn vapor(step: &PlannedStep, bay: Option<&Bay>, shop: &Shop) -> Option<(Figure, Option<String>)> {
    let alcohol: Volume = step
        .products
        .iter()
        .filter_map(|used| {
            let product = shop.products.iter().find(|p| p.name == used.product)?;
            Some(used.amount * product.alcohol)
        })
        .sum();
    let room = room(bay?)?;
    if alcohol <= Volume::ZERO {
        return None;
    }
    let release = Release {
        at: Duration::ZERO,
        volume: alcohol,
        strength: 1.0,
        over: step.work.max(Duration::minutes(5.0)),
    };
    let course =
        ::air::vapor(&Solvent::isopropyl_alcohol(), &room, Temperature::celsius(22.0), &[release]).ok()?;
    let mut figure = Figure::new("Alcohol vapor, peak", format!("{:.0}", course.peak.as_ppm()), "ppm")
        .how(course.explained.clone())
        .from("Alcohol", format!("{:.0} mL", alcohol.as_ml()));
    for line in &course.lines {
        figure = figure.from(
            format!("{} ({})", line.limit.name, line.limit.source),
            format!("{:.0} ppm, here {:.0}", line.limit.at.as_ppm(), line.level.as_ppm()),
        );
    }
    let warning = (!course.verdict.fit()).then(|| {
        let over = course.verdict.reasons.iter().filter(|r| r.ruling != ::air::Ruling::Fit);
        over.map(|r| format!("{} {}", r.reason, r.hint).trim().to_owned()).collect::<Vec<_>>().join(" ")
    });
    if let Some(text) = &warning {
        figure = figure.warn(text.clone());
    }
    Some((figure, warning))
}

/// How a mix is made up for a bucket.
pub fn mix(product: &str, parts_water: f64, bucket: Volume) -> Option<Figure> {
    let mix = ::air::dilution(::air::Convention::OneToN, parts_water, bucket).ok()?;
    let value = format!("{:.0} mL in {:.1} L of water", mix.concentrate.as_ml(), mix.water.as_l());
    Some(
        Figure::new(product.to_owned(), value, "")
            .how(mix.explained)
            .from("Convention", mix.stated)
            .from("Mind", mix.caution),
    )
}
