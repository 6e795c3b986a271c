//! What every derived route must be.

mod shop;

use effort::{Cancel, Effort};
use route::{Breach, Lag, Library, Outcome, Situation, StepUse, Why, advance, check, derive, simulate};
use shop::*;
use units::Seed;

fn provable() -> Vec<(&'static str, Situation)> {
    cars().into_iter().filter(|(name, _)| *name != HARD).collect()
}

#[test]
fn every_route_plays_through_in_the_simulator() {
    let library = library();
    for (name, situation) in cars() {
        let route = found_route(&library, &situation);
        simulate(&library, &situation, &route.uses()).unwrap_or_else(|breach| panic!("{name}: {breach}"));
        assert!(check(&library, &situation, &route.uses()).holds(), "{name}");
    }
}

#[test]
fn typical_cars_are_proved_to_take_least_time() {
    let library = library();
    for (name, situation) in provable() {
        let route = found_route(&library, &situation);
        assert!(route.proven && route.bound == route.cost, "{name}");
    }
}

#[test]
fn a_route_without_proof_says_so_and_gives_its_bound() {
    let (_, hard) = cars().into_iter().find(|(name, _)| *name == HARD).unwrap();
    let route = found_route(&library(), &hard);
    assert!(!route.proven && route.bound < route.cost);
    // 1.0024 with this effort
    assert!(route.cost.as_minutes() < 1.01 * route.bound.as_minutes(), "{:?} {:?}", route.cost, route.bound);
}

#[test]
fn without_any_one_of_its_steps_a_route_breaks_or_is_unfinished() {
    let library = library();
    for (name, situation) in cars() {
        let uses = found_route(&library, &situation).uses();
        for i in 0..uses.len() {
            let mut without = uses.clone();
            let gone = without.remove(i);
            assert!(simulate(&library, &situation, &without).is_err(), "{name}: {gone:?} is not needed");
        }
    }
}

#[test]
fn every_step_says_what_it_is_for() {
    let library = library();
    for (name, situation) in cars() {
        for step in found_route(&library, &situation).steps {
            assert!(!step.why.is_empty(), "{name}: {} has no reason", step.step);
        }
    }
}

#[test]
fn every_order_that_keeps_the_links_is_valid() {
    let library = library();
    for (name, situation) in cars() {
        let route = found_route(&library, &situation);
        for n in 0..40 {
            let mut s = Seed(4).part(n).sequence();
            let mut order: Vec<usize> = Vec::new();
            while order.len() < route.steps.len() {
                let free: Vec<usize> = (0..route.steps.len())
                    .filter(|j| !order.contains(j) && route.steps[*j].after.iter().all(|i| order.contains(i)))
                    .collect();
                order.push(free[s.below(free.len())]);
            }
            let uses = route.uses();
            let shuffled: Vec<StepUse> = order.iter().map(|&j| uses[j].clone()).collect();
            simulate(&library, &situation, &shuffled)
                .unwrap_or_else(|breach| panic!("{name}: {breach} in {order:?}"));
        }
    }
}

#[test]
fn independent_work_is_left_free_for_the_calendar() {
    let library = library();
    let route = found_route(&library, &from_transport());
    let before = |j: usize| {
        let mut all = vec![j];
        let mut at = 0;
        while at < all.len() {
            all.extend(route.steps[all[at]].after.iter().copied());
            at += 1;
        }
        all
    };
    // the seats can be cleaned while the paint is corrected
    assert!(!before(position(&route, "polish_one_stage")).contains(&position(&route, "clean_leather")));
    assert!(!before(position(&route, "clean_leather")).contains(&position(&route, "foam_hand_wash")));
}

#[test]
fn waits_travel_with_the_links() {
    let library = library();
    let route = found_route(&library, &from_transport());
    let dissolve = position(&route, "dissolve_adhesive");
    let lag = route.steps.iter().flat_map(|s| &s.lags).find(|l| l.after == dissolve && l.most.is_some());
    let Some(Lag { least, most: Some(most), .. }) = lag else { panic!("dwell is lost") };
    assert_eq!((least.as_minutes(), most.as_minutes()), (3.0, 10.0));
    let heat = position(&route, "wrap_and_heat_edges");
    let rewarm = &route.steps[position(&route, "rewarm_edges")];
    assert!(rewarm.lags.iter().any(|l| l.after == heat && l.least.as_hours() >= 24.0));
}

