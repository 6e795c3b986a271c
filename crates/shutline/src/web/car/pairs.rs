//! Before and after beside each other: what is suggested, what was chosen, and choosing.

use super::{Base, Refusal, Returned, Sheet, Typed, choice_of_pictures, fold, pictures, section};
use crate::web::compare;
use crate::web::layout;
use axum::response::Response;
use job::{PanelId, PicturePair};
use maud::{Markup, html};
use studio::view::{HandoverView, PairRow, pairs, sides};

/// The section of the handover sheet.
pub(super) fn beside(at: &Sheet, base: &Base, view: &HandoverView, returned: &Returned) -> Markup {
    let job = &base.car.job;
    let rows = pairs(job, &view.done);
    let taken = sides(job, &view.done);
    let both = !taken.before.is_empty() && !taken.after.is_empty();
    let typed = returned.or(Typed::new("pair"));
    section(
        "pairs",
        "Before and after",
        html! {
            (compare::module())
            (returned.refusal("part"))
            @if rows.is_empty() { (layout::empty(html! { p { "No two pictures stand together yet: that takes one from before the work and one from after it." } })) }
            div.pairs { @for (i, row) in rows.iter().enumerate() { (one(at, base, i, row)) } }
            @if both { (fold("pair", "Put two pictures together", returned.is("pair"), html! {
                (returned.refusal("pair"))
                (at.form(&typed, html! {
                    (choice_of_pictures(job, &typed, "before", "Before", &taken.before))
                    (choice_of_pictures(job, &typed, "after", "After", &taken.after))
                    p.acts { button { "Put them together" } }
                }))
            })) }
        },
    )
}

fn one(at: &Sheet, base: &Base, i: usize, row: &PairRow) -> Markup {
    let job = &base.car.job;
    let photo = |id, when: &str| pictures::photo(job, id, 1280, &format!("{}, {when}", row.title));
    let both = [("before", row.before.as_str()), ("after", row.after.as_str())];
    let panel = row.panel.as_ref().map_or("", PanelId::as_str);
    html! {
        article.pair {
            h3 { (row.title) @if !row.chosen { " " (layout::tag("suggested")) } }
            (compare::beside(&format!("pair-{i}"), &row.title, photo(&row.before, "before"), photo(&row.after, "after")))
            div.acts {
                @if !row.chosen { (at.button_with("pair", &[both[0], both[1], ("panel", panel)], "Keep this pair")) }
                (at.button_with("part", &both, if row.chosen { "Take them apart" } else { "Not these two" }))
            }
        }
    }
}

pub(super) async fn act(at: &Sheet, typed: &mut Typed) -> Result<Response, Refusal> {
    let back = format!("{}#pairs", at.path());
    let (before, after) = (typed.required("before"), typed.required("after"));
    typed.sound()?;
    if typed.form() == "part" {
        return at
            .save(typed, back, move |s, id, stamp| {
                s.part_pictures(id, stamp, &before.as_str().into(), &after.as_str().into()).map(drop)
            })
            .await;
    }
    let named = typed.some("panel");
    at.save(typed, back, move |s, id, stamp| {
        let view = s.handover_view(id)?;
        let job = s.job(id)?.job;
        let taken = sides(&job, &view.done);
        let of = |list: &[studio::view::Taken], picture: &str| {
            list.iter().find(|t| t.picture.as_str() == picture).and_then(|t| t.panel.clone())
        };
        // The panel that they show: what the page said, or what either was taken of.
        let panel = named.as_deref().map(PanelId::from);
        let panel = panel.or_else(|| of(&taken.after, &after)).or_else(|| of(&taken.before, &before));
        let pair = PicturePair { before: before.as_str().into(), after: after.as_str().into(), panel };
        s.pair_pictures(id, stamp, &pair).map(drop)
    })
    .await
}
