//! Reading the step library: what is in it, and what is said of a broken one.
#![allow(clippy::unwrap_used)]

mod shop;

use route::{Level, Library};

/// A small sound library, with line numbers that the tests count on.
const SOUND: &str = r#"
[[kind]]
id = "paint"
name = "paint"
[[fact]]
id = "soil"
level = "surface"
name = "soil"
text = "dirt"
grades = ["light", "heavy"]
found = true
[[fact]]
id = "clean_hands"
level = "car"
name = "clean hands"
text = "washed"
[[caution]]
id = "wet"
text = "slips"
[[rule]]
id = "hands"
present = "clean_hands"
harm = "fingerprints"
[[step]]
id = "hands_first"
title = "Wash hands"
level = "car"
adds = ["clean_hands"]
minutes = 1
skill = "wash"
room = "any"
air = "neutral"
[[step]]
id = "wash"
title = "Wash"
level = "surface"
kinds = ["paint"]
rules = ["hands"]
lowers = ["soil"]
minutes_per_m2 = 5
skill = "wash"
room = "wash_bay"
air = "neutral"
products = [{ name = "shampoo", ml_per_m2 = 10, dilution = "1:100" }]
cautions = ["wet"]
[[goal]]
id = "clean"
title = "Clean"
level = "surface"
wants = [{ absent = "soil", harm = "dirty" }]
"#;

/// Replaces `old` by `new` and expects a flaw on the line where `new` starts.
fn check(old: &str, new: &str, what: &str, remedy: &str) {
    assert!(SOUND.contains(old), "{old}");
    let text = SOUND.replacen(old, new, 1);
    let flaws = Library::parse(&text, "shop.toml").expect_err(new);
    let told = flaws.iter().map(ToString::to_string).collect::<Vec<_>>().join("\n");
    let line = SOUND[..SOUND.find(old).unwrap()].matches('\n').count() + 1;
    assert!(
        flaws
            .iter()
            .any(|f| f.what.contains(what) && f.remedy.contains(remedy) && f.line.abs_diff(line) <= 1),
        "{new}: line {line}: {told}"
    );
    assert!(told.contains("shop.toml, line "));
}

#[test]
fn the_small_library_is_sound() {
    assert!(Library::parse(SOUND, "x").is_ok_and(|l| l.steps().len() == 2));
}

#[test]
fn the_built_in_library_is_sound_and_complete() {
    let library = shop::library();
    assert!(library.steps().len() >= 60 && library.facts().len() >= 50);
    for fact in library.facts() {
        let used = library
            .steps()
            .iter()
            .flat_map(|s| &s.needs)
            .chain(library.goals().iter().flat_map(|g| &g.wants));
        let read = used.into_iter().any(|n| n.fact == fact.id);
        let cared = library.care().iter().any(|c| c.fact.as_deref() == Some(&fact.id));
        assert!(read || cared, "nothing asks for {}", fact.id);
        assert!(!fact.text.is_empty());
    }
    for rule in library.rules() {
        let used = library.steps().iter().flat_map(|s| &s.needs).any(|n| n.rule.as_deref() == Some(&rule.id));
        assert!(used, "no step obeys {}", rule.id);
    }
    for caution in library.cautions() {
        assert!(
            library.steps().iter().any(|s| s.cautions.contains(&caution.id)),
            "no step shows {}",
            caution.id
        );
    }
    for step in library.steps().iter().filter(|s| s.level == Level::Surface) {
        let places: Vec<&str> = step.effects.iter().map(|e| e.fact.as_str()).collect();
        assert!(!places.is_empty(), "{}", step.id);
    }
}

