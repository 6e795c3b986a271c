//! The checker for sequences edited by hand.

mod shop;

use route::{Nearest, Situation, StepUse, Verdict, check, simulate};
use shop::*;

fn judged(situation: &Situation, uses: &[StepUse]) -> (Verdict, Nearest) {
    let verdict = check(&library(), situation, uses);
    let nearest = verdict.nearest.clone().unwrap_or_else(|| panic!("no valid order near: {verdict:#?}"));
    simulate(&library(), situation, &nearest.uses).unwrap_or_else(|breach| panic!("{breach}"));
    (verdict, nearest)
}

#[test]
fn a_broken_rule_names_step_fact_harm_and_remedy() {
    let job = very_dirty();
    let uses: Vec<StepUse> =
        found_route(&library(), &job).uses().into_iter().filter(|u| u.step != "clean_wheels").collect();
    let (verdict, _) = judged(&job, &uses);
    let broken = verdict.broken.iter().find(|b| b.fact == "brake_dust").unwrap();
    assert_eq!(broken.title, "Foam, rinse and wash by hand");
    assert_eq!(broken.place.to_string(), "wheels");
    assert_eq!(broken.harm, "Wheel cleaner sprayed beside washed paint leaves brake dirt and streaks on it");
    assert_eq!(broken.remedy, "First: 'Clean wheels, tires and arches'.");
}

#[test]
fn a_step_moved_away_is_moved_back() {
    let job = from_transport();
    let route = found_route(&library(), &job);
    let mut uses = route.uses();
    let clay = uses.remove(position(&route, "clay"));
    uses.insert(2, clay);
    let (verdict, nearest) = judged(&job, &uses);
    assert!(verdict.broken.iter().any(|b| b.step == "clay" && b.fact == "loose_soil"));
    assert_eq!(nearest.changes.len(), 1, "{:?}", nearest.changes);
    assert!(nearest.changes[0].starts_with("Move 'Clay with lubricant' after "), "{:?}", nearest.changes);
    assert_eq!(nearest.uses.len(), uses.len());
}

#[test]
fn a_dropped_step_is_put_in_again() {
    let job = from_transport();
    let route = found_route(&library(), &job);
    let uses: Vec<StepUse> = route.uses().into_iter().filter(|u| u.step != "dedust_car").collect();
    let (verdict, nearest) = judged(&job, &uses);
    assert!(!verdict.holds());
    assert!(
        nearest.changes.iter().any(|c| c.starts_with("Put in 'Wash polishing dust off")),
        "{:?}",
        nearest.changes
    );
}

#[test]
fn an_unfinished_sequence_is_finished() {
    let job = very_dirty();
    let route = found_route(&library(), &job);
    let uses = &route.uses()[..4];
    let (verdict, nearest) = judged(&job, uses);
    assert!(verdict.broken.is_empty() && !verdict.open.is_empty());
    assert_eq!(&nearest.uses[..4], uses);
    assert!(nearest.changes.iter().all(|c| c.starts_with("Put in ")), "{:?}", nearest.changes);
}

#[test]
fn a_step_that_makes_no_sense_is_left_out() {
    let job = very_dirty();
    let mut uses = found_route(&library(), &job).uses();
    uses.insert(1, StepUse::new("polish_wood", ["front"]));
    let (verdict, nearest) = judged(&job, &uses);
    assert_eq!(verdict.broken[0].harm, "There is no step 'polish_wood'.");
    assert_eq!(nearest.changes, ["Leave out 'polish_wood'."]);
}

#[test]
fn an_override_leaves_the_state_it_leads_to() {
    let job = very_dirty();
    let verdict = check(&library(), &job, &[StepUse::new("clay", ["front"])]);
    assert!(!verdict.holds());
    assert_eq!(verdict.end.groups["front"].level("wash_residue"), 1);
    assert_eq!(verdict.end.groups["front"].level("loose_soil"), 3);
}
