//! Margin review.

#![allow(clippy::unwrap_used, reason = "a test may stop")]

use price::{JobRecord, UnitCosts, review};
use units::{Area, Duration, Money};

fn record(job: &str, net: i64, offered: f64, actual: f64, refit: f64) -> JobRecord {
    JobRecord {
        job: job.into(),
        net: Money::cents(net * 100),
        hours_offered: Duration::hours(offered),
        hours_actual: Duration::hours(actual),
        hours_refit: Duration::hours(refit),
        film_offered: Area::m2(6.0),
        film_actual: Area::m2(6.5 + refit / 4.0),
        film_refit: Area::m2(refit / 4.0),
        other_costs: Money::cents(12_000),
    }
}

fn costs() -> UnitCosts {
    UnitCosts { labor_hour: Money::cents(5_500), film_m2: Money::cents(6_000) }
}

#[test]
fn margins_and_leaks_are_those_reckoned_by_hand() {
    let r = review(&[record("blue van", 2500, 20.0, 26.0, 4.0)], &costs()).unwrap();
    let job = &r.jobs[0];
    // 26 h × 55 + 7.5 m² × 60 + 120 = 2000
    assert_eq!((job.margin, job.margin_share.unwrap().to_string().as_str()), (Money::cents(50_000), "0.2"));
    // 26 − 4 − 20 = 2 h; 7.5 − 1 − 6 = .5 m²; refit 4 h and 1 m²
    assert_eq!(
        (job.hours_leak, job.film_leak, job.refit_leak),
        (Money::cents(11_000), Money::cents(3_000), Money::cents(28_000))
    );
    assert!((r.hours_ratio.unwrap() - 1.1).abs() < 1e-12);
    assert!(r.hint.unwrap().starts_with("Work done again leaks most"));
}

#[test]
fn the_thinnest_margin_comes_first_and_sums_agree() {
    let jobs = [
        record("a", 2500, 20.0, 20.0, 0.0),
        record("b", 1500, 20.0, 24.0, 0.0),
        record("c", 2000, 20.0, 19.0, 0.0),
    ];
    let r = review(&jobs, &costs()).unwrap();
    let order: Vec<_> = r.jobs.iter().map(|j| j.job.as_str()).collect();
    assert_eq!(order, ["b", "c", "a"]);
    assert_eq!(r.margin, r.jobs.iter().map(|j| j.margin).sum());
    assert!(r.hint.unwrap().starts_with("Hours beyond the offers leak most"));
    assert_eq!(review(&[], &costs()).unwrap().hint, None);
}

#[test]
fn broken_records_are_told() {
    let error = review(&[record("a", 100, 5.0, 3.0, 4.0)], &costs()).unwrap_err().to_string();
    assert_eq!(error, "job 'a': the hours of refits is 4; give 0 or more hours, refits within the whole");
    assert!(review(&[record("a", 100, f64::NAN, 3.0, 0.0)], &costs()).is_err());
    assert_eq!(review(&[record("gift", 0, 5.0, 3.0, 0.0)], &costs()).unwrap().jobs[0].margin_share, None);
}
