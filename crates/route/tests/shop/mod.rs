//! Invented cars for the tests.
#![allow(dead_code)]

use effort::Effort;
use route::{Facts, Group, Library, Outcome, Route, Situation, derive};
use units::Area;

pub fn library() -> Library {
    Library::built_in().unwrap_or_else(|flaws| {
        panic!("{}", flaws.iter().map(ToString::to_string).collect::<Vec<_>>().join("\n"))
    })
}

/// A mid-size car washed by nobody for a while: painted body 10.5 m², common practice, no source.
pub fn body(soil: u8) -> Vec<Group> {
    let paint = |id: &str, m2: f64| Group::new(id, "paint", Area::m2(m2)).fact("loose_soil", soil);
    vec![
        paint("front", 3.2).panels(["hood", "front bumper", "left fender", "right fender"]),
        paint("rest", 7.3).panels(["left doors", "right doors", "roof", "trunk", "rear bumper"]),
        Group::new("glass", "glass", Area::m2(3.5)).items(6).fact("loose_soil", soil),
        Group::new("trim", "trim", Area::m2(1.2)).fact("loose_soil", soil),
        Group::new("lamps", "lens", Area::m2(0.5)).items(4).fact("loose_soil", soil),
        Group::new("wheels", "wheel", Area::m2(1.6)).items(4).fact("loose_soil", soil).fact("brake_dust", 1),
        Group::new("tires", "tire", Area::m2(1.0)).items(4).fact("loose_soil", soil),
    ]
}

pub fn inside() -> Vec<Group> {
    vec![
        Group::new("seats", "leather", Area::m2(5.0)).items(5).fact("grime", 1).fact("loose_soil", 1),
        Group::new("carpet", "fabric", Area::m2(4.0)).fact("loose_soil", 1).fact("grime", 1),
        Group::new("dash", "inside_trim", Area::m2(3.0)).fact("loose_soil", 1).fact("grime", 1),
    ]
}

pub fn with(groups: Vec<Group>) -> Situation {
    groups.into_iter().fold(Situation::new(), Situation::group)
}

/// Adds a fact to groups by name.
pub fn found(mut situation: Situation, groups: &[&str], facts: &[(&str, u8)]) -> Situation {
    for group in groups {
        for (fact, level) in facts {
            situation = situation.find(group, fact, *level);
        }
    }
    situation
}

pub const PAINT: [&str; 2] = ["front", "rest"];
pub const OUTSIDE: [&str; 5] = ["front", "rest", "glass", "trim", "lamps"];
pub const CLEANED: [&str; 7] = ["front", "rest", "glass", "trim", "lamps", "wheels", "tires"];

pub fn want(situation: Situation, groups: &[&str], goal: &str) -> Situation {
    groups.iter().fold(situation, |s, g| s.want(g, goal))
}

/// Fresh from transport: glue, grit, iron, scratches; one stage all round, film on the front, coating on
/// the rest, wheels and leather coated.
pub fn from_transport() -> Situation {
    let mut groups = body(2);
    groups.extend(inside());
    let s = with(groups);
    let s = found(s, &PAINT, &[("adhesive", 2), ("bonded_grit", 1), ("iron", 1), ("marks", 2)]);
    let s = found(s, &["rest"], &[("tar", 1)]);
    let s = want(s, &CLEANED, "cleaned");
    let s = want(s, &PAINT, "corrected_one_stage");
    let s = want(s, &["front"], "filmed");
    let s = want(s, &["rest", "wheels"], "coated");
    let s = want(s, &["seats"], "coated");
    let s = want(s, &["carpet", "dash"], "cleaned");
    let s = want(s, &["tires"], "dressed");
    s.car_fact("belongings", 1).car_fact("sensors_unchecked", 1).want_car("handover")
}

pub fn found_route(library: &Library, situation: &Situation) -> Route {
    match derive(library, situation, &Effort::steps(20_000)) {
        Outcome::Found(route) => route,
        Outcome::None(none) => panic!("{none:#?}"),
    }
}

pub fn position(route: &Route, step: &str) -> usize {
    route.steps.iter().position(|s| s.step == step).unwrap_or_else(|| panic!("no {step}: {:#?}", ids(route)))
}

pub fn last(route: &Route, step: &str) -> usize {
    route.steps.iter().rposition(|s| s.step == step).unwrap_or_else(|| panic!("no {step}: {:#?}", ids(route)))
}

pub fn ids(route: &Route) -> Vec<&str> {
    route.steps.iter().map(|s| s.step.as_str()).collect()
}

