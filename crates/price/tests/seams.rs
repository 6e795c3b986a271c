//! Where seams pay.

#![allow(clippy::unwrap_used, reason = "a test may stop")]

use effort::Effort;
use price::{
    AreaYears, CandidateSeam, DamageRate, NestedPiece, SeamChoice, SeamPlan, SeamPrices, SeamProblem,
    Section, Zone, cheapest_at, choose_seams, seam_front, seam_plan,
};
use units::{Area, Duration, Length, Money};

fn rate(claims: f64, m2_years: f64) -> DamageRate {
    DamageRate::prior(claims, AreaYears::m2_years(m2_years)).unwrap()
}

/// An invented long side, 4.2 m, flared behind both wheels, so that its parts swing out across the roll. Damage:
/// common practice, no source: chips gather on the flared parts behind the wheels.
fn side() -> SeamProblem {
    let section = |name: &str, zone, along: (f64, f64), across: (f64, f64), fill: f64| Section {
        name: name.into(),
        zone,
        area: Area::m2((along.1 - along.0) * (across.1 - across.0) * fill),
        along: (Length::m(along.0), Length::m(along.1)),
        across: (Length::m(across.0), Length::m(across.1)),
    };
    let seam = |between, length, in_sight| CandidateSeam {
        between,
        length: Length::m(length),
        in_sight: Length::m(in_sight),
    };
    SeamProblem {
        sections: vec![
            section("front fender", 0, (0.0, 0.9), (0.1, 0.75), 0.75),
            section("flare behind the front wheel", 1, (0.9, 1.3), (0.0, 0.55), 0.8),
            section("doors", 0, (1.3, 3.0), (0.2, 0.75), 0.9),
            section("flare before the rear wheel", 1, (3.0, 3.35), (0.0, 0.6), 0.8),
            section("quarter", 0, (3.35, 4.2), (0.15, 0.9), 0.8),
        ],
        seams: vec![
            seam((0, 1), 0.5, 0.2),
            seam((1, 2), 0.45, 0.2),
            seam((2, 3), 0.45, 0.3),
            seam((3, 4), 0.5, 0.3),
        ],
        zones: vec![
            Zone { name: "side".into(), rate: rate(2.0, 200.0) },
            Zone { name: "behind the wheels".into(), rate: rate(9.0, 60.0) },
        ],
        nested: vec![],
        prices: SeamPrices {
            rolls: vec![Length::mm(610.0), Length::mm(760.0), Length::mm(1220.0)],
            trim: Length::mm(15.0),
            film_m2: Money::cents(6500),
            offcut_value: 0.3,
            labor_hour: Money::cents(7500),
            per_piece: Duration::minutes(25.0),
            per_m2: Duration::minutes(70.0),
            per_seam_m: Duration::minutes(8.0),
            removal_m2: Duration::minutes(40.0),
            per_renewal: Duration::minutes(90.0),
            flaws_m2: 0.12,
            horizon: Duration::days(365.25 * 6.0),
            interest: 0.03,
            unseen_m: Money::cents(2000),
        },
    }
}

fn choose(problem: &SeamProblem) -> SeamChoice {
    choose_seams(problem, &Effort::steps(1 << 24)).unwrap()
}

#[test]
fn several_pieces_on_a_long_flared_side_lower_the_price_now_and_later() {
    // common practice, no source: covering a long flared side in several pieces with deliberate seams, instead of one
    // large piece, lowers both the price now and the price of renewing one side later, and one damaged section can be
    // renewed alone.
    let choice = choose(&side());
    let (best, one) = (choice.best.unwrap(), choice.seamless.unwrap());
    assert!(choice.proven);
    assert_eq!(one.pieces.len(), 1);
    assert!(best.pieces.len() > 1);
    assert!(best.install < one.install, "now: {} {}", best.install.amount(), one.install.amount());
    assert!(best.renewals < one.renewals, "later: {} {}", best.renewals.amount(), one.renewals.amount());
    let damaged = |plan: &SeamPlan| plan.pieces.iter().find(|p| p.sections.contains(&1)).unwrap().renewal;
    assert!(damaged(&best) < damaged(&one), "one damaged section alone");
    // damage rates differ by zone: the piece behind the wheel is renewed more often for its size
    let often = |i: usize| {
        let piece = best.pieces.iter().find(|p| p.sections.contains(&i)).unwrap();
        piece.renewals / piece.area.as_m2()
    };
    assert!(often(1) > often(2));
}

#[test]
fn the_sum_is_that_of_the_formula() {
    // One section on one roll, by hand: Σ install + λ R (1 − e^(−rT))/r.
    let mut p = side();
    p.sections.truncate(1);
    p.seams.clear();
    let plan = choose(&p).best.unwrap();
    let (area, trim) = (0.9 * 0.65 * 0.75, 0.03);
    // 0.93 × 0.68 lies across the 760 roll, the rest of its width is worth 30 %
    let film = (0.9 + trim) * 0.76 - 0.3 * (0.76 - 0.65 - trim) * (0.9 + trim);
    let goes = (0.12f64 * area).exp();
    let install = goes * (film * 65.0 + 75.0 * (25.0 + 70.0 * area) / 60.0);
    let renewal = install + 75.0 * (40.0 * area + 90.0) / 60.0;
    let annuity = (1.0 - (-0.03f64 * 6.0).exp()) / 0.03;
    let renewals = 2.0 / 200.0 * area * renewal * annuity;
    assert!((plan.install.as_estimate() - install).abs() < 1e-5);
    assert!((plan.renewals.as_estimate() - renewals).abs() < 1e-5);
    assert!((plan.total.as_estimate() - install - renewals).abs() < 1e-5);
    assert!((plan.expected_renewals - 2.0 / 200.0 * area * 6.0).abs() < 1e-12);
    // without interest a year is a year (limit of the annuity)
    p.prices.interest = 0.0;
    let plan = choose(&p).best.unwrap();
    assert!((plan.renewals.as_estimate() - 0.01 * area * renewal * 6.0).abs() < 1e-5);
}

