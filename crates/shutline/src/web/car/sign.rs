//! A signature beside a name: a field to draw it on, and how it is shown.

use super::{Refusal, Typed};
use job::Strokes;
use maud::{Markup, html};
use report::drawing::signature_path;

/// The field; it shows only where the module that draws runs.
pub(super) fn field(id: &str) -> Markup {
    let [wide, high] = Strokes::FIELD;
    html! {
        div.field.broad.sign data-sign hidden {
            span id=(id) { "Signature, if wanted" }
            small.quiet id={ (id) "-keys" } { "By keyboard: arrows move the pen, Space sets it down and lifts it." }
            svg viewBox={ "0 0 " (wide) " " (high) } role="img" aria-labelledby=(id) aria-describedby={ (id) "-keys" } { path d="" {} }
            input type="hidden" name="strokes" value="";
            button type="button" hidden { "Draw it again" }
        }
    }
}

/// As it was drawn; nothing when the name stands alone.
pub(super) fn shown(strokes: &Strokes, name: &str) -> Markup {
    let [wide, high] = Strokes::FIELD;
    html! { @if !strokes.is_empty() {
        div.sign.shown { svg viewBox={ "0 0 " (wide) " " (high) } role="img" aria-label={ "Signature of " (name) } { path d=(signature_path(strokes)) {} } }
    } }
}

/// What was drawn.
pub(super) fn read(typed: &Typed) -> Result<Strokes, Refusal> {
    let text = typed.get("strokes");
    if text.is_empty() {
        return Ok(Strokes::default());
    }
    serde_json::from_str(text).map_err(|_| {
        Refusal::invalid("The drawn signature cannot be read", "Draw it again, or let the name stand alone.")
    })
}
