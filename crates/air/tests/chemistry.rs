//! Vapor, dilution, cure.
#![allow(clippy::unwrap_used, reason = "a test may stop")]

use air::{
    Conductivity, Convention, CureRow, CureTable, Hardness, Humidity, JoulesPerMole, MoistAir, PerHour, Ppm,
    Release, Room, Ruling, Solvent, VaporCourse, arrhenius_ratio, check_distilled, cure_time, dilute,
    dilution, vapor,
};
use units::{Duration, Length, Temperature, Volume};

fn room(changes: f64) -> Room {
    Room::ideal(Volume::m3(100.0), Length::m(3.0), PerHour::per_hour(changes))
}

fn course(changes: f64, ml: f64, over: f64) -> VaporCourse {
    let release =
        Release { at: Duration::ZERO, volume: Volume::ml(ml), strength: 1.0, over: Duration::minutes(over) };
    vapor(&Solvent::isopropyl_alcohol(), &room(changes), Temperature::celsius(20.0), &[release]).unwrap()
}

fn at(course: &VaporCourse, minute: f64) -> f64 {
    course.course.iter().find(|(t, _)| t.as_minutes() == minute).unwrap().1.as_ppm()
}

#[test]
fn the_box_follows_its_closed_form() {
    // Worked case (closed form): 100 mL into 100 m³ at once 319.4 ppm; over 1 h at 300 m³/h after .25/.5/1 h
    // 56.17, 82.70, 101.15 ppm; steady 106.45 ppm. 1e-4 relative, printed digits.
    assert!((course(0.0, 100.0, 0.0).peak.as_ppm() - 319.4).abs() < 0.05);
    let hour = course(3.0, 100.0, 60.0);
    for (minute, ppm) in [(15.0, 56.17), (30.0, 82.70), (60.0, 101.15)] {
        assert!((at(&hour, minute) / ppm - 1.0).abs() < 1e-4, "{minute}: {}", at(&hour, minute));
    }
    assert!((hour.peak.as_ppm() / 101.15 - 1.0).abs() < 1e-4 && hour.peak_at == Duration::minutes(60.0));
    // ten hours of the same rate reach the steady level G/Q
    let steady = course(3.0, 1000.0, 600.0);
    assert!((steady.peak.as_ppm() / 106.45 - 1.0).abs() < 1e-4);
}

#[test]
fn the_box_agrees_with_an_integrator() {
    // Runge-Kutta of fourth order on dC/dt = G − λC over overlapping releases, steps of 1 s.
    let releases = [(3.0, 40.0, 7.5), (8.0, 25.0, 20.0), (31.5, 60.0, 4.0)].map(|(at, ml, over)| Release {
        at: Duration::minutes(at),
        volume: Volume::ml(ml),
        strength: 0.7,
        over: Duration::minutes(over),
    });
    let solvent = Solvent::isopropyl_alcohol();
    let got = vapor(&solvent, &room(4.0), Temperature::celsius(20.0), &releases).unwrap();
    let gain = |t: f64| -> f64 {
        releases
            .iter()
            .filter(|r| t >= r.at.as_minutes() && t < (r.at + r.over).as_minutes())
            .map(|r| r.volume.as_ml() * 0.7 * 785.0 / 60.1 * 24.45 / 100.0 / r.over.as_minutes())
            .sum()
    };
    let (mut c, mut dose, h) = (0.0f64, 0.0, 1.0 / 60.0);
    let mut quarter_hours = vec![0.0];
    for i in 0..120 * 60 {
        let t = f64::from(i) * h;
        // gain is constant inside a step; its middle decides
        let g = gain(t + h / 2.0);
        let f = |c: f64| g - 4.0 / 60.0 * c;
        let k1 = f(c);
        let k2 = f(c + h / 2.0 * k1);
        let k3 = f(c + h / 2.0 * k2);
        let k4 = f(c + h * k3);
        let next = c + h / 6.0 * (k1 + 2.0 * k2 + 2.0 * k3 + k4);
        dose += h * (c + next) / 2.0;
        c = next;
        if (i + 1) % 60 == 0 {
            let minute = f64::from((i + 1) / 60);
            assert!((at(&got, minute) - c).abs() < 1e-6 * c.max(1.0), "{minute}: {} {c}", at(&got, minute));
            quarter_hours.push(dose);
        }
    }
    let worst = (15..quarter_hours.len())
        .map(|i| (quarter_hours[i] - quarter_hours[i - 15]) / 15.0)
        .fold(0.0, f64::max);
    assert!((got.fifteen_minutes.as_ppm() / worst - 1.0).abs() < 1e-6);
}

