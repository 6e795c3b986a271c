//! The trade's own rules, one test each. All of them: common practice, no source.

mod shop;

use effort::Effort;
use route::{Air, Outcome, RoomKind, Route, Situation, StepUse, check, derive};
use shop::*;

/// The rules that a sequence breaks at a step.
fn broken(situation: &Situation, uses: &[StepUse], step: &str) -> Vec<String> {
    let verdict = check(&library(), situation, uses);
    let at = verdict.broken.iter().filter(|b| b.step == step);
    at.map(|b| b.rule.clone().unwrap_or_else(|| b.fact.clone())).collect()
}

/// The route without one step, as a person might shorten it.
fn without(route: &Route, step: &str) -> Vec<StepUse> {
    route.uses().into_iter().filter(|u| u.step != step).collect()
}

fn before(route: &Route, earlier: &str, later: &str) -> bool {
    last(route, earlier) < position(route, later)
}

// common practice, no source
#[test]
fn wheels_come_before_bodywork() {
    let job = very_dirty();
    let route = found_route(&library(), &job);
    assert!(before(&route, "clean_wheels", "foam_hand_wash"));
    let rules = broken(&job, &without(&route, "clean_wheels"), "foam_hand_wash");
    assert!(rules.contains(&"wheels_before_bodywork".to_owned()), "{rules:?}");
}

// common practice, no source
#[test]
fn adhesive_is_dissolved_with_dwell_repeated_and_rinsed_off_rather_than_scrubbed() {
    let job = from_transport();
    let route = found_route(&library(), &job);
    let of_front = |step: &str| {
        let on = route
            .steps
            .iter()
            .enumerate()
            .filter(|(_, s)| s.step == step && s.groups.contains(&"front".into()));
        on.map(|(i, _)| i).collect::<Vec<_>>()
    };
    let (dissolved, rinsed) = (of_front("dissolve_adhesive"), of_front("rinse_off"));
    assert_eq!(dissolved.len(), 2, "thick glue takes two rounds");
    assert!(dissolved[0] < rinsed[0] && rinsed[0] < dissolved[1] && dissolved[1] < rinsed[1]);
    let dwell = route.steps[dissolved[0]].wait;
    assert!(dwell.least.as_minutes() > 0.0 && dwell.most.is_some_and(|m| m > dwell.least));
    assert!(!route.steps[dissolved[0]].title.contains("scrub"));
    let rules = broken(&job, &without(&route, "rinse_off"), "clay");
    assert!(rules.contains(&"rinse_do_not_scrub".to_owned()), "{rules:?}");
    let rules = broken(&job, &without(&route, "dissolve_adhesive"), "clay");
    assert!(rules.contains(&"adhesive_before_abrasives".to_owned()), "{rules:?}");
}

// common practice, no source
#[test]
fn clay_is_followed_by_a_wash() {
    let route = found_route(&library(), &from_transport());
    let clay = last(&route, "clay");
    let wash = route.steps.iter().skip(clay).position(|s| s.step == "foam_hand_wash").unwrap() + clay;
    let between = &route.steps[clay + 1..wash];
    assert!(between.iter().all(|s| s.step != "dry_polymer" && !s.removes_clear_coat));
    let clayed = &library();
    let step = clayed.step("clay").unwrap();
    assert!(step.effects.iter().any(|e| e.fact == "wash_residue"), "lubricant and loosened grit stay behind");
}

// common practice, no source
#[test]
fn iron_remover_comes_after_clay_and_is_followed_by_the_last_foam_and_hand_wash() {
    let job = from_transport();
    let route = found_route(&library(), &job);
    assert!(before(&route, "clay", "spray_iron_remover"));
    assert_eq!(
        route
            .steps
            .iter()
            .skip(last(&route, "spray_iron_remover"))
            .filter(|s| s.step == "foam_hand_wash")
            .count(),
        1
    );
    let mut early = route.uses();
    let iron = early.remove(position(&route, "spray_iron_remover"));
    early.insert(position(&route, "clay"), iron);
    let rules = broken(&job, &early, "spray_iron_remover");
    assert!(rules.contains(&"iron_after_clay".to_owned()), "{rules:?}");
}