#[test]
fn steps_with_solvents_heat_machines_and_driving_carry_their_cautions() {
    let library = shop::library();
    for (step, caution) in [
        ("wipe_down", "solvents"),
        ("dissolve_adhesive", "solvents"),
        ("spray_iron_remover", "cleaners"),
        ("coat_body", "coatings"),
        ("cut", "machines"),
        ("cut", "paint_limits"),
        ("wrap_and_heat_edges", "heat"),
        ("lay_film", "sensors"),
        ("cut_pieces", "blades"),
        ("braking_drive", "driving"),
        ("foam_hand_wash", "high_voltage"),
        ("foam_hand_wash", "waste_water"),
        ("foam_hand_wash", "wet_floor"),
    ] {
        let step = library.step(step).unwrap();
        assert!(step.cautions.iter().any(|c| c == caution), "{} {caution}", step.id);
    }
    for id in ["solvents", "cleaners", "coatings"] {
        assert!(library.caution(id).unwrap().text.ends_with("The product's data sheet comes first."));
    }
}

#[test]
fn unknown_names_are_found_with_their_line() {
    check("lowers = [\"soil\"]", "lowers = [\"soill\"]", "no fact 'soill'", "Did you mean 'soil'?");
    check("rules = [\"hands\"]", "rules = [\"hand\"]", "no rule 'hand'", "Did you mean 'hands'?");
    check("kinds = [\"paint\"]", "kinds = [\"pant\"]", "no kind of surface 'pant'", "paint");
    check("cautions = [\"wet\"]", "cautions = [\"dry\"]", "no caution 'dry'", "Known: wet");
    check("skill = \"wash\"", "skill = \"magic\"", "unknown variant", "Correct the file");
    check("minutes = 1", "minutos = 1", "unknown field `minutos`", "Correct the file");
}

#[test]
fn nonsense_is_found_with_its_line() {
    check("minutes = 1", "minutes = -1", "-1 minutes make no sense", "Give 0");
    check("minutes = 1", "minutes = nan", "minutes make no sense", "Give 0");
    check("minutes_per_m2 = 5", "minutes_per_m2 = 1e9", "make no sense", "Give 0");
    check("dilution = \"1:100\"", "dilution = \"a lot\"", "is no dilution", "1:10");
    check(
        "lowers = [\"soil\"]",
        "lowers = [\"soil\"]\nclears = [\"soil\"]",
        "changes 'soil' twice",
        "Keep one",
    );
    check("harm = \"fingerprints\"", "harm = \" \"", "harm is empty", "Say what goes wrong");
    check("lowers = [\"soil\"]", "lowers = [\"soil@every\"]", "where it does not work", "step on the car");
    check(
        "adds = [\"clean_hands\"]",
        "adds = [\"clean_hands\", \"soil\"]",
        "has no surface for 'soil'",
        "soil@every",
    );
    check("id = \"wash\"", "id = \"hands_first\"", "is there twice", "another id");
    check("id = \"wash\"", "id = \"Wash it\"", "is no id", "small letters");
    check(
        "present = \"clean_hands\"",
        "present = \"clean_hands\"\nabsent = \"soil\"",
        "2 conditions",
        "exactly one",
    );
    check("absent = \"soil\"", "at_most = \"soil=filthy\"", "no grade 'filthy'", "light, heavy");
    check(
        "rules = [\"hands\"]",
        "rules = [\"hands\"]\nwait = { least_minutes = 9, most_minutes = 3 }",
        "wait makes no sense",
        "not below",
    );
}

#[test]
fn needs_that_nothing_can_meet_are_found() {
    let text = SOUND.replace("adds = [\"clean_hands\"]", "clears = [\"clean_hands\"]");
    let flaws = Library::parse(&text, "x").unwrap_err();
    assert!(flaws.iter().any(|f| f.what == "'wash' needs 'clean_hands', which nothing brings."), "{flaws:?}");
    let text = SOUND.replace(
        "rules = [\"hands\"]",
        "rules = [\"hands\"]\nneeds = [{ absent = \"clean_hands\", harm = \"x\" }]",
    );
    let flaws = Library::parse(&text, "x").unwrap_err();
    assert!(flaws.iter().any(|f| f.what.contains("exclude each other")), "{flaws:?}");
}

#[test]
fn no_text_makes_it_panic() {
    let text = Library::built_in_text();
    for cut in (0..text.len()).step_by(997) {
        if text.is_char_boundary(cut) {
            let _ = Library::parse(&text[..cut], "cut");
            let _ = Library::parse(&format!("{}{}", &text[..cut / 2], &text[cut..]), "hole");
        }
    }
}