#[test]
fn the_same_input_gives_the_same_route() {
    let library = library();
    assert_eq!(found_route(&library, &from_transport()), found_route(&library, &from_transport()));
}

#[test]
fn the_order_of_the_groups_does_not_change_the_cost() {
    let library = library();
    let one = old_film();
    let mut other = one.clone();
    other.groups.reverse();
    assert_eq!(found_route(&library, &one).cost, found_route(&library, &other).cost);
}

#[test]
fn panels_of_equal_state_cost_as_much_as_one_group() {
    let library = library();
    let joined = found_route(&library, &full_film());
    let mut split = full_film();
    let rest = split.groups.iter().position(|g| g.id == "rest").unwrap();
    let whole = split.groups.remove(rest);
    for i in 0..5 {
        let mut part = whole.clone();
        part.id = format!("rest {i}");
        part.area = whole.area / 5.0;
        split.groups.push(part);
    }
    let wants: Vec<_> = split.wants.iter().filter(|w| w.place.to_string() == "rest").cloned().collect();
    split.wants.retain(|w| w.place.to_string() != "rest");
    for i in 0..5 {
        for want in &wants {
            split = split.want(&format!("rest {i}"), &want.goal);
        }
    }
    let split = found_route(&library, &split);
    assert!((joined.cost.as_minutes() - split.cost.as_minutes()).abs() < 1e-6);
    assert_eq!(joined.steps.len(), split.steps.len());
}

#[test]
fn times_are_those_of_the_trade() {
    // common practice, no source: wash 60–120 min, clay 45–120, one-stage correction 4–8 h, full-front film
    // 8–12 h, full-car film 30–50 h, two-stage correction 10–20 h.
    let library = library();
    let hours = |situation: &Situation, steps: &[&str], once: bool| {
        let route = found_route(&library, situation);
        let of = route.steps.iter().filter(|s| steps.contains(&s.step.as_str()));
        let hours: Vec<f64> = of.map(|s| s.minutes.as_hours()).collect();
        if once { hours[0] } else { hours.iter().sum() }
    };
    let film = ["lay_film", "pull_cap_sheet", "squeegee_film", "wrap_and_heat_edges", "rewarm_edges"];
    for (what, hours, least, most) in [
        ("wash", hours(&from_transport(), &["foam_hand_wash"], true), 1.0, 2.0),
        ("clay", hours(&from_transport(), &["clay"], true), 0.75, 2.0),
        ("one stage", hours(&from_transport(), &["polish_one_stage"], true), 4.0, 8.0),
        ("full front", hours(&old_film(), &film, false), 8.0, 12.0),
        ("full car", hours(&full_film(), &film, false), 30.0, 50.0),
        ("two stages", hours(&full_film(), &["cut", "polish_one_stage", "polish_finish"], false), 10.0, 20.0),
    ] {
        assert!((least..=most).contains(&hours), "{what} takes {hours} h");
    }
}

#[test]
fn products_follow_area_and_dilution() {
    let library = library();
    let route = found_route(&library, &very_dirty());
    let foam = route.products().into_iter().find(|p| p.name == "snow foam").unwrap();
    // three washes of 16.5 - 0.3 m² at 100 mL per m² of a 1:10 mix
    let area = 3.2 + 7.3 + 3.5 + 1.2 + 0.5;
    assert!((foam.mix.as_ml() - 3.0 * area * 100.0).abs() < 1e-6);
    assert!((foam.concentrate.as_ml() - foam.mix.as_ml() / 11.0).abs() < 1e-6);
}

#[test]
fn impossible_orders_name_what_stands_in_the_way() {
    let library = library();
    let matte = found(full_film(), &["front"], &[("matte", 1)]);
    let Outcome::None(none) = derive(&library, &matte, &Effort::steps(100_000)) else {
        panic!("polished a matte panel")
    };
    assert_eq!(none.why, Why::Unreachable);
    assert!(none.reason.contains("matte") && none.reason.contains("front"), "{}", none.reason);
    assert!(none.obstacles.iter().any(|o| o.fact == "matte"));
    assert!(!none.hint.is_empty());
}

