//! People of the shop: skills, days off, own hours.

use super::{answer, begin, days, days_text, folded, rules};
use crate::web::fault::Fault;
use crate::web::form::{Returned, Typed};
use crate::web::layout;
use crate::web::shell::Desk;
use axum::response::Response;
use job::{Person, Role, Shop};
use maud::{Markup, html};
use studio::Refusal;
use studio::engine::route::SKILLS;

/// Roles with what they mean.
const ROLES: [(&str, &str); 3] = [
    ("technician", "Technician: works on the cars; sees neither prices nor customers"),
    ("front desk", "Front desk: bookings, customers, offers, prices"),
    ("owner", "Owner: everything"),
];

pub(super) fn list(desk: &Desk, shop: &Shop, returned: &Returned) -> Markup {
    let people = &shop.settings.people;
    html! {
        section aria-labelledby="people" {
            h2 #people { "People" }
            @if people.is_empty() { (layout::empty(html! { p { "Nobody yet. Steps are planned for people who have the skill." } })) }
            @else {
                table.fold {
                    thead { tr { th { "Name" } th { "Role" } th { "Skills" } th { "Hours" } th { "Days off" } } }
                    tbody { @for p in people { tr {
                        th scope="row" { (p.name) }
                        td data-h="Role" { (p.role.title()) }
                        td data-h="Skills" { (p.skills.iter().cloned().collect::<Vec<_>>().join(", ")) }
                        td data-h="Hours" { @match &p.shift { Some(s) => (rules::shift_words(s, &desk.words.times)), None => span.quiet { "the shop's" } } }
                        td data-h="Days off" { @if p.off.is_empty() { span.quiet { "none entered" } } @else { (p.off.iter().map(ToString::to_string).collect::<Vec<_>>().join(", ")) } }
                    } } }
                }
            }
            div.folds {
                @for (i, p) in people.iter().enumerate() { (person_form(shop, Some((i, p)), returned)) }
                (person_form(shop, None, returned))
            }
        }
    }
}

fn person_form(shop: &Shop, old: Option<(usize, &Person)>, returned: &Returned) -> Markup {
    let name = old.map_or_else(|| "person".to_owned(), |(i, _)| format!("person{i}"));
    let mut begins = begin(&name, shop);
    if let Some((_, p)) = old {
        begins = begins
            .with("name", &p.name)
            .with("role", p.role.title())
            .with("off", days_text(&p.off))
            .ticked("own", p.shift.is_some());
        begins = p.skills.iter().fold(begins, |t, s| t.with("skills", s));
    } else {
        begins = begins.with("role", Role::Technician.title());
    }
    begins =
        rules::with_shift(begins, old.and_then(|(_, p)| p.shift.as_ref()).unwrap_or(&shop.settings.shift));
    let typed = returned.or(begins);
    let summary = old.map_or_else(|| "Add somebody".to_owned(), |(_, p)| format!("Change {}", p.name));
    let skills = SKILLS.map(|s| (s, s));
    folded(
        &name,
        &summary,
        returned,
        "/shop/person",
        &typed,
        html! {
            input type="hidden" name="form" value=(name);
            input type="hidden" name="old" value=[old.map(|(_, p)| &p.name)];
            div.fields {
                (typed.field("name", "Name").required())
                (typed.choice("role", "Role", &ROLES))
                (typed.ticks("skills", "Skills", &skills))
                (typed.area("off", "Days off", "one on each line, such as 2026-12-24", 3))
            }
            (typed.tick("own", "Own hours, as entered here"))
            (rules::shift_fields(&typed))
            div.acts {
                button name="act" value="save" { "Save" }
                @if old.is_some() { button name="act" value="remove" formnovalidate { "Works here no more" } }
            }
        },
    )
}

pub(super) async fn person(desk: Desk, typed: Typed) -> Result<Response, Fault> {
    let form = typed.text("form");
    let mut typed = typed.named(&form);
    let old = typed.some("old");
    if typed.get("act") == "remove" {
        return answer(desk, typed, "people", move |settings| {
            keep_owner(&settings.people, old.as_deref(), None)?;
            let before = settings.people.len();
            settings.people.retain(|p| Some(&p.name) != old.as_ref());
            if settings.people.len() == before {
                return Err(gone(old.as_deref().unwrap_or_default()));
            }
            Ok(())
        })
        .await;
    }
    let shift = typed.on("own").then(|| rules::read_shift(&mut typed));
    let roles: Vec<(&str, Role)> = Role::ALL.iter().map(|r| (r.title(), *r)).collect();
    let person = Person {
        name: typed.required("name"),
        role: if typed.get("role").is_empty() {
            Role::default()
        } else {
            typed.one_of("role", &roles).unwrap_or_default()
        },
        skills: typed.all("skills").filter(|s| SKILLS.contains(s)).map(str::to_owned).collect(),
        off: days(&mut typed, "off"),
        shift,
    };
    answer(desk, typed, "people", move |settings| {
        keep_owner(&settings.people, old.as_deref(), Some(person.role))?;
        match old {
            Some(old) => match settings.people.iter_mut().find(|p| p.name == old) {
                Some(place) => *place = person,
                None => return Err(gone(&old)),
            },
            None => settings.people.push(person),
        }
        Ok(())
    })
    .await
}

/// A shop without an owner could not be set any more.
fn keep_owner(people: &[Person], changed: Option<&str>, to: Option<Role>) -> Result<(), Refusal> {
    let owner = |p: &&Person| p.role == Role::Owner;
    let was = people.iter().filter(owner).any(|p| Some(p.name.as_str()) == changed);
    if was && to != Some(Role::Owner) && people.iter().filter(owner).count() == 1 {
        return Err(Refusal::invalid(
            "This is the only owner",
            "Make somebody else the owner first: else nobody could set the shop.",
        ));
    }
    Ok(())
}

fn gone(name: &str) -> Refusal {
    Refusal::not_found(format!("Nobody called '{name}' works here"), "Open the page again.")
}
