//! What readings say about panels: facts of the trade and of arithmetic.

#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

use paint::*;
use units::{Length, Seed, Thickness};

fn panel(id: &str) -> PanelInfo {
    PanelInfo {
        id: id.into(),
        width: Length::mm(1200.0),
        height: Length::mm(800.0),
        outline: Vec::new(),
        substrate: Substrate::Steel,
        matte: false,
        single_stage: false,
        history: History::Known { removed: Thickness::ZERO },
    }
}

/// `n` readings around `mean` with standard deviation `sd`, spread over the panel.
fn readings(id: &str, n: usize, mean: f64, sd: f64) -> Vec<Reading> {
    let mut chance = Seed(11).sequence();
    (0..n)
        .map(|i| Reading {
            panel: id.into(),
            at: Some(((i % 4) as f64 / 3.0, (i / 4 % 4) as f64 / 3.0)),
            value: Thickness::um(mean + sd * chance.normal()),
            spot: None,
            repeat: None,
            gauge: None,
            time: None,
            substrate: Substrate::Steel,
            clear: None,
        })
        .collect()
}

fn one(readings: &[Reading], panel: PanelInfo) -> PanelEstimate {
    analyze(readings, &[panel], &Settings::default()).unwrap().panels.remove(0)
}

#[test]
fn default_settings_can_be_used_and_survive_a_round_trip() {
    let settings = Settings::default();
    settings.validate().unwrap();
    let text = serde_json::to_string(&settings).unwrap();
    assert_eq!(serde_json::from_str::<Settings>(&text).unwrap(), settings);
}

#[test]
fn an_even_factory_panel_is_called_factory_and_leaves_a_budget() {
    let e = one(&readings("hood", 12, 128.0, 2.0), panel("hood"));
    assert!(e.kind.factory > 0.9, "{:?}", e.kind);
    assert!(e.flags.is_empty(), "{:?}", e.flags);
    assert!(e.least_clear.lower < e.least_clear.mean && e.least_clear.mean < e.clear.mean);
    assert!(e.removable.amount > Thickness::ZERO);
}

#[test]
fn a_thick_uneven_panel_is_called_refinished_and_a_thicker_one_filled() {
    let e = one(&readings("door", 12, 225.0, 14.0), panel("door"));
    assert!(e.kind.refinished > 0.9, "{:?}", e.kind);
    assert!(e.has(Flag::Refinished) && e.has(Flag::Uneven));
    let e = one(&readings("door", 12, 620.0, 110.0), panel("door"));
    assert!(e.kind.filled > 0.9, "{:?}", e.kind);
    assert!(e.has(Flag::Filled));
}

#[test]
fn a_thin_panel_has_nothing_to_give() {
    let e = one(&readings("roof", 12, 92.0, 2.0), panel("roof"));
    assert!(e.has(Flag::Thin));
    assert_eq!(e.removable.amount, Thickness::ZERO);
    assert!(e.kind.thinned > one(&readings("roof", 12, 120.0, 2.0), panel("roof")).kind.thinned);
}

#[test]
fn plastic_gets_the_prior_alone_and_says_so() {
    let mut bumper = panel("bumper");
    bumper.substrate = Substrate::Plastic;
    let e = one(&readings("bumper", 8, 130.0, 2.0), bumper.clone());
    assert_eq!(e.n, 0);
    assert!(e.has(Flag::NoReadingPossible) && e.has(Flag::ReadingsOnUnreadable));
    let without = one(&[], bumper);
    assert_eq!(e.clear, without.clear);
    // the mixture of the priors: its mean is that of the clear coats by their shares
    let wanted = 0.80 * 47.5 + 0.12 * 55.0 + 0.03 * 55.0 + 0.05 * 33.0;
    assert!((e.clear.mean.as_um() - wanted).abs() < 0.2, "{:?}", e.clear);
}

#[test]
fn an_unknown_history_widens_the_estimate_and_lowers_the_bound() {
    let r = readings("hood", 12, 124.0, 2.0);
    let mut unknown = panel("hood");
    unknown.history = History::Unknown;
    let (known, unknown) = (one(&r, panel("hood")), one(&r, unknown));
    assert!(unknown.clear.sd > known.clear.sd);
    assert!(unknown.least_clear.lower < known.least_clear.lower);
    assert!(unknown.removable.allowance_left < known.removable.allowance_left);
    assert!(unknown.has(Flag::UnknownHistory));
}

#[test]
fn a_layered_reading_narrows_the_clear_coat() {
    let mut r = readings("hood", 12, 124.0, 2.0);
    let without = one(&r, panel("hood"));
    for reading in r.iter_mut().take(4) {
        reading.clear = Some(Thickness::um(52.0));
    }
    let with = one(&r, panel("hood"));
    assert!(with.clear.sd < without.clear.sd * 0.5);
    assert!((with.clear.mean.as_um() - 52.0).abs() < 2.0, "{:?}", with.clear);
    assert!(with.least_clear.lower > without.least_clear.lower);
}

#[test]
fn matte_is_never_machine_polished() {
    let mut matte = panel("hood");
    matte.matte = true;
    let e = one(&readings("hood", 12, 128.0, 2.0), matte);
    assert_eq!(e.removable.amount, Thickness::ZERO);
    assert_eq!(e.removable.limited_by, LimitedBy::Matte);
}

#[test]
fn the_allowance_counts_what_was_taken_before() {
    let mut worked = panel("hood");
    worked.history = History::Known { removed: Thickness::um(8.0) };
    let e = one(&readings("hood", 12, 150.0, 2.0), worked);
    assert!(e.has(Flag::AllowanceSpent));
    assert_eq!(e.removable.amount, Thickness::ZERO);
}

