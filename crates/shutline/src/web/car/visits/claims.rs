//! Claims: the film on the car, piece by piece, to be tapped; what failed, written down and answered.

use super::super::{
    Base, Refusal, Returned, Sheet, Typed, choice, counted, finding, fold, panels, part, pictures, section,
    word,
};
use crate::web::layout;
use axum::response::Response;
use job::{Claim, ClaimKind, Job, PanelId};
use maud::{Markup, html};
use report::drawing::{FilmPiece, Hatch, Medium, film_sheet, film_view};
use report::sketch;
use studio::view::OnCar;

/// What the hatches of the film map mean, as its key says it.
const KEY: [(Hatch, &str); 3] =
    [(Hatch::Film, "film"), (Hatch::Deep, "claim, not answered yet"), (Hatch::Cure, "claim, answered")];

/// The part of the page.
pub(super) fn claims(at: &Sheet, base: &Base, film: &[OnCar], returned: &Returned) -> Markup {
    let job = &base.car.job;
    let title =
        if job.claims.is_empty() { "Claims".to_owned() } else { format!("Claims, {}", job.claims.len()) };
    section(
        "claims",
        &title,
        html! {
            (map(at, base, film))
            (form(at, base, film, returned))
            @if job.claims.is_empty() { (layout::empty(html! { p { "Nothing has failed. What fails is written down here with why: the next offer learns from it." } })) }
            @else { div.visits { @for (i, c) in job.claims.iter().enumerate() { (card(at, job, i, c, returned)) } } }
            (list(at, base, film))
        },
    )
}

/// Where the form for a piece opens, also without scripts.
fn link(at: &Sheet, piece: &str) -> String {
    let piece: String = form_urlencoded::byte_serialize(piece.as_bytes()).collect();
    format!("{}?piece={piece}#claim-form", at.path())
}

/// The car with its film: the whole sheet where there is room, single views on a phone.
fn map(at: &Sheet, base: &Base, film: &[OnCar]) -> Markup {
    let car = &base.car;
    let claims = &car.job.claims;
    let pieces: Vec<FilmPiece> = sketch::film(film, claims, |piece| Some(link(at, piece)));
    let marks: Vec<_> = (1..)
        .zip(claims)
        .map(|(n, c)| {
            let mut mark = sketch::claim_mark(n, c);
            mark.href = Some(format!("#claim-{n}"));
            mark
        })
        .collect();
    let title = format!("Film on {}, {}", car.tag.name, counted(claims.len(), "claim", "claims"));
    let hint = if film.is_empty() {
        "No film was laid in this job. Tap a panel to write a claim down."
    } else {
        "Tap the piece of film that failed, where it failed."
    };
    finding::tapped(
        film_sheet(car.body, &title, &pieces, &marks, Medium::Page { id: "film" }),
        |view, name, id| {
            film_view(car.body, view, name, &pieces, &marks, Medium::Page { id: &format!("f-{id}") })
        },
        hint,
        layout::key("claims", &KEY),
    )
}

fn kinds() -> Vec<(String, &'static str)> {
    ClaimKind::ALL.iter().map(|k| (word(k), k.title())).collect()
}

/// The piece that the address names: a tap on the map without scripts.
fn asked(at: &Sheet, film: &[OnCar]) -> Option<OnCar> {
    let (_, query) = at.desk.path.split_once('?')?;
    let piece = form_urlencoded::parse(query.as_bytes()).find(|(name, _)| name == "piece")?.1.into_owned();
    film.iter().find(|p| p.laid.piece == piece).cloned()
}

fn form(at: &Sheet, base: &Base, film: &[OnCar], returned: &Returned) -> Markup {
    let asked = asked(at, film);
    let mut begun = Typed::new("claim");
    if let Some(p) = &asked {
        begun = begun.with("piece", &p.laid.piece).with("panel", &p.laid.panel);
    }
    let typed = returned.or(begun);
    let open = returned.is("claim") || asked.is_some();
    html! { div #claim-form data-unfold {
        (fold("claim", "Write a claim down", open, html! {
            (returned.refusal("claim"))
            (at.upload(&typed, html! {
                div.fields data-place {
                    (finding::spot(&typed))
                    @if !film.is_empty() { (piece_field(&typed, film)) }
                    (typed.select("panel", "Panel", &panels::all(base.car.body)))
                    (typed.select("kind", "What it looks like", &kinds()))
                    (typed.field("since", "Seen since").kind("date").hint("as the customer says, if known"))
                    (typed.area("what", "What failed", "", 2))
                    (typed.area("why", "Why, as far as it is known", "", 2))
                }
                (pictures::fields(&typed))
                p.acts { button { "Write it down" } }
            }))
        }))
    } }
}

/// The pieces to choose from; each knows its panel, so that a tap finds it.
fn piece_field(typed: &Typed, film: &[OnCar]) -> Markup {
    let id = typed.id("piece");
    html! {
        div.field {
            label for=(id) { "Piece of film" }
            select id=(id) name="piece" {
                option value="" data-panel="" { "none: it is not about film" }
                @for p in film {
                    option value=(p.laid.piece) data-panel=(p.laid.panel) selected[typed.get("piece") == p.laid.piece] {
                        (named(p)) @if !p.laid.roll.is_empty() { ", roll " (p.laid.roll) }
                    }
                }
            }
        }
    }
}

/// A piece by its panel, and by its name where the panel has several or it is called otherwise.
fn named(p: &OnCar) -> String {
    let title = p.laid.panel.title();
    if p.laid.piece == p.laid.panel.as_str() { title } else { format!("{title}, piece {}", p.laid.piece) }
}