// common practice, no source
#[test]
fn iron_remover_goes_on_clean_cool_dry_paint_and_is_not_left_to_dry() {
    let library = library();
    let step = library.step("spray_iron_remover").unwrap();
    for fact in ["loose_soil", "hot", "wet"] {
        assert!(step.needs.iter().any(|n| n.fact == fact && n.most == 0), "{fact}");
    }
    assert!(step.wait.most.is_some() && step.title.contains("before it dries"));
}

// common practice, no source
#[test]
fn a_very_dirty_car_takes_three_foam_washes() {
    let route = found_route(&library(), &very_dirty());
    assert_eq!(count(&route, "foam_hand_wash"), 3);
    for (soil, washes) in [(1, 1), (2, 2)] {
        let job = want(with(body(soil)), &CLEANED, "cleaned");
        assert_eq!(count(&found_route(&library(), &job), "foam_hand_wash"), washes);
    }
}

// common practice, no source
#[test]
fn a_plain_polymer_drying_aid_before_correction_never_a_coating_type_one() {
    let job = from_transport();
    let route = found_route(&library(), &job);
    assert!(position(&route, "dry_polymer") < position(&route, "polish_one_stage"));
    assert_eq!(count(&route, "dry_coating_aid"), 0);
    let swapped: Vec<StepUse> = route
        .uses()
        .into_iter()
        .map(|u| if u.step == "dry_polymer" { StepUse::new("dry_coating_aid", u.groups) } else { u })
        .collect();
    assert!(broken(&job, &swapped, "dry_coating_aid").contains(&"marks".to_owned()));
    assert!(
        broken(&job, &swapped, "polish_one_stage").contains(&"no_coating_aid_before_correction".to_owned())
    );
    // correction takes the polymer off again, so nothing has to
    let library = library();
    let polish = library.step("polish_one_stage").unwrap();
    assert!(
        polish.effects.iter().any(|e| e.fact == "drying_aid")
            && polish.needs.iter().all(|n| n.fact != "drying_aid")
    );
}

// common practice, no source
#[test]
fn bare_discs_rust_after_the_last_wash_and_a_braking_drive_clears_them_before_handover_wheels_wiped_after() {
    let job = very_dirty();
    let route = found_route(&library(), &job);
    assert!(before(&route, "foam_hand_wash", "braking_drive"));
    assert!(before(&route, "test_brakes", "braking_drive"));
    assert!(before(&route, "braking_drive", "wipe_wheels"));
    assert!(before(&route, "wipe_wheels", "final_check"));
    let drive = &route.steps[position(&route, "braking_drive")];
    assert!(drive.minutes.as_minutes() <= 20.0 && drive.cautions.contains(&"driving".to_owned()));
    for (step, rule) in [("braking_drive", "discs_cleared"), ("wipe_wheels", "wheels_wiped_after_drive")] {
        let rules = broken(&job, &without(&route, step), "final_check");
        assert!(rules.contains(&rule.to_owned()), "{step}: {rules:?}");
    }
    assert!(
        broken(&job, &without(&route, "test_brakes"), "braking_drive").contains(&"brakes_tested".to_owned())
    );
}

// common practice, no source
#[test]
fn low_mileage_says_nothing_about_paint_condition() {
    // the structure has no place for it: no fact, need or effect speaks of distance driven, and a car may
    // carry every finding whatever it has run
    let library = library();
    for fact in library.facts() {
        let told = format!("{} {} {}", fact.id, fact.name, fact.text).to_lowercase();
        for word in ["odometer", "mileage", "kilometer", "distance driven", "new car", "age of the car"] {
            assert!(!told.contains(word), "{}: {word}", fact.id);
        }
    }
    let uses_facts_only = |id: &str| library.fact(id).is_some();
    assert!(library.steps().iter().flat_map(|s| &s.needs).all(|n| uses_facts_only(&n.fact)));
    for fact in ["adhesive", "bonded_grit", "iron", "marks", "deep_defect", "old_film"] {
        assert!(library.fact(fact).is_some_and(|f| f.found), "{fact}");
    }
}

