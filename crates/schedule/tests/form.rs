//! The TOML form of a studio: the example, and errors that name their line.

#![allow(clippy::unwrap_used, reason = "a test may stop")]

use effort::Effort;
use schedule::{Config, Outcome, StudioForm, solve};

fn example() -> String {
    std::fs::read_to_string(format!("{}/../../examples/week.toml", env!("CARGO_MANIFEST_DIR"))).unwrap()
}

#[test]
fn the_example_is_read_and_planned() {
    let form = StudioForm::parse(&example()).unwrap();
    let Outcome::Plan(plan) = solve(&form.problem, &Config::default(), &Effort::steps(200_000)).unwrap()
    else {
        panic!("the example has a plan");
    };
    assert_eq!(plan.verify(&form.problem), Ok(()));
    let at = |name: &str| {
        let task = form.problem.tasks.iter().find(|t| t.name.starts_with(name)).unwrap();
        plan.placement(task.id).unwrap()
    };
    assert!(form.at(at("wash Heron").start) >= "2026-05-11T08:30".parse().unwrap());
    // The film follows the wipe within the hour; the rest needs nobody.
    assert!(at("film Heron").start.0 - at("wipe Heron").end.0 <= 4);
    assert!(at("rest Heron").people.is_empty());
    assert_eq!(form.at(at("check Wren").start), "2026-05-15T16:00".parse().unwrap());
    // Nobody works on the holiday.
    let holiday = "2026-05-14".parse::<jiff::civil::Date>().unwrap();
    let works = |p: &&schedule::Placement| !p.people.is_empty();
    for placement in plan.placements.iter().filter(works) {
        for piece in &placement.pieces {
            assert_ne!(form.at(piece.start).date(), holiday);
        }
    }
}

#[test]
fn errors_name_the_line_and_what_to_do() {
    let refused = |old: &str, new: &str| {
        let text = example();
        assert!(text.contains(old), "{old}");
        let line = text.find(old).map(|at| text[..at].matches('\n').count() + 1).unwrap();
        let fault = StudioForm::parse(&text.replacen(old, new, 1)).unwrap_err().to_string();
        assert!(fault.starts_with(&format!("line {line}:")), "{fault} is not about line {line}");
        fault
    };
    assert!(refused("start = \"2026-05-11\"", "start = \"soon\"").contains("write it as 2026-05-12"));
    assert!(refused("days = 10", "days = 0").contains("1 to 366"));
    assert!(refused("shift = \"late\"", "shift = \"night\"").contains("no shift is called 'night'"));
    assert!(
        refused("after = [{ task = \"wash Heron\" }]", "after = [{ task = \"wash Hero\" }]")
            .contains("no task")
    );
    assert!(refused("air = \"dusty\"", "air = \"foggy\"").contains("dusty, clean or neutral"));
    assert!(refused("count = 1", "count = \"one\"").contains("u32"));
    assert!(
        refused("tools = [{ tool = \"polisher\" }]", "tools = [{ tool = \"sander\" }]").contains("no tool")
    );
    assert!(refused("arrives = \"2026-05-11T13:00\"", "arrives = \"noon\"").contains("no time"));
    assert!(refused("may_pause = true            # over", "may_rest = true # over").contains("may_rest"));
    assert!(
        refused("breaks = [[\"12:00\", \"12:45\"]]", "breaks = [[\"noon\", \"12:45\"]]")
            .contains("time of day")
    );
    assert!(StudioForm::parse("start = ").unwrap_err().to_string().starts_with("line 1"));
}