#[test]
fn the_dearer_a_seam_in_sight_the_less_of_it() {
    let mut lengths = Vec::new();
    for cents in [0, 5_000, 20_000, 80_000, 1_000_000] {
        let mut p = side();
        p.prices.unseen_m = Money::cents(cents);
        lengths.push(choose(&p).best.unwrap().in_sight.as_m());
    }
    assert!(lengths.is_sorted_by(|a, b| a >= b), "{lengths:?}");
    assert!(lengths[0] > 0.0 && lengths[4] == 0.0, "{lengths:?}");
}

#[test]
fn no_plan_of_the_front_is_beaten_and_it_holds_the_best_at_every_price() {
    let mut p = side();
    p.prices.unseen_m = Money::ZERO;
    let front = seam_front(&p, &Effort::steps(1 << 20)).unwrap();
    let parts = |s: &SeamPlan| (s.install, s.renewals, s.in_sight);
    assert!(front.len() > 2);
    for (i, a) in front.iter().enumerate() {
        a.verify(&p).unwrap();
        for (j, b) in front.iter().enumerate() {
            let (x, y) = (parts(a), parts(b));
            assert!(i == j || x.0 < y.0 || x.1 < y.1 || x.2 < y.2, "{i} is beaten by {j}");
        }
    }
    // a slider over the front finds what a search at that price finds
    for cents in [0, 2_000, 7_500, 15_000, 40_000, 100_000] {
        let at = Money::cents(cents);
        p.prices.unseen_m = at;
        let best = choose(&p).best.unwrap();
        let slid = cheapest_at(&front, at).unwrap();
        assert_eq!(slid.seams, best.seams, "at {cents}");
        assert!((slid.total_at(at) - best.total).as_estimate().abs() < 1e-4);
    }
}

#[test]
fn a_given_choice_is_reckoned_as_the_search_reckons_it() {
    let p = side();
    let choice = choose(&p);
    let best = choice.best.unwrap();
    assert_eq!(seam_plan(&p, &best.seams).unwrap(), best);
    assert_eq!(seam_plan(&p, &[]).unwrap(), choice.seamless.unwrap());
    assert!(seam_plan(&p, &[9]).unwrap_err().to_string().contains("the number of a candidate seam"));
}

#[test]
fn a_piece_nested_for_itself_costs_what_it_uses() {
    let mut p = side();
    let plain = choose(&p).seamless.unwrap();
    let area: f64 = p.sections.iter().map(|s| s.area.as_m2()).sum();
    p.nested.push(NestedPiece { sections: vec![0, 1, 2, 3, 4], film: Area::m2(area * 1.1) });
    let nested = choose(&p).seamless.unwrap();
    assert!((nested.pieces[0].film.as_m2() - area * 1.1).abs() < 1e-12);
    assert!(nested.install < plain.install);
    p.nested[0].film = Area::m2(area * 0.9);
    let error = choose_seams(&p, &Effort::steps(100)).unwrap_err().to_string();
    assert!(error.starts_with("a nested piece: its film in m²"), "{error}");
}

#[test]
fn what_fits_no_roll_is_told_with_a_way_on() {
    let mut p = side();
    p.prices.rolls = vec![Length::mm(300.0)];
    let choice = choose(&p);
    assert_eq!((choice.best, choice.seamless), (None, None));
    assert_eq!(
        choice.hint.unwrap(),
        "No choice of seams fits the rolls: add a candidate seam or a wider roll."
    );
}

#[test]
fn broken_problems_are_told() {
    let wrong = |change: fn(&mut SeamProblem)| {
        let mut p = side();
        change(&mut p);
        choose_seams(&p, &Effort::steps(100)).unwrap_err().to_string()
    };
    assert_eq!(
        wrong(|p| p.seams[1].between = (1, 9)),
        "candidate seam 1: a section is 9; give the number of a section"
    );
    assert_eq!(
        wrong(|p| p.seams[1].between = (1, 1)),
        "candidate seam 1: the other side is the same section; give two sections"
    );
    assert!(wrong(|p| p.sections[2].zone = 7).contains("the number of a zone"));
    assert!(wrong(|p| p.sections.clear()).contains("1 to 64"));
    assert!(wrong(|p| p.sections[0].area = Area::m2(9.0)).contains("no more than length × height"));
    assert!(wrong(|p| p.seams[0].in_sight = Length::m(9.0)).contains("no more than the length"));
    assert!(wrong(|p| p.prices.rolls.clear()).contains("at least one roll width"));
    assert!(wrong(|p| p.prices.interest = f64::NAN).contains("the interest"));
}