// common practice, no source
#[test]
fn old_film_may_hide_marks_so_its_removal_can_change_the_scope() {
    let library = library();
    let job = old_film();
    let route = found_route(&library, &job);
    let (off, seen) = (position(&route, "remove_old_film"), position(&route, "survey_under_film"));
    assert!(off < seen && position(&route, "agree_scope") < off, "the removal itself is agreed");
    assert!(seen < last(&route, "agree_scope"), "what came to light is agreed again");
    assert!(last(&route, "agree_scope") < position(&route, "lay_film"));
    assert!(
        broken(&job, &without(&route, "survey_under_film"), "lay_film").contains(&"seen_bare".to_owned())
    );
    let once: Vec<StepUse> = route
        .uses()
        .into_iter()
        .enumerate()
        .filter(|(i, _)| *i != last(&route, "agree_scope"))
        .map(|(_, u)| u)
        .collect();
    assert!(broken(&job, &once, "lay_film").contains(&"agreed_scope".to_owned()));
}

// common practice, no source
#[test]
fn after_correction_the_whole_car_then_floor_and_room_are_cleaned_before_film() {
    let job = from_transport();
    let route = found_route(&library(), &job);
    assert!(before(&route, "polish_one_stage", "dedust_car"));
    assert!(before(&route, "dedust_car", "make_room_ready"));
    assert!(before(&route, "make_room_ready", "lay_film"));
    assert!(broken(&job, &without(&route, "dedust_car"), "lay_film").contains(&"car_dusted".to_owned()));
    assert!(
        broken(&job, &without(&route, "make_room_ready"), "lay_film").contains(&"room_made_ready".to_owned())
    );
    // a room made ready before the dusty work is not ready after it
    let mut early = route.uses();
    let ready = early.remove(position(&route, "make_room_ready"));
    early.insert(1, ready);
    assert!(broken(&job, &early, "lay_film").contains(&"room_made_ready".to_owned()));
}

// common practice, no source
#[test]
fn polishing_and_film_work_never_share_air() {
    let library = library();
    for step in library.steps() {
        match step.air {
            Air::Dusty => assert!(step.room == RoomKind::CorrectionBay, "{}", step.id),
            Air::Clean => assert!(step.room == RoomKind::CleanRoom, "{}", step.id),
            Air::Neutral => {}
        }
    }
}

// common practice, no source
#[test]
fn one_room_for_dusty_and_clean_work_is_cleaned_between_them() {
    let mut job = from_transport();
    job.rooms.push(route::Room::new("hall", [RoomKind::CorrectionBay, RoomKind::CleanRoom]));
    let route = found_route(&library(), &job);
    assert!(
        before(&route, "polish_one_stage", "make_room_ready")
            && before(&route, "make_room_ready", "lay_film")
    );
    let rules = broken(&job, &without(&route, "make_room_ready"), "lay_film");
    assert!(
        rules.contains(&"floor_clean".to_owned()) && rules.contains(&"air_clean".to_owned()),
        "{rules:?}"
    );
}

// common practice, no source
#[test]
fn film_work_needs_soapy_distilled_water_and_a_cap_sheet_that_comes_off_on_the_car() {
    let library = library();
    let job = from_transport();
    let route = found_route(&library, &job);
    let mix = &route.steps[position(&route, "mix_slip_solution")];
    let names: Vec<&str> = mix.products.iter().map(|p| p.name.as_str()).collect();
    assert!(names.contains(&"distilled water") && names.contains(&"baby shampoo"));
    // 2–5 mL baby shampoo in 1 L distilled water
    let ml = |name: &str| mix.products.iter().find(|p| p.name == name).unwrap().mix;
    assert!((2.0..=5.0).contains(&(ml("baby shampoo").as_ml() / ml("distilled water").as_l())));
    assert!(
        broken(&job, &without(&route, "mix_slip_solution"), "lay_film")
            .contains(&"slip_from_distilled_water".to_owned())
    );
    let (laid, pulled) = (position(&route, "lay_film"), position(&route, "pull_cap_sheet"));
    assert!(laid < pulled && pulled < position(&route, "squeegee_film"));
    assert!(
        broken(&job, &without(&route, "pull_cap_sheet"), "squeegee_film")
            .contains(&"cap_sheet_off".to_owned())
    );
}

