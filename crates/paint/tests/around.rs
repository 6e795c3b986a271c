//! What goes with a survey: the gauge, the map's bands, the next reading, before and after.

#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

use paint::*;
use units::{Length, Seed, Thickness};

fn um(value: f64) -> Thickness {
    Thickness::um(value)
}

fn reading(at: (f64, f64), value: f64) -> Reading {
    Reading {
        panel: "hood".into(),
        at: Some(at),
        value: um(value),
        spot: None,
        repeat: None,
        gauge: None,
        time: None,
        substrate: Substrate::Steel,
        clear: None,
    }
}

fn panel() -> PanelInfo {
    PanelInfo {
        id: "hood".into(),
        width: Length::mm(1200.0),
        height: Length::mm(800.0),
        outline: Vec::new(),
        substrate: Substrate::Steel,
        matte: false,
        single_stage: false,
        history: History::Known { removed: Thickness::ZERO },
    }
}

/// A map whose clear coat is `f(u, v)` micrometers.
fn surface(columns: usize, rows: usize, f: impl Fn(f64, f64) -> f64) -> PanelMap {
    let at = |i: usize| {
        um(f((i % columns) as f64 / (columns - 1) as f64, (i / columns) as f64 / (rows - 1) as f64))
    };
    let clear: Vec<Thickness> = (0..columns * rows).map(at).collect();
    PanelMap {
        panel: "hood".into(),
        width: Length::mm(1200.0),
        height: Length::mm(800.0),
        columns,
        rows,
        total_mean: clear.clone(),
        total_sd: clear.clone(),
        clear_mean: clear.clone(),
        clear_sd: clear,
        spots: Vec::new(),
        length: Length::mm(300.0),
        within: um(2.0),
    }
}

/// Area of rings by the shoelace formula; rings around holes run the other way and count against it.
fn area(rings: &[Ring]) -> f64 {
    let one = |ring: &Ring| {
        (0..ring.len())
            .map(|i| {
                let (a, b) = (ring[i], ring[(i + 1) % ring.len()]);
                0.5 * (a.0 * b.1 - b.0 * a.1)
            })
            .sum::<f64>()
    };
    rings.iter().map(one).sum::<f64>().abs()
}

#[test]
fn a_slope_is_cut_where_it_crosses_the_level() {
    let map = surface(13, 9, |u, v| 40.0 + 10.0 * u + 4.0 * v);
    // below 45: u < 0.5 − 0.4 v, a trapezoid of area 0.5 − 0.2
    let rings = map.below(Surface::Clear, Some(um(45.0)));
    assert_eq!(rings.len(), 1);
    assert!((area(&rings) - 0.3).abs() < 1e-12, "{}", area(&rings));
    assert!((area(&map.below(Surface::Clear, Some(um(99.0)))) - 1.0).abs() < 1e-12);
    assert!(map.below(Surface::Clear, Some(um(1.0))).is_empty());
}

#[test]
fn a_hollow_with_an_island_gives_two_rings() {
    // π (0.4² − 0.2²) of a ring-shaped valley
    let map = surface(121, 121, |u, v| 10.0 * ((u - 0.5).hypot(v - 0.5) - 0.3).abs());
    let rings = map.below(Surface::Clear, Some(um(1.0)));
    assert_eq!(rings.len(), 2);
    assert!((area(&rings) - std::f64::consts::PI * 0.12).abs() < 1e-3, "{}", area(&rings));
}

#[test]
fn bands_cover_the_panel_once() {
    let mut chance = Seed(4).sequence();
    for _ in 0..50 {
        let values: Vec<f64> = (0..40).map(|_| chance.between(40.0, 60.0)).collect();
        let map = surface(8, 5, |u, v| values[(v * 4.0).round() as usize * 8 + (u * 7.0).round() as usize]);
        let levels = map.levels(Surface::Clear);
        assert!((1..=7).contains(&levels.len()));
        let bands = map.bands(Surface::Clear, &levels);
        // band = everything below its upper level less everything below its lower one
        let below: Vec<f64> = levels.iter().map(|l| area(&map.below(Surface::Clear, Some(*l)))).collect();
        assert!(below.windows(2).all(|w| w[0] <= w[1] + 1e-12) && below.iter().all(|a| *a <= 1.0 + 1e-12));
        assert_eq!(bands.first().unwrap().low, None);
        assert_eq!(bands.last().unwrap().high, None);
        for ring in bands.iter().flat_map(|b| &b.rings) {
            assert!(
                ring.len() > 2
                    && ring.iter().all(|p| (0.0..=1.0).contains(&p.0) && (0.0..=1.0).contains(&p.1))
            );
        }
    }
    assert!(surface(8, 5, |_, _| 50.0).levels(Surface::Clear).is_empty());
}