#[test]
fn vapor_pressure_is_that_of_the_reference() {
    // Poling, Prausnitz and O'Connell through `chemicals` 1.5.2: 4414 and 6021 Pa; sources differ by ±5 %.
    let solvent = Solvent::isopropyl_alcohol();
    for (t, pa) in [(20.0, 4414.0), (25.0, 6021.0)] {
        let got = solvent.vapor_pressure(Temperature::celsius(t)).unwrap().as_pa();
        assert!((got - pa).abs() < 0.5, "{t}: {got}");
    }
    // saturated at 20 °C: 4.34 % by volume, 2.2 times the lower explosive limit (with 4400 Pa)
    let saturated = solvent.saturated(Temperature::celsius(20.0)).unwrap().as_ppm();
    assert!((saturated / 43_400.0 - 1.0).abs() < 0.005);
    assert!(course(3.0, 10.0, 10.0).cautions[0].contains("2.2 times the lower explosive limit"));
    // the fit is not used outside its range
    assert!(solvent.vapor_pressure(Temperature::celsius(0.0)).is_err());
}

#[test]
fn ppm_and_milligrams_convert_as_osha_and_niosh_do() {
    // 400 ppm of isopropyl alcohol: 983.2 mg/m³ with 24.45 L/mol (OSHA prints 980); 500 ppm: 1229.0 (prints 1225).
    let solvent = Solvent::isopropyl_alcohol();
    for (ppm, mg) in [(400.0, 983.2), (500.0, 1229.0)] {
        assert!((solvent.mass(Ppm::ppm(ppm)).as_mg_per_m3() - mg).abs() < 0.1);
    }
}

#[test]
fn every_published_limit_stands_beside_its_level() {
    // OSHA PEL and NIOSH REL 400, NIOSH 15 min 500 (NIOSH page 67-63-0); TLV 200/400 (ACGIH 2003); 10 % of 20 000 ppm.
    let c = course(1.0, 60.0, 20.0);
    let limits: Vec<_> = c.lines.iter().map(|l| l.limit.at.as_ppm()).collect();
    assert_eq!(limits, [400.0, 400.0, 500.0, 200.0, 400.0, 2000.0]);
    assert!(c.lines.iter().all(|l| (l.share - l.level.as_ppm() / l.limit.at.as_ppm()).abs() < 1e-12));
    assert_eq!(c.verdict.ruling, Ruling::Fit);
    let much = course(0.2, 400.0, 30.0);
    assert_eq!(much.verdict.ruling, Ruling::Unfit);
    assert!(much.verdict.reasons.iter().any(|r| r.hint.contains("raise the air changes")));
    // a full spill in a closed room passes the tenth of the explosive limit
    let spill = course(0.0, 700.0, 0.0);
    assert!(spill.lines[5].share > 1.0, "{}", spill.lines[5].share);
    assert!(course(5.0, 0.0, 5.0).peak == Ppm::ppm(0.0));
}

#[test]
fn the_eight_hour_average_is_dose_over_eight_hours() {
    // Mass balance: with all vapor gone, ∫C dt = (volume of vapor) / Q; 100 mL at 3 changes an hour.
    let c = course(3.0, 100.0, 60.0);
    assert!((c.eight_hours.as_ppm() - 319.355 / 3.0 / 8.0).abs() < 0.01, "{}", c.eight_hours.as_ppm());
}