// common practice, no source
#[test]
fn heating_and_rest_follow_film_before_handover() {
    let job = from_transport();
    let route = found_route(&library(), &job);
    let heat = position(&route, "wrap_and_heat_edges");
    assert!(position(&route, "lay_film") < heat && heat < position(&route, "rewarm_edges"));
    assert!(before(&route, "rewarm_edges", "braking_drive") && before(&route, "rewarm_edges", "final_check"));
    assert!(route.steps[heat].wait.least.as_hours() >= 24.0);
    assert!(
        broken(&job, &without(&route, "rewarm_edges"), "final_check")
            .contains(&"film_settled_everywhere".to_owned())
    );
}

// common practice, no source
#[test]
fn fresh_film_is_not_washed_for_about_a_week() {
    let library = library();
    let care = library.care().iter().find(|c| c.id == "first_wash_after_film").unwrap();
    assert!(care.least.as_days() >= 7.0);
    let fresh =
        want(found(with(body(1)), &["front"], &[("filmed", 1), ("settling", 2)]), &["front"], "cleaned");
    let uses = [StepUse::new("record_arrival", [""; 0]), StepUse::new("foam_hand_wash", ["front"])];
    assert!(broken(&fresh, &uses, "foam_hand_wash").contains(&"film_settled".to_owned()));
}

// common practice, no source
#[test]
fn leather_is_cleaned_alcohol_wiped_coated_and_due_again_sooner_than_exterior_coatings() {
    let library = library();
    let job = from_transport();
    let route = found_route(&library, &job);
    assert!(
        before(&route, "clean_leather", "wipe_leather") && before(&route, "wipe_leather", "coat_leather")
    );
    assert!(route.steps[position(&route, "coat_leather")].wait.least.as_hours() >= 12.0, "it rests");
    assert!(
        broken(&job, &without(&route, "wipe_leather"), "coat_leather").contains(&"bare_surface".to_owned())
    );
    assert!(
        broken(&job, &without(&route, "clean_leather"), "coat_leather").contains(&"grime_off".to_owned())
    );
    let care = |id: &str| library.care().iter().find(|c| c.id == id).unwrap();
    assert!(care("leather_coating").most < care("exterior_coating").least);
}

// common practice, no source
#[test]
fn interior_cleaning_is_due_once_or_twice_a_year() {
    let library = library();
    let care = library.care().iter().find(|c| c.id == "interior_cleaning").unwrap();
    assert_eq!((365.0 / care.most.as_days()).round(), 1.0);
    assert_eq!((365.0 / care.least.as_days()).round(), 2.0);
    assert_eq!(care.source, "common practice, no source");
}

// common practice, no source
#[test]
fn nothing_abrasive_touches_paint_that_carries_loose_soil() {
    let library = library();
    for id in ["clay", "damp_sand", "cut", "polish_one_stage", "polish_finish", "polish_lens", "polish_glass"]
    {
        let step = library.step(id).unwrap();
        let need = step.needs.iter().find(|n| n.rule.as_deref() == Some("nothing_abrasive_on_soil"));
        assert!(need.is_some_and(|n| n.harm.contains("drags grit")), "{id}");
    }
}

// common practice, no source
#[test]
fn coating_goes_over_film_and_film_does_not_go_over_coating() {
    let library = library();
    let job = over_film();
    let route = found_route(&library, &job);
    assert!(before(&route, "rewarm_edges", "coat_body") && before(&route, "lay_film", "coat_body"));
    let coated = found(with(body(1)), &["front"], &[("coated", 1), ("matte", 1)]);
    let Outcome::None(none) = derive(&library, &want(coated, &["front"], "filmed"), &Effort::steps(50_000))
    else {
        panic!("film went on a coating")
    };
    assert!(none.obstacles.iter().any(|o| o.fact == "matte"), "only polishing would take the coating off");
}