#[test]
fn unknown_names_are_answered_with_the_known_ones() {
    let library = library();
    let wrong = from_transport().find("front", "grit", 1).want("bonnet", "filmed");
    let Outcome::None(none) = derive(&library, &wrong, &Effort::steps(10)) else { panic!("accepted") };
    assert_eq!(none.why, Why::Situation);
    assert!(none.reason.contains("'grit' is no fact") && none.reason.contains("bonnet"), "{}", none.reason);
}

#[test]
fn too_little_effort_and_cancel_are_answers() {
    let library = library();
    let Outcome::None(none) = derive(&library, &from_transport(), &Effort::steps(3)) else {
        panic!("so fast")
    };
    assert_eq!(none.why, Why::Effort);
    let cancel = Cancel::default();
    cancel.press();
    let effort = Effort::steps(1000).with_cancel(cancel);
    let Outcome::None(none) = derive(&library, &from_transport(), &effort) else { panic!("went on") };
    assert_eq!(none.why, Why::Cancelled);
}

#[test]
fn nothing_wanted_is_an_empty_route() {
    let Outcome::Found(route) = derive(&library(), &Situation::new(), &Effort::steps(10)) else { panic!() };
    assert!(route.steps.is_empty() && route.proven);
}

#[test]
fn a_job_is_derived_again_from_where_it_stands() {
    let library = library();
    let job = old_film();
    let route = found_route(&library, &job);
    let done = position(&route, "survey_under_film") + 1;
    let state = advance(&library, &job, &route.uses()[..done]).unwrap();
    // nothing new: what is left costs what was left
    let rest = found_route(&library, &job.at(&state));
    let left: f64 = route.steps[done..].iter().map(|s| s.minutes.as_minutes()).sum();
    assert!((rest.cost.as_minutes() - left).abs() < 1e-6);
    // the film hid scratches: correction, and with it dust, come in, and the customer agrees first
    let found = job.at(&state).find("front", "marks", 2);
    let more = found_route(&library, &found);
    assert!(more.cost > rest.cost);
    assert!(position(&more, "agree_scope") < position(&more, "polish_one_stage"));
    assert!(position(&more, "polish_one_stage") < position(&more, "dedust_car"));
    assert_eq!(count(&more, "remove_old_film"), 0);
}

#[test]
fn the_simulator_says_where_it_breaks() {
    let library = library();
    let job = from_transport();
    let broken = simulate(&library, &job, &[StepUse::new("clay", ["front"])]);
    assert!(matches!(broken, Err(Breach::Need { index: 0, .. })));
    for (used, told) in [
        (StepUse::new("buff", ["front"]), "no step 'buff'"),
        (StepUse::new("clay", ["roof rack"]), "no surface 'roof rack'"),
        (StepUse::new("clay", ["wheels"]), "not for wheel"),
        (StepUse::new::<String>("clay", []), "names no surface"),
        (StepUse::new("agree_scope", ["front"]), "once for the whole car"),
        (StepUse::new("clay", ["front", "front"]), "named twice"),
    ] {
        let said = simulate(&library, &job, &[used]).unwrap_err().to_string();
        assert!(said.contains(told), "{said}");
    }
    let Err(Breach::Unfinished(open)) = simulate(&library, &job, &[]) else { panic!("finished") };
    assert!(open.iter().any(|u| u.goal == "filmed"));
}

#[test]
fn the_library_replaced_by_the_shop_is_the_one_used() {
    let text = Library::built_in_text().replace("minutes_per_m2 = 5.5", "minutes_per_m2 = 11");
    let slow = Library::parse(&text, "shop.toml").unwrap();
    let extra = found_route(&slow, &from_transport()).cost - found_route(&library(), &from_transport()).cost;
    assert!((extra.as_minutes() - 5.5 * 10.5).abs() < 1e-6);
}