pub fn count(route: &Route, step: &str) -> usize {
    route.steps.iter().filter(|s| s.step == step).count()
}

pub fn level(facts: &Facts, fact: &str) -> u8 {
    facts.level(fact)
}

/// A car for which no proof is reached in little effort: tar here, old film there, so that rounds of remover
/// and rinse can be shared in many ways.
pub const HARD: &str = "forty panels, one with old film";

/// One invented car for each way of working.
pub fn cars() -> Vec<(&'static str, Situation)> {
    vec![
        ("from transport", from_transport()),
        ("very dirty, wash only", very_dirty()),
        ("old film that hides", old_film()),
        ("yearly visit, one damaged piece", visit()),
        ("two-stage, film all over", full_film()),
        ("forty panels", forty_panels()),
        ("film, coating over it", over_film()),
        (HARD, forty_panels().find("panel 5", "old_film", 1)),
    ]
}

/// A very dirty car that is only washed.
pub fn very_dirty() -> Situation {
    want(with(body(3)), &CLEANED, "cleaned").want_car("handover")
}

/// Old film on the front; film again after it.
pub fn old_film() -> Situation {
    let s = found(with(body(1)), &["front"], &[("old_film", 1)]);
    let s = found(s, &["rest"], &[("bonded_grit", 1), ("iron", 1)]);
    want(want(s, &CLEANED, "cleaned"), &["front"], "filmed").want_car("handover")
}

/// Back for a yearly visit: film stays on most, one damaged piece is renewed, leather coated again.
pub fn visit() -> Situation {
    let s = Situation::new()
        .group(
            Group::new("hood", "paint", Area::m2(1.6))
                .fact("loose_soil", 1)
                .fact("old_film", 1)
                .fact("filmed", 1),
        )
        .group(Group::new("filmed rest", "film", Area::m2(8.9)).fact("loose_soil", 1).fact("insects", 1))
        .group(Group::new("glass", "glass", Area::m2(3.5)).items(6).fact("loose_soil", 1))
        .group(Group::new("wheels", "wheel", Area::m2(1.6)).items(4).fact("loose_soil", 1))
        .group(Group::new("seats", "leather", Area::m2(5.0)).items(5).fact("loose_soil", 1).fact("grime", 1));
    let s = want(s, &["filmed rest", "glass", "wheels"], "cleaned").want("hood", "filmed");
    want(s, &["filmed rest"], "topped_up").want("seats", "coated").want_car("handover")
}

/// Everything corrected in two stages and filmed.
pub fn full_film() -> Situation {
    let s = found(with(body(1)), &PAINT, &[("bonded_grit", 1), ("iron", 1), ("marks", 2)]);
    let s = want(want(s, &CLEANED, "cleaned"), &PAINT, "corrected_two_stage");
    want(s, &PAINT, "filmed").want_car("handover")
}

/// Forty parts, each listed by itself, in a dozen different states and orders.
pub fn forty_panels() -> Situation {
    let mut s = Situation::new();
    for i in 0..26 {
        let panel = format!("panel {i}");
        let mut group =
            Group::new(&panel, "paint", Area::m2(0.3 + 0.01 * f64::from(i))).fact("loose_soil", 2);
        group = group.fact("bonded_grit", 1).fact("iron", u8::from(i % 2 == 0)).fact("marks", (i % 3) as u8);
        group = group.fact("tar", u8::from(i % 13 == 0));
        s = s.group(group).want(&panel, "cleaned").want(&panel, if i < 9 { "filmed" } else { "coated" });
        if i % 3 == 2 {
            s = s.want(&panel, "corrected_one_stage");
        }
    }
    for i in 0..6 {
        let pane = format!("pane {i}");
        s = s.group(Group::new(&pane, "glass", Area::m2(0.6)).fact("loose_soil", 2)).want(&pane, "coated");
    }
    for i in 0..4 {
        let (wheel, tire) = (format!("wheel {i}"), format!("tire {i}"));
        s = s.group(Group::new(&wheel, "wheel", Area::m2(0.4)).fact("loose_soil", 2).fact("brake_dust", 1));
        s = s.group(Group::new(&tire, "tire", Area::m2(0.25)).fact("loose_soil", 2));
        s = s.want(&wheel, "cleaned").want(&tire, "dressed");
    }
    s.car_fact("sensors_unchecked", 1).want_car("handover")
}

/// Film and a coating over it on the front, nothing ordered for the rest.
pub fn over_film() -> Situation {
    want(with(body(1)), &["front"], "filmed").want("front", "coated").want_car("handover")
}