#[test]
fn dilution_states_its_convention() {
    // 1:10 is 1/11 = 9.0909 % or 1/10 (identity); C₁V₁ = C₂V₂: 1000 mL of 15 % from 70 % takes 214.286 mL.
    let to = dilution(Convention::OneToN, 10.0, Volume::l(5.5)).unwrap();
    assert!((to.strength - 1.0 / 11.0).abs() < 1e-12 && (to.concentrate.as_ml() - 500.0).abs() < 1e-9);
    assert_eq!(to.stated, "1:10 here means 1 part product to 10 parts water");
    let within = dilution(Convention::OneInN, 10.0, Volume::l(5.0)).unwrap();
    assert!(
        (within.concentrate.as_ml() - 500.0).abs() < 1e-9 && (within.water.as_ml() - 4500.0).abs() < 1e-9
    );
    let ipa = dilute(0.70, 0.15, Volume::ml(1000.0)).unwrap();
    assert!((ipa.concentrate.as_ml() - 214.286).abs() < 5e-4);
    assert!(dilute(0.15, 0.70, Volume::l(1.0)).is_err());
    assert!(dilution(Convention::OneInN, 0.5, Volume::l(1.0)).is_err());
    assert!(!ipa.caution.contains("shrink"));
    assert!(dilute(0.99, 0.5, Volume::l(1.0)).unwrap().caution.contains("shrink"));
}

#[test]
fn arrhenius_ratios_are_those_of_the_check_file() {
    // R = 8.314462618; 50 kJ/mol: 20→30 °C 1.967351, 20→60 °C 11.740090; 60 kJ/mol: 2.252465, 19.213467.
    for (e, to, ratio) in
        [(50e3, 30.0, 1.967_351), (50e3, 60.0, 11.740_090), (60e3, 30.0, 2.252_465), (60e3, 60.0, 19.213_467)]
    {
        let got = arrhenius_ratio(
            JoulesPerMole::j_per_mol(e),
            Temperature::celsius(20.0),
            Temperature::celsius(to),
        )
        .unwrap();
        assert!((got / ratio - 1.0).abs() < 1e-6, "{e} {to}: {got}");
    }
    // OpenStax, Chemistry 2e, example 12.11 (source from memory): 3.52e-7 at 555 K, 3.95e-2 at 781 K, 185.42 kJ/mol
    let kelvin = |k: f64| Temperature::celsius(k - 273.15);
    let got = arrhenius_ratio(JoulesPerMole::j_per_mol(185.42e3), kelvin(555.0), kelvin(781.0)).unwrap();
    assert!((got / (3.95e-2 / 3.52e-7) - 1.0).abs() < 2e-3, "{got}");
}

fn air(celsius: f64, percent: f64) -> MoistAir {
    MoistAir::new(Temperature::celsius(celsius), Humidity::percent(percent).unwrap()).unwrap()
}

fn sheet(rows: &[(f64, Option<f64>, f64)]) -> CureTable {
    CureTable {
        stage: "first cure".into(),
        rows: rows
            .iter()
            .map(|&(t, rh, hours)| CureRow {
                temperature: Temperature::celsius(t),
                humidity: rh.map(|p| Humidity::percent(p).unwrap()),
                time: Duration::hours(hours),
            })
            .collect(),
        source: "made for this test".into(),
    }
}

#[test]
fn the_sheets_own_rows_come_back_and_the_model_only_interpolates() {
    let table = sheet(&[(10.0, None, 48.0), (20.0, None, 24.0), (30.0, None, 13.0)]);
    let hours = |t| cure_time(&table, &air(t, 50.0)).unwrap().time.map(Duration::as_hours);
    for (t, h) in [(10.0, 48.0), (20.0, 24.0), (30.0, 13.0)] {
        assert!((hours(t).unwrap() - h).abs() < 1e-9);
    }
    // between rows it is Arrhenius with the rows' own activation energy
    let e = 8.314_462_618 * (48.0f64 / 24.0).ln() / (1.0 / 283.15 - 1.0 / 293.15);
    let ratio =
        arrhenius_ratio(JoulesPerMole::j_per_mol(e), Temperature::celsius(10.0), Temperature::celsius(16.0))
            .unwrap();
    assert!((hours(16.0).unwrap() - 48.0 / ratio).abs() < 1e-9);
    // outside there is no answer, with a reason
    let cold = cure_time(&table, &air(5.0, 50.0)).unwrap();
    assert_eq!((cold.time, cold.verdict.ruling), (None, Ruling::Unfit));
    assert_eq!(cold.verdict.reasons[0].reason, "5.0 °C is outside the sheet's 10 to 30 °C");
}

