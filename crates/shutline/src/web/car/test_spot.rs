//! Test spots: what a method really takes off this paint, read before and after.

use super::{Refusal, Returned, Sheet, Typed, counted, fold, panels, section};
use axum::response::Response;
use job::{SpotPair, TestSpot};
use maud::{Markup, html};
use studio::view::{CarView, PanelSurvey, SurveyView};

/// The form, with how many places it takes to see a pass of each method.
pub(super) fn form(at: &Sheet, car: &CarView, view: &SurveyView, returned: &Returned) -> Markup {
    let typed = returned.or(Typed::new("test_spot").with("passes", 1));
    let unit = at.scale().thickness();
    let methods: Vec<(&str, &str)> =
        view.methods.iter().map(|m| (m.name.as_str(), m.name.as_str())).collect();
    section(
        "test-spots",
        "Test spot",
        html! {
            p { "Try the mildest method on a small place, read the same places before and after. What it took here then counts for the whole car, in place of the table's figure." }
            table.fold {
                caption { "How many places it takes to tell one pass from the gauge's scatter (one-sided 5 %, power 90 %)" }
                thead { tr { th { "Method" } th.n { "One pass takes" } th.n { "Places" } } }
                tbody { @for m in &view.methods { tr {
                    th scope="row" { (m.name) }
                    td.n data-h="One pass takes" { (crate::web::layout::quantity(at.scale().thickness_fine(m.removal), unit)) }
                    td.n data-h="Places" { (m.pairs) }
                } } }
            }
            (fold("test_spot", "Enter a test spot", returned.is("test_spot"), html! {
                (returned.refusal("test_spot"))
                (at.form(&typed, html! {
                    div.fields {
                        (typed.select("panel", "Panel", &panels::painted(car.body)))
                        (typed.select("method", "Method", &methods))
                        (typed.field("passes", "Passes made").numeric().required())
                        (typed.area("pairs", "Before and after", &format!("One line for each place, in {unit}: before, then after."), 5))
                    }
                    p.acts { button { "Keep the test spot" } }
                }))
                details.how { summary { span.v { "An example" } } pre.example { "121 119\n118 116.5\n123 121" } }
            }))
        },
    )
}

/// What the test spots of a panel say.
pub(super) fn said(at: &Sheet, p: &PanelSurvey) -> Markup {
    html! {
        @for (index, spot, said) in &p.test_spots {
            div.advice {
                h4 { "Test spot" }
                p { b { (spot.method) ", " (counted(spot.passes as usize, "pass", "passes")) ". " }
                    @match said {
                        Some(said) => { (said.words) }
                        None => { "This method is no longer in the shop's table: it counts for nothing." }
                    }
                }
                p.small.quiet { (spot.by) @if !spot.by.is_empty() { ", " } (at.desk.words.moment(spot.at)) }
                @let form = format!("no_test_spot-{index}");
                (fold(&form, "Take it back", false, at.form(&Typed::new(&form), html! {
                    input type="hidden" name="index" value=(index);
                    (Typed::new(&form).field("why", "Reason").hint("It stays in the record."))
                    p.acts { button { "Take it back" } }
                })))
            }
        }
    }
}

/// Keeps a test spot.
pub(super) async fn keep(at: &Sheet, typed: &mut Typed) -> Result<Response, Refusal> {
    let panel = typed.required("panel");
    let method = typed.required("method");
    let passes = typed.whole("passes").unwrap_or(0);
    let text = typed.text("pairs");
    let mut pairs = Vec::new();
    for (i, line) in text.lines().enumerate().filter(|(_, l)| !l.trim().is_empty()) {
        match pair(line) {
            Some((before, after)) => pairs.push(SpotPair {
                before: at.scale().thickness_from(before),
                after: at.scale().thickness_from(after),
            }),
            None => typed.complain("pairs", format!("Line {}: write two numbers, such as 121 119.5.", i + 1)),
        }
    }
    typed.sound()?;
    let spot = TestSpot { panel: panel.as_str().into(), method, passes, pairs, ..TestSpot::default() };
    at.save(typed, format!("{}#panel-{panel}", at.path()), move |s, id, stamp| {
        s.test_spot(id, stamp, &spot).map(drop)
    })
    .await
}

/// Two numbers of a line: parted by blanks, a semicolon, or a comma that is no decimal mark.
fn pair(line: &str) -> Option<(f64, f64)> {
    let line = line.trim();
    let parts: Vec<&str> = if line.contains([' ', '\t', ';']) {
        line.split([' ', '\t', ';']).filter(|p| !p.is_empty()).collect()
    } else {
        line.split(',').collect()
    };
    let number =
        |t: &str| t.trim_end_matches(',').replace(',', ".").parse::<f64>().ok().filter(|n| n.is_finite());
    match parts[..] {
        [before, after] => Some((number(before)?, number(after)?)),
        _ => None,
    }
}

/// Takes a test spot back.
pub(super) async fn withdraw(at: &Sheet, typed: &mut Typed) -> Result<Response, Refusal> {
    let index = typed.whole("index").map_or(usize::MAX, |n| n as usize);
    let why = typed.text("why");
    typed.sound()?;
    at.save(typed, format!("{}#cards", at.path()), move |s, id, stamp| {
        s.withdraw_test_spot(id, stamp, index, &why).map(drop)
    })
    .await
}

#[cfg(test)]
mod tests {
    use super::pair;

    #[test]
    fn a_line_holds_two_numbers() {
        for (line, wanted) in [
            ("121 119.5", Some((121.0, 119.5))),
            ("121,5 119,5", Some((121.5, 119.5))),
            ("121;119", Some((121.0, 119.0))),
            ("121, 119", Some((121.0, 119.0))),
            ("121,119", Some((121.0, 119.0))),
            ("121", None),
            ("121 a", None),
            ("1 2 3", None),
            ("inf 1", None),
        ] {
            assert_eq!(pair(line), wanted, "{line}");
        }
    }
}