fn card(at: &Sheet, job: &Job, index: usize, c: &Claim, returned: &Returned) -> Markup {
    let words = &at.desk.words;
    let name = format!("answer-{index}");
    let begun = Typed::new(&name).with("text", c.answer.as_ref().map_or("", |a| a.text.as_str()));
    let typed = returned.or(begun);
    let kind = c.kind.map_or("Claim", ClaimKind::title);
    html! {
        article.card.now[c.answer.is_none()] id={ "claim-" (index + 1) } {
            header { h3 { (index + 1) ". " (kind) ", " (c.panel.title().to_lowercase()) } @if c.answer.is_some() { (layout::tag("answered")) } @else { (layout::tag("not answered")) } }
            p { (c.what) @if let Some(p) = &c.piece { " " small.quiet { "piece " (p) } } }
            @if !c.why.is_empty() { p { b { "Why: " } (c.why) } }
            p.small.quiet { "Written down " (words.moment(c.at)) @if let Some(since) = c.since { ", seen since " (words.date(since)) } "." }
            @if !c.pictures.is_empty() { (pictures::thumbs(at, job, &c.pictures, &format!("Claim {}", index + 1))) }
            @if let Some(a) = &c.answer { p { b { "Answer: " } (a.text) " " small.quiet { (a.by) @if !a.by.is_empty() { ", " } (words.moment(a.at)) } } }
            @if at.desk.sees_customers() {
                details.more open[returned.is(&name)] { summary { @if c.answer.is_some() { "Answer anew" } @else { "Answer it" } } div {
                    (returned.refusal(&name))
                    (at.form(&typed, html! {
                        input type="hidden" name="index" value=(index);
                        (typed.area("text", "What will be done, or why nothing", "The message to the customer is drafted from it.", 3))
                        p.acts { button { "Keep the answer" } }
                    }))
                } }
            }
        }
    }
}

/// The film piece by piece as a plain list: the map without the drawing.
fn list(at: &Sheet, base: &Base, film: &[OnCar]) -> Markup {
    let words = &at.desk.words;
    let count = |p: &OnCar| {
        let own = |c: &&Claim| c.piece.as_ref() == Some(&p.laid.piece) && c.panel == p.laid.panel;
        base.car.job.claims.iter().filter(own).count()
    };
    html! { @if !film.is_empty() {
        (fold("pieces", &format!("The film as a list, {}", counted(film.len(), "piece", "pieces")), false, html! {
            table.fold {
                thead { tr { th { "Piece" } th { "Roll" } th { "Batch" } th { "Laid" } th.n { "Claims" } th { span.unseen { "Do" } } } }
                tbody { @for p in film { tr {
                    th scope="row" { (named(p)) }
                    td data-h="Roll" { (p.laid.roll) } td data-h="Batch" { (p.laid.lot) }
                    td data-h="Laid" { (words.day(p.laid.at)) }
                    td.n data-h="Claims" { (count(p)) }
                    td data-h="" { a.act href=(link(at, &p.laid.piece)) { "Claim" span.unseen { " on " (named(p)) } } }
                } } }
            }
        }))
    } }
}

pub(super) async fn write_down(at: &Sheet, typed: &mut Typed) -> Result<Response, Refusal> {
    let id = at.id.clone();
    let car = at.desk.shell.ask(move |s| s.car_view(&id)).await?;
    let piece = typed.some("piece");
    // A piece says on which panel it lies, whatever the list of panels says.
    let panel: Option<PanelId> = piece
        .as_ref()
        .and_then(|piece| car.job.laid.iter().find(|p| p.piece == *piece))
        .map(|p| p.panel.clone());
    let place = match &panel {
        Some(panel) => {
            panels::place(&mut typed.clone().without(&["panel"]).with("panel", panel), car.body, None)
        }
        None => panels::place(typed, car.body, None),
    };
    let what = typed.text("what");
    if what.is_empty() {
        typed.complain("what", "It is not said what failed.");
    }
    let claim = Claim {
        panel: place.panel.clone(),
        piece,
        what,
        why: typed.text("why"),
        kind: choice(typed.get("kind")),
        spot: place.u.zip(place.v).map(|(u, v)| [u, v]),
        since: typed.date("since"),
        ..Claim::default()
    };
    let uploads = pictures::checked(at, typed).await?;
    typed.sound()?;
    let to = format!("{}#claim-{}", at.path(), car.job.claims.len() + 1);
    at.save(typed, to, move |studio, id, stamp| {
        let mut claim = claim.clone();
        for (i, file) in uploads.iter().enumerate() {
            claim.pictures.push(studio.add_picture(
                id,
                &part(stamp, i),
                &file.name,
                &file.bytes,
                Some(&place),
                None,
            )?);
        }
        // each picture moved the job on, so the version that was seen is no longer the newest
        let stamp =
            studio::Stamp { seen: if uploads.is_empty() { stamp.seen } else { None }, ..stamp.clone() };
        studio.claim(id, &stamp, &claim).map(drop)
    })
    .await
}

pub(super) async fn answer(at: &Sheet, typed: &mut Typed) -> Result<Response, Refusal> {
    let index = typed.whole("index").unwrap_or(u32::MAX) as usize;
    let text = typed.text("text");
    let to = format!("{}#claim-{}", at.path(), index.saturating_add(1));
    at.save(typed, to, move |s, id, stamp| s.answer_claim(id, stamp, index, &text).map(drop)).await
}
