//! What each way of laying out costs in film.

use super::super::{Refusal, Sheet, Typed, choice, section, word};
use crate::web::{form, layout};
use axum::response::Response;
use job::{LayoutWish, OneLot};
use maud::{Markup, html};
use studio::view::FilmChoice;
use units::Length;

pub(super) fn part(at: &Sheet, choices: &[FilmChoice]) -> Markup {
    let words = &at.desk.words;
    let known: Vec<&FilmChoice> = choices.iter().filter(|c| c.known).collect();
    let least = known.iter().filter(|c| c.complete).map(|c| c.film).reduce(|a, b| if b < a { b } else { a });
    section(
        "choices",
        "What each choice costs in film",
        html! {
            @if known.len() > 1 {
                table.fold {
                    thead { tr { th { "Choice" } th { "Roll" } th.n { "Length" } th.n { "Film" } @if at.desk.sees_prices() { th.n { "Cost of it" } } th.n { "More than least" } th.n { "Offcuts used" } th { span.unseen { "Do" } } } }
                    tbody { @for c in &known {
                        tr.pick[c.chosen] {
                            th scope="row" { (c.title) @if c.chosen { small.quiet { " chosen" } } }
                            td data-h="Roll" { (c.roll) }
                            @if c.complete {
                                @let ((length, unit), (film, film_unit)) = (words.long_length(c.length), words.area(c.film));
                                td.n data-h="Length" { (layout::quantity(length, unit)) }
                                td.n data-h="Film" { (layout::quantity(film, film_unit)) }
                                @if at.desk.sees_prices() { td.n data-h="Cost" { @if let Some(cost) = c.cost { (layout::money(words, cost)) } } }
                                td.n data-h="More than least" { @if let Some(least) = least { (more(at, c, least)) } }
                            } @else {
                                td colspan=(if at.desk.sees_prices() { "4" } else { "3" }) data-h="Length" { "not everything fits" }
                            }
                            td.n data-h="Offcuts used" { (c.offcuts) }
                            td data-h="" { @if !c.chosen && c.complete { (pick(at, &c.wish)) } }
                        }
                    } }
                }
                p.quiet { "Each searched for about a second; a longer search of the chosen one takes less film. Batches differ a little in tint and gloss: panels side by side look best from one." }
            }
            @if known.len() < choices.len() {
                (at.button_with("search", &[("kind", "choices")], "Reckon what each choice costs"))
            }
        },
    )
}

fn more(at: &Sheet, choice: &FilmChoice, least: units::Area) -> Markup {
    let (area, unit) = at.desk.words.area(choice.film - least);
    // less than what the table shows is no difference
    html! { @if choice.film - least < units::Area::m2(0.005) { "least" } @else { (layout::quantity(area, unit)) } }
}

fn pick(at: &Sheet, wish: &LayoutWish) -> Markup {
    let lot = word(&wish.one_lot);
    let fields = [
        ("form", "choose"),
        ("offcuts", if wish.no_offcuts { "no" } else { "yes" }),
        ("one_lot", lot.as_str()),
        ("roll", wish.roll.as_deref().unwrap_or("")),
    ];
    form::button(&at.path(), &fields, false, "Choose this")
}

pub(super) async fn act(at: &Sheet, typed: &mut Typed) -> Result<Response, Refusal> {
    let wish = LayoutWish {
        no_offcuts: typed.get("offcuts") == "no",
        one_lot: choice::<OneLot>(typed.get("one_lot")).unwrap_or_default(),
        roll: typed.some("roll"),
        ..LayoutWish::default()
    };
    at.save(typed, format!("{}#layout", at.path()), move |s, id, stamp| {
        s.wish_layout(id, stamp, &wish).map(drop)
    })
    .await
}

/// Coordinates on film are shown to a tenth of a millimeter: no cutter is finer by eye.
pub(super) fn coordinate(at: &Sheet, mm: f64) -> String {
    at.scale().small_text(Length::mm((mm * 10.0).round() / 10.0))
}
