//! Moist air against the ASHRAE formulas as PsychroLib computes them, and the rule for surfaces.
#![allow(clippy::unwrap_used, reason = "a test may stop")]

use air::{
    AirError, Humidity, MoistAir, Pressure, ProductWindow, Ruling, check_moisture, saturation_pressure,
};
use units::{Length, Temperature};

fn air(celsius: f64, fraction: f64) -> MoistAir {
    MoistAir::new(Temperature::celsius(celsius), Humidity::fraction(fraction).unwrap()).unwrap()
}

fn rows() -> Vec<Vec<f64>> {
    let text = include_str!("data/psychrolib_2.5.0.csv");
    text.lines().skip(1).map(|l| l.split(',').map(|x| x.parse().unwrap()).collect()).collect()
}

#[test]
fn dew_point_wet_bulb_and_humidity_ratio_are_those_of_psychrolib() {
    // Same formulas: 1e-3 °C as the check file states; humidity ratio to its printed digits.
    let rows = rows();
    assert_eq!(rows.len(), 18);
    for r in rows {
        let a = air(r[0], r[1]);
        let dew = a.dew_point().unwrap().as_celsius();
        assert!((dew - r[2]).abs() < 1e-3, "dew point {dew} of {r:?}");
        let wet = a.wet_bulb().as_celsius();
        assert!((wet - r[3]).abs() < 1e-3, "wet bulb {wet} of {r:?}");
        assert!((a.humidity_ratio() - r[4]).abs() < 2e-9, "ratio {} of {r:?}", a.humidity_ratio());
    }
}

#[test]
fn a_real_gas_model_agrees_within_its_stated_difference() {
    // CoolProp 8.0.0: at most 0.011 °C in dew point, 0.013 °C in wet bulb, 0.6 % in humidity ratio (check file).
    for r in rows() {
        let a = air(r[0], r[1]);
        assert!((a.dew_point().unwrap().as_celsius() - r[7]).abs() < 0.0115, "{r:?}");
        assert!((a.wet_bulb().as_celsius() - r[8]).abs() < 0.0135, "{r:?}");
        assert!((a.humidity_ratio() / r[9] - 1.0).abs() < 0.006, "{r:?}");
    }
}

#[test]
fn saturation_pressure_is_that_of_psychrolib() {
    // PsychroLib 2.5.0, Pa; the check file's digits, 1e-6 relative where it prints enough of them.
    for (t, p) in [
        (-20.0, 103.260),
        (-10.0, 259.903),
        (0.0, 611.154),
        (10.0, 1227.995),
        (20.0, 2338.804),
        (25.0, 3169.216),
        (30.0, 4246.030),
        (40.0, 7383.460),
        (60.0, 19943.76),
        (100.0, 101418.72),
    ] {
        let got = saturation_pressure(Temperature::celsius(t)).unwrap().as_pa();
        assert!((got / p - 1.0).abs() < 5e-6, "{t}: {got}, {p}");
        assert!((got - p).abs() < 0.0051, "{t}: {got}, {p}");
    }
}

#[test]
fn the_crude_rule_of_a_fifth_is_good_in_damp_air_and_wrong_in_dry() {
    // Lawrence (2005), BAMS 86: Td ≈ T − (100 − RH)/5 above 50 %; a negative check, the engine must not behave so.
    let crude = |t: f64, rh: f64| t - (100.0 - rh) / 5.0;
    let dew = |t: f64, rh: f64| air(t, rh / 100.0).dew_point().unwrap().as_celsius();
    assert!((dew(20.0, 65.0) - crude(20.0, 65.0)).abs() < 0.3);
    assert!((dew(20.0, 30.0) - crude(20.0, 30.0)).abs() > 4.0);
}

#[test]
fn a_panel_must_lie_three_degrees_over_the_dew_point() {
    // ISO 8502-4: 20 °C and 65 % give a dew point of 13.23 °C, so at least 16.23 °C.
    let a = air(20.0, 0.65);
    let check = |surface: f64| check_moisture(&a, Temperature::celsius(surface), None).unwrap();
    assert!((check(18.0).least_surface.unwrap().as_celsius() - 16.227_215).abs() < 1e-3);
    assert_eq!(check(16.3).verdict.ruling, Ruling::Fit);
    let cold = check(16.0);
    assert_eq!(cold.verdict.ruling, Ruling::Unfit);
    assert_eq!(
        cold.verdict.reasons[0].reason,
        "surface 16.0 °C, dew point 13.2 °C: 2.8 K over it, 3 K wanted"
    );
    assert_eq!(
        cold.verdict.reasons[0].hint,
        "Warm the panel to at least 16.3 °C, or dry the air; water may stand on it unseen."
    );
    assert_eq!(check(16.3).verdict.ruling, Ruling::Fit, "following the hint is enough");
}

#[test]
fn the_film_room_is_a_window_of_temperature_and_humidity() {
    // common practice, no source: 18 to 25 °C, 40 to 60 %
    let window = ProductWindow::film_room();
    let ruling = |t, rh, s| {
        let check = check_moisture(&air(t, rh), Temperature::celsius(s), Some(&window)).unwrap();
        let hints: Vec<_> =
            check.verdict.reasons.into_iter().map(|r| r.hint).filter(|h| !h.is_empty()).collect();
        (check.verdict.ruling, hints.join(" "))
    };
    assert_eq!(ruling(21.0, 0.5, 21.0), (Ruling::Fit, String::new()));
    assert_eq!(ruling(21.0, 0.7, 21.0), (Ruling::Unfit, "Dry the air to at most 60 %.".into()));
    assert_eq!(ruling(16.0, 0.5, 18.5), (Ruling::Unfit, "Heat the room to at least 18 °C.".into()));
    assert_eq!(
        ruling(21.0, 0.3, 40.0).1,
        "Let the panel cool to at most 25 °C. Dampen the air to at least 40 %."
    );
}

#[test]
fn the_standard_atmosphere_thins_with_height() {
    // U.S. Standard Atmosphere 1976: 1000 m 89 876 Pa, 1500 m 84 560 Pa (from memory, rounded).
    for (m, pa) in [(0.0, 101_325.0), (1000.0, 89_876.0), (1500.0, 84_560.0)] {
        assert!((Pressure::at_altitude(Length::m(m)).unwrap().as_pa() / pa - 1.0).abs() < 5e-4, "{m}");
    }
}

#[test]
fn nonsense_is_told_with_what_would_be_accepted() {
    assert_eq!(
        Humidity::percent(120.0).unwrap_err().to_string(),
        "the relative humidity in percent is 120: give 0 to 100 %"
    );
    assert!(Humidity::fraction(f64::NAN).is_err());
    let dry = air(20.0, 0.0);
    assert_eq!(dry.dew_point(), None);
    assert_eq!(check_moisture(&dry, Temperature::celsius(20.0), None).unwrap().verdict.ruling, Ruling::Fit);
    assert!(dry.wet_bulb().as_celsius() < 8.0);
    let upside_down = ProductWindow {
        temperature: (Temperature::celsius(25.0), Temperature::celsius(18.0)),
        ..ProductWindow::film_room()
    };
    assert!(matches!(
        check_moisture(&air(20.0, 0.5), Temperature::celsius(20.0), Some(&upside_down)),
        Err(AirError::Range { .. })
    ));
    assert!(check_moisture(&air(20.0, 0.5), Temperature::celsius(f64::NAN), None).is_err());
}