#[test]
fn repeats_of_a_spot_count_as_one_place_with_less_noise() {
    let single = readings("hood", 6, 124.0, 0.0);
    let thrice: Vec<Reading> = single.iter().flat_map(|r| [r.clone(), r.clone(), r.clone()]).collect();
    let (a, b) = (one(&single, panel("hood")), one(&thrice, panel("hood")));
    assert!(b.clear.sd <= a.clear.sd);
    assert_eq!(b.n, 18);
}

#[test]
fn readings_of_panels_nobody_described_are_named() {
    let survey =
        analyze(&readings("spoiler", 3, 120.0, 1.0), &[panel("hood")], &Settings::default()).unwrap();
    assert_eq!(survey.unknown_panels, ["spoiler"]);
    assert!(survey.panel("hood").unwrap().has(Flag::NoReadings));
}

#[test]
fn an_outlier_is_named_with_its_place_in_the_list() {
    let mut r = readings("hood", 12, 124.0, 1.5);
    r[7].value = Thickness::um(171.0);
    let e = one(&r, panel("hood"));
    assert_eq!(e.outliers.len(), 1);
    assert_eq!(e.outliers[0].reading, 7);
    assert!(!e.outliers[0].low && e.outliers[0].g > e.outliers[0].critical);
}

#[test]
fn the_bound_on_the_total_uses_the_exact_factor() {
    // Natrella (1963), NBS Handbook 91, Table A-7 by SciPy: n = 10, 95 %, 95 %: k = 2.910963
    let settings = Settings { coverage: 0.95, confidence: 0.95, ..Settings::default() };
    let r = readings("hood", 10, 124.0, 3.0);
    let e = analyze(&r, &[panel("hood")], &settings).unwrap().panels.remove(0);
    let total = e.total.unwrap();
    let bound = total.bound.unwrap();
    assert!((bound.factor - 2.910963).abs() < 1e-6);
    let expected = total.mean.as_um() - 2.910963 * total.sd.unwrap().as_um();
    assert!((bound.value.as_um() - expected).abs() < 1e-5);
}

#[test]
fn the_same_readings_give_the_same_answer() {
    let r = readings("hood", 12, 124.0, 3.0);
    assert_eq!(one(&r, panel("hood")), one(&r, panel("hood")));
}

#[test]
fn the_map_follows_the_readings() {
    let mut r = readings("hood", 16, 124.0, 0.5);
    for reading in &mut r {
        let u = reading.at.unwrap().0;
        reading.value = Thickness::um(118.0 + 12.0 * u);
    }
    let map = map(&r, &panel("hood"), &Settings::default()).unwrap().unwrap();
    let left = map.total_mean[map.columns * (map.rows / 2)];
    let right = map.total_mean[map.columns * (map.rows / 2) + map.columns - 1];
    assert!((left.as_um() - 118.0).abs() < 2.0 && (right.as_um() - 130.0).abs() < 2.0, "{left:?} {right:?}");
    assert_eq!(map.clear_sd.len(), map.columns * map.rows);
    assert!(map.clear_mean[0] < map.clear_mean[map.columns - 1]);
    assert!(paint::map(&[], &panel("hood"), &Settings::default()).unwrap().is_none());
    // both ways to it give the same
    let (survey, maps) = analyze_with_maps(&r, &[panel("hood")], &Settings::default()).unwrap();
    assert_eq!(maps, [Some(map)]);
    assert_eq!(survey, analyze(&r, &[panel("hood")], &Settings::default()).unwrap());
}

#[test]
fn a_setting_that_cannot_be_used_is_named() {
    let settings = Settings { confidence: 1.0, ..Settings::default() };
    let error = analyze(&[], &[], &settings).unwrap_err();
    assert_eq!(error.setting, "confidence");
}

/// Whatever is handed in, there is an answer: finite figures, a bound not above the mean, probabilities that sum to one.
#[test]
fn odd_readings_and_panels_still_get_an_answer() {
    let mut chance = Seed(77).sequence();
    let odd = [f64::NAN, f64::INFINITY, -5.0, 0.0, 1e-9, 1e9, 40.0, 120.0, 121.0, 250.0, 4999.0];
    for case in 0..60 {
        let mut pick = || odd[chance.below(odd.len())];
        let mut p = panel("hood");
        p.width = Length::mm(pick());
        p.height = Length::mm(pick());
        let readings: Vec<Reading> = (0..case % 13)
            .map(|_| Reading {
                at: Some((pick() / 121.0, pick() / 250.0)),
                value: Thickness::um(pick()),
                clear: Some(Thickness::um(pick())),
                ..readings("hood", 1, 120.0, 0.0).remove(0)
            })
            .collect();
        let e = one(&readings, p.clone());
        let k = &e.kind;
        assert!((k.factory + k.refinished + k.filled + k.thinned - 1.0).abs() < 1e-9, "case {case}: {k:?}");
        for t in [e.clear.mean, e.clear.sd, e.least_clear.mean, e.least_clear.lower, e.removable.amount] {
            assert!(t.is_finite(), "case {case}: {e:?}");
        }
        assert!(e.removable.amount >= Thickness::ZERO && e.removable.amount <= Thickness::um(8.0));
        if let Some(map) = map(&readings, &p, &Settings::default()).unwrap() {
            assert!(map.clear_mean.iter().chain(&map.clear_sd).all(|t| t.is_finite()), "case {case}");
        }
    }
}