#[test]
fn the_next_reading_goes_where_nothing_was_read_and_it_narrows_the_bound() {
    // everything read on the left, a fall of thickness to the right
    let mut readings: Vec<Reading> = (0..12)
        .map(|i| {
            let at = (0.4 * (i % 4) as f64 / 3.0, (i / 4) as f64 / 2.0);
            reading(at, 126.0 - 10.0 * at.0)
        })
        .collect();
    let settings = Settings::default();
    let estimate = |r: &[Reading]| analyze(r, &[panel()], &settings).unwrap().panels.remove(0);
    let before = estimate(&readings);
    let next = before.more.next_at.unwrap();
    assert!(next.0 > 0.5, "{next:?}");
    // reading there what is expected there narrows the least clear coat more than reading again on the left
    let map = map(&readings, &panel(), &settings).unwrap().unwrap();
    let column = (next.0 * (map.columns - 1) as f64).round() as usize;
    let row = (next.1 * (map.rows - 1) as f64).round() as usize;
    let expected = map.total_mean[row * map.columns + column].as_um();
    readings.push(reading(next, expected));
    let there = estimate(&readings);
    readings.pop();
    readings.push(reading((0.2, 0.25), 124.0));
    let again = estimate(&readings);
    assert!(there.least_clear.sd < before.least_clear.sd);
    assert!(
        there.least_clear.sd < again.least_clear.sd,
        "{:?} {:?}",
        there.least_clear.sd,
        again.least_clear.sd
    );
}

#[test]
fn foils_give_offset_and_repeatability() {
    let foils: Vec<Foil> =
        [(50.0, 52.1), (50.0, 51.9), (125.0, 127.3), (125.0, 126.7), (250.0, 252.2), (250.0, 251.8)]
            .map(|(nominal, read)| Foil { nominal: um(nominal), read: um(read) })
            .to_vec();
    let check = check_gauge(&foils).unwrap();
    assert!((check.offset.mean.as_um() - 2.0).abs() < 1e-12);
    // repeats differ by 0.2, 0.6 and 0.4: variances 0.02, 0.18, 0.08, pooled 0.28 / 3
    assert!((check.repeatability.as_um() - (0.28f64 / 3.0).sqrt()).abs() < 1e-9);
    assert_eq!(check.corrected(&reading((0.0, 0.0), 122.0)).value, um(120.0));
    let settings = Settings::default();
    let applied = check.applied(&settings.gauge);
    assert!(applied.offset_sd < settings.gauge.offset_sd && applied.fixed == settings.gauge.fixed);
    assert!(check_gauge(&foils[..2]).is_err());
}

/// AIAG, Measurement Systems Analysis, 4th ed. (2010), example: the two methods give 27.9 % and 26.7 %,
/// 4 and 5 categories.
#[test]
fn a_gauge_study_names_its_method() {
    let text = include_str!("data/grr_aiag_10x3x3.csv");
    let rows: Vec<StudyReading> = text
        .lines()
        .skip(1)
        .map(|l| l.split(',').collect::<Vec<_>>())
        .map(|f| StudyReading {
            operator: f[0].into(),
            part: f[1].into(),
            value: um(f[3].trim().parse().unwrap()),
        })
        .collect();
    let [anova, ranges] = gauge_study(&rows).unwrap();
    assert!(anova.method.contains("analysis of variance") && ranges.method.contains("ranges"));
    assert!((100.0 * anova.share - 27.861).abs() < 5e-4 && anova.categories == 4);
    assert!((100.0 * ranges.share - 26.68).abs() < 1e-2 && ranges.categories == 5);
    assert!(gauge_study(&rows[1..]).is_err());
}

#[test]
fn before_and_after_are_compared_spot_by_spot() {
    let spot = |name: &str, value: f64| Reading { spot: Some(name.into()), ..reading((0.5, 0.5), value) };
    let before = [spot("a", 121.0), spot("a", 123.0), spot("b", 126.0), spot("c", 124.0), spot("d", 120.0)];
    let after = [spot("b", 123.5), spot("a", 119.0), spot("c", 121.0), spot("x", 90.0)];
    // a: 122 − 119 = 3, b: 2.5, c: 3
    let c = compare("hood", &before, &after, None);
    assert_eq!(c.spots, 3);
    let m = c.measured.unwrap();
    assert!((m.mean.as_um() - 8.5 / 3.0).abs() < 1e-12);
    assert!((m.sd.as_um() - (1.0 / 36.0f64).sqrt()).abs() < 1e-9);
    assert_eq!(c.booked, m);
    // a plan pulls the booked figure towards itself, and makes it surer
    let with = compare("hood", &before, &after, Some(Spread::um(2.0, 0.3)));
    assert!(with.booked.mean < m.mean && with.booked.mean > um(2.0) && with.booked.sd < m.sd);
    let none = compare("hood", &before, &[], Some(Spread::um(2.0, 0.3)));
    assert_eq!((none.measured, none.booked), (None, Spread::um(2.0, 0.3)));
    // paint does not grow
    assert_eq!(compare("hood", &after, &before, None).booked.mean, Thickness::ZERO);
}

#[test]
fn small_removals_need_many_pairs() {
    let gauge = Settings::default().gauge;
    let needed = |removal: f64| pairs_needed(um(removal), um(120.0), &gauge);
    assert!(needed(0.5) > needed(1.0) && needed(1.0) > needed(3.0) && needed(3.0) > 2);
    // z formula for a lower bound: (1.6449 + 1.2816)² · 2 · 2.2² / δ²
    let z = |d: f64| (1.6449f64 + 1.2816).powi(2) * 2.0 * 2.2 * 2.2 / (d * d);
    for d in [0.5, 1.0, 3.0] {
        let n = needed(d) as f64;
        assert!(n >= z(d) && n <= z(d) + 3.5, "{n} {}", z(d));
    }
    assert_eq!(needed(0.0), 0);
}
