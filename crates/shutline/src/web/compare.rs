//! Before and after in one frame: a slider uncovers the one or the other. Without scripts both stand side by side.

use super::assets;
use maud::{Markup, html};

/// Two pictures of the same place. `id` is unique on the page.
pub fn beside(id: &str, title: &str, before: Markup, after: Markup) -> Markup {
    html! {
        div.compare data-compare {
            div.sides { div.old { (before) } div.new { (after) } }
            div.slide hidden {
                label for=(id) { (title) ": before and after" }
                input type="range" id=(id) min="0" max="100" step="1" value="50";
                p.small.quiet aria-hidden="true" { span { "before" } span { "after" } }
            }
        }
    }
}

/// The module that makes the sliders work.
pub fn module() -> Markup {
    html! { script type="module" src=(assets::url("compare.js")) {} }
}
