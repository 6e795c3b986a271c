//! Every rule of the library at every step that obeys it: refused where it does not hold, let through where it does.
//! All rules: common practice, no source. What they do to whole routes stands in `trade.rs`.

mod shop;

use route::{Group, Level, Library, Need, Reach, Room, RoomKind, Situation, Step, StepUse, check};
use units::Area;

/// A car with one surface to work on, one of every kind beside it, and all rooms, on which the fact of a need has this
/// grade wherever the need looks.
fn car(library: &Library, step: &Step, need: &Need, grade: u8) -> Situation {
    let level = library.fact(&need.fact).map_or(Level::Car, |f| f.level);
    let mut situation = Situation::new();
    let here = step.kinds.first().map_or("paint", String::as_str);
    let mut groups = vec![Group::new("here", here, Area::m2(1.0))];
    groups
        .extend(library.kinds().iter().map(|k| Group::new(&format!("other {}", k.id), &k.id, Area::m2(1.0))));
    for group in groups {
        let looked_at = match &need.reach {
            Reach::Here => group.id == "here",
            Reach::Every => true,
            Reach::EveryOf(kind) => group.kind == *kind,
        };
        let bears = level == Level::Surface && looked_at;
        situation = situation.group(if bears { group.fact(&need.fact, grade) } else { group });
    }
    for kind in [RoomKind::WashBay, RoomKind::CorrectionBay, RoomKind::CleanRoom] {
        let room = Room::new(kind.id(), [kind]);
        situation = situation.room(if level == Level::Room { room.fact(&need.fact, grade) } else { room });
    }
    if level == Level::Car { situation.car_fact(&need.fact, grade) } else { situation }
}

/// Whether a step done as the first one breaks a rule.
fn breaks(library: &Library, situation: &Situation, step: &Step, rule: &str) -> bool {
    let on: &[&str] = if step.level == Level::Surface { &["here"] } else { &[] };
    let verdict = check(library, situation, &[StepUse::new(&step.id, on.iter().copied())]);
    verdict.broken.iter().any(|b| b.step == step.id && b.rule.as_deref() == Some(rule))
}

#[test]
fn every_rule_refuses_what_it_forbids_and_lets_the_rest_through() {
    let library = shop::library();
    let mut judged = 0;
    for rule in library.rules() {
        let obeying = library
            .steps()
            .iter()
            .filter(|s| s.needs.iter().any(|n| n.rule.as_deref() == Some(rule.id.as_str())));
        let mut steps = 0;
        for step in obeying {
            let need = &rule.need;
            let top = library.fact(&need.fact).map_or(1, |f| f.top());
            for grade in 0..=top {
                let situation = car(&library, step, need, grade);
                let broken = breaks(&library, &situation, step, &rule.id);
                assert_eq!(broken, !need.allows(grade), "{} at '{}', grade {grade}", rule.id, step.id);
                judged += 1;
            }
            steps += 1;
        }
        assert!(steps > 0, "no step obeys {}", rule.id);
    }
    assert!(judged > 500, "only {judged} judged");
}