// common practice, no source
#[test]
fn film_is_wiped_for_its_coating_only_when_no_hand_or_water_touches_it_any_more() {
    let job = over_film();
    let route = found_route(&library(), &job);
    let coated = position(&route, "coat_body");
    let group = &route.steps[coated].groups[0];
    let wiped = route.steps[..coated]
        .iter()
        .rposition(|s| s.step == "wipe_down" && s.groups.contains(group))
        .unwrap();
    assert!(position(&route, "rewarm_edges") < wiped);
    // the same wipe earlier: on the cap sheet, or before edges are warmed by hand
    for touched in ["pull_cap_sheet", "squeegee_film", "wrap_and_heat_edges", "rewarm_edges"] {
        let mut uses = route.uses();
        let wipe = uses.remove(wiped);
        uses.insert(position(&route, touched), wipe);
        let rules = broken(&job, &uses, "coat_body");
        assert!(rules.contains(&"bare_surface".to_owned()), "{touched}: {rules:?}");
    }
}

// common practice, no source
#[test]
fn no_drive_comes_between_the_wipe_and_film() {
    let job = from_transport();
    let route = found_route(&library(), &job);
    let (wiped, laid) = (position(&route, "wipe_down"), position(&route, "lay_film"));
    assert!(route.steps[wiped..laid].iter().all(|s| s.step != "braking_drive"));
    let drive = StepUse { step: "braking_drive".into(), groups: Vec::new() };
    let mut uses: Vec<StepUse> = route.uses().into_iter().filter(|u| u.step != "braking_drive").collect();
    uses.insert(laid, drive);
    let rules = broken(&job, &uses, "lay_film");
    assert!(rules.contains(&"bare_surface".to_owned()), "{rules:?}");
}

// common practice, no source
#[test]
fn film_and_coating_go_on_corrected_bare_dust_free_dry_paint() {
    let library = library();
    for id in ["lay_film", "coat_body"] {
        let step = library.step(id).unwrap();
        for fact in ["marks", "bare", "oil", "dust", "wet", "polish_dust", "changed_over", "unsurveyed"] {
            assert!(step.needs.iter().any(|n| n.fact == fact), "{id} {fact}");
        }
    }
}

// common practice, no source
#[test]
fn readings_and_a_test_spot_come_before_clear_coat_is_taken() {
    let library = library();
    for step in library.steps().iter().filter(|s| s.removes_clear_coat && s.kinds == ["paint"]) {
        let rules: Vec<&str> = step.needs.iter().filter_map(|n| n.rule.as_deref()).collect();
        for rule in
            ["readings_first", "test_spot_first", "agreed_scope", "no_polishing_matte", "clear_coat_left"]
        {
            assert!(rules.contains(&rule), "{} lacks {rule}", step.id);
        }
    }
}

// common practice, no source
#[test]
fn the_arrival_is_recorded_before_anything_is_touched() {
    for (name, job) in cars() {
        assert_eq!(ids(&found_route(&library(), &job))[0], "record_arrival", "{name}");
    }
}

// common practice, no source
#[test]
fn the_final_check_comes_last_and_later_work_undoes_it() {
    let job = very_dirty();
    let route = found_route(&library(), &job);
    assert_eq!(&ids(&route)[route.steps.len() - 2..], ["final_check", "write_report"]);
    let mut again = route.uses();
    again.push(StepUse::new("foam_hand_wash", ["front"]));
    assert!(check(&library(), &job, &again).open.iter().any(|u| u.fact == "final_checked"));
}

// common practice, no source
#[test]
fn hot_panels_cool_and_charge_ports_are_sealed_before_water() {
    let job = very_dirty().car_fact("hot", 1).car_fact("charge_port_open", 1);
    let route = found_route(&library(), &job);
    assert!(before(&route, "let_cool", "clean_wheels") && before(&route, "seal_charge_port", "clean_wheels"));
}
