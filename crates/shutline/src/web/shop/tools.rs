//! Tools of which there are few, so that the plan counts them.

use super::{answer, begin, folded};
use crate::web::fault::Fault;
use crate::web::form::{Returned, Typed};
use crate::web::layout;
use crate::web::shell::Desk;
use axum::response::Response;
use job::{Shop, Tool};
use maud::{Markup, html};

/// The form's name.
const FORM: &str = "tools";

pub(super) fn list(shop: &Shop, returned: &Returned) -> Markup {
    let tools = &shop.settings.tools;
    let typed = returned.or(begin(FORM, shop).with("tools", words(tools)));
    html! {
        section aria-labelledby="tools-head" {
            h2 #tools-head { "Tools" }
            @if tools.is_empty() { (layout::empty(html! { p { "No tool is counted: the plan takes it that there are enough." } })) }
            @else { p { "The plan counts: " (words(tools)) "." } }
            div.folds {
                (folded(FORM, "Change the tools", returned, "/shop/tools", &typed, html! {
                    input type="hidden" name="form" value=(FORM);
                    div.fields {
                        (typed.field("tools", "Tools of which there are few")
                            .hint("name and number, such as: polisher 2, lift 1. Names as in the step library; empty when none is short"))
                    }
                    div.acts { button { "Save" } }
                }))
            }
        }
    }
}

fn words(tools: &[Tool]) -> String {
    tools.iter().map(|t| format!("{} {}", t.name, t.count)).collect::<Vec<_>>().join(", ")
}

/// Reads `polisher 2, lift 1`; none when a part has no number.
fn read(text: &str) -> Option<Vec<Tool>> {
    let parts = text.split([',', ';', '\n']).map(str::trim).filter(|p| !p.is_empty());
    parts
        .map(|part| {
            let (name, count) = part.rsplit_once(char::is_whitespace)?;
            Some(Tool { name: name.trim().to_owned(), count: count.parse().ok()? })
        })
        .collect()
}

pub(super) async fn tools(desk: Desk, typed: Typed) -> Result<Response, Fault> {
    let mut typed = typed.named(FORM);
    let tools = read(&typed.text("tools"));
    // an empty field means none; a form without it says nothing
    if tools.is_none() || typed.all("tools").next().is_none() {
        typed.complain("tools", "Write name and number, with commas between: polisher 2, lift 1.");
    }
    answer(desk, typed, "tools-head", move |settings| {
        settings.tools = tools.unwrap_or_default();
        Ok(())
    })
    .await
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn tools_are_read_as_they_are_written() {
        let tools = read("polisher 2, two-post lift 1").unwrap_or_default();
        assert_eq!(words(&tools), "polisher 2, two-post lift 1");
        assert_eq!(read(" "), Some(Vec::new()));
        assert_eq!(read("polisher"), None);
        assert_eq!(read("polisher two"), None);
    }
}
