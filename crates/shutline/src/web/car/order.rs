//! The customer's order as fields of a form.

use super::{Typed, choice, panels, word};
use body::Body;
use job::{CoatTarget, Coverage, Finish, Order, PanelId};
use maud::{Markup, html};
use studio::engine::WHOLE_CAR;

const FILM: [(&str, &str); 5] = [
    ("none", "No film"),
    ("front", "Front: bumper, hood, fenders, mirrors, lamps"),
    ("front_and_sides", "Front and sides: doors, sills and behind the wheels too"),
    ("whole", "Whole car: every painted panel"),
    ("panels", "Just these panels"),
];

const FINISHES: [Finish; 4] = [Finish::Clean, Finish::Gloss, Finish::Corrected, Finish::Best];

/// An order as typed.
pub(super) fn typed(form: &str, order: &Order) -> Typed {
    let film = match &order.film {
        Coverage::None => "none",
        Coverage::Front => "front",
        Coverage::FrontAndSides => "front_and_sides",
        Coverage::Whole => "whole",
        Coverage::Panels(_) => "panels",
    };
    let mut typed = Typed::new(form)
        .with("film", film)
        .with("finish", word(&order.finish))
        .with("order_note", &order.note)
        .ticked("interior", order.interior);
    if let Coverage::Panels(list) = &order.film {
        typed = list.iter().fold(typed, |t, p| t.with("panels", p));
    }
    typed = order.coatings.iter().fold(typed, |t, c| t.with("coatings", word(c)));
    order.remove_film.iter().fold(typed, |t, p| t.with("remove", p))
}

/// Its fields.
pub(super) fn fields(typed: &Typed, body: &Body) -> Markup {
    let finishes: Vec<(String, &str)> = FINISHES.iter().map(|f| (word(f), f.title())).collect();
    let coatings: Vec<(String, &str)> = CoatTarget::ALL.iter().map(|c| (word(c), c.title())).collect();
    let film = panels::filmable(body);
    let mut remove = panels::filmable(body);
    remove.insert(0, (WHOLE_CAR.to_owned(), "The whole car".to_owned()));
    let some = typed.get("film") == "panels";
    let off = typed.all("remove").next().is_some();
    html! {
        div.fields {
            (typed.select("film", "Film", &FILM))
            (typed.select("finish", "Paint", &finishes))
            details.more.broad open[some] { summary { "Just these panels" } div { (typed.ticks("panels", "Counts if “just these panels” is chosen", &film)) } }
            (typed.ticks("coatings", "Coating on", &coatings))
            details.more.broad open[off] { summary { "Old film to take off" } div { (typed.ticks("remove", "From", &remove)) } }
            div.field.broad { (typed.tick("interior", "Clean the interior")) }
            (typed.area("order_note", "In the customer's words", "", 2))
        }
    }
}

/// The order that was typed.
pub(super) fn read(typed: &mut Typed) -> Order {
    let panels = |name: &str, typed: &Typed| typed.all(name).map(PanelId::from).collect::<Vec<_>>();
    let film = match typed.get("film") {
        "none" => Coverage::None,
        "front" => Coverage::Front,
        "front_and_sides" => Coverage::FrontAndSides,
        "whole" => Coverage::Whole,
        "panels" => {
            let list = panels("panels", typed);
            if list.is_empty() {
                typed.complain("panels", "Choose at least one panel, or another coverage.");
            }
            Coverage::Panels(list)
        }
        _ => {
            typed.complain("film", "Choose one of these.");
            Coverage::None
        }
    };
    let finish: Option<Finish> = choice(typed.get("finish"));
    if finish.is_none() {
        typed.complain("finish", "Choose one of these.");
    }
    Order {
        film,
        finish: finish.unwrap_or_default(),
        coatings: typed.all("coatings").filter_map(choice).collect(),
        remove_film: panels("remove", typed),
        interior: typed.on("interior"),
        note: typed.text("order_note"),
    }
}