#[test]
fn moisture_cure_follows_the_water_in_the_air_not_the_relative_humidity() {
    let table = sheet(&[
        (20.0, Some(30.0), 30.0),
        (20.0, Some(70.0), 14.0),
        (25.0, Some(25.0), 26.0),
        (25.0, Some(60.0), 12.0),
    ]);
    let hours = |t, rh| cure_time(&table, &air(t, rh)).unwrap().time.map(Duration::as_hours);
    assert!(
        (hours(20.0, 30.0).unwrap() - 30.0).abs() < 1e-6 && (hours(25.0, 60.0).unwrap() - 12.0).abs() < 1e-6
    );
    let middle = hours(20.0, 50.0).unwrap();
    assert!(middle > 14.0 && middle < 30.0);
    assert!(hours(20.0, 60.0).unwrap() < middle, "damper is faster");
    assert_eq!(hours(20.0, 20.0), None, "drier than any row");
}

#[test]
fn a_broken_table_is_told() {
    let wrong =
        |rows: &[(f64, Option<f64>, f64)]| cure_time(&sheet(rows), &air(20.0, 50.0)).unwrap_err().to_string();
    assert_eq!(wrong(&[]), "the table for first cure: it has no rows: copy them from the data sheet");
    assert!(wrong(&[(20.0, None, 1.0), (25.0, Some(50.0), 1.0)]).contains("in every row or in none"));
    assert!(wrong(&[(20.0, None, 1.0), (20.0, None, 2.0)]).contains("two rows for the same conditions"));
    assert!(wrong(&[(20.0, None, 0.0)]).contains("a time above 0"));
}

#[test]
fn hardness_converts_by_its_definitions() {
    // NIST SP 811: 1 gpg = 64.79891 mg / 3.785411784 L = 17.11806 mg/L; DIN 38409-6: 1 °dH = 17.8480 mg/L;
    // Standard Methods 2340 B (from memory): Ca 20, Mg 5 → 70.536 mg/L with exact molar masses.
    assert!((Hardness::grains(1.0).as_mg_per_l() - 17.118_06).abs() < 5e-6);
    assert!((Hardness::german(1.0).as_mg_per_l() - 17.8480).abs() < 1e-4);
    assert_eq!(Hardness::french(1.0).as_mg_per_l(), 10.0);
    assert!((Hardness::ions_mg_per_l(20.0, 5.0).as_mg_per_l() - 70.536).abs() < 1e-3);
    assert!((Hardness::german(12.5).as_german() - 12.5).abs() < 1e-12);
    assert!((Hardness::grains(7.0).as_grains() - 7.0).abs() < 1e-12);
    // USGS: soft 0–60, moderately hard 61–120, hard 121–180, very hard above (page)
    let class = |mg| Hardness::mg_per_l(mg).class();
    assert_eq!(
        [class(60.0), class(61.0), class(121.0), class(181.0)],
        ["soft", "moderately hard", "hard", "very hard"]
    );
}

#[test]
fn distilled_water_is_measured() {
    // ASTM D1193 type IV and ISO 3696 grade 3: at most 5 µS/cm.
    let ruling = |c| check_distilled(Conductivity::us_per_cm(c)).unwrap().ruling;
    assert_eq!(
        [ruling(1.0), ruling(5.0), ruling(9.0), ruling(400.0)],
        [Ruling::Fit, Ruling::Fit, Ruling::Caution, Ruling::Unfit]
    );
    assert!(check_distilled(Conductivity::us_per_cm(-1.0)).is_err());
}
