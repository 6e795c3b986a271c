//! Spoken notes: recorded where the browser can, or sent as a file; heard on the car's pages by those who work here.

use super::{Fault, Refusal, Returned, Sheet, Typed, fold};
use crate::web::shell::Desk;
use crate::web::{assets, layout};
use axum::extract::Path;
use axum::http::{HeaderMap, StatusCode, header};
use axum::response::{IntoResponse, Response};
use job::{PictureId, StepNo, VoiceNote};
use maud::{Markup, html};

/// Longest recording that the page makes, s.
const LONGEST: u32 = 120;

/// The form behind its fold; `form` makes it one of its page.
pub(super) fn adding(returned: &Returned, form: impl Fn(&Typed, Markup) -> Markup) -> Markup {
    let typed = returned.or(Typed::new("voice"));
    let id = typed.id("files");
    fold(
        "voice",
        "Speak a note",
        returned.is("voice"),
        html! {
            script type="module" src=(assets::url("voice.js")) {}
            (returned.refusal("voice"))
            (form(&typed, html! {
                p.small { "For the shop alone: no customer hears it." }
                div.voice data-voice data-longest=(LONGEST) hidden {
                    p.acts { button type="button" data-record { "Record" } " " span role="status" data-said {} }
                    audio controls hidden data-heard aria-label="What was just recorded" {}
                }
                div.fields {
                    div.field { label for=(id) { "Recording" } input type="file" id=(id) name="files" accept="audio/*" capture; }
                    (typed.field("text", "What it is about"))
                }
                p.acts { button { "Keep the recording" } }
            }))
        },
    )
}

/// Notes that were spoken, the newest first.
pub(super) fn heard<'a>(at: &Sheet, list: impl DoubleEndedIterator<Item = &'a VoiceNote>) -> Markup {
    html! { @for v in list.rev() {
        @let when = at.desk.words.moment(v.at);
        div.said.spoken {
            audio controls preload="none" src={ "/voice/" (v.sound) } aria-label={ "Spoken note" (layout::by(&v.by)) ", " (when) } {}
            p { (v.text) @if !v.text.is_empty() { " " } small.quiet { (v.by) @if !v.by.is_empty() { ", " } (when) } }
        }
    } }
}

/// Keeps what was recorded.
pub(super) async fn keep(
    at: &Sheet,
    typed: &mut Typed,
    back: String,
    step: Option<StepNo>,
) -> Result<Response, Refusal> {
    let file = typed.files("files").next().cloned().ok_or_else(|| {
        Refusal::invalid("Nothing was recorded", "Record something, or choose a recording, then send it.")
    })?;
    let text = typed.text("text");
    at.save(typed, back, move |s, id, stamp| {
        s.speak(id, stamp, &file.name, &file.bytes, &text, step).map(drop)
    })
    .await
}

/// A recording, whole or the part that a player asks for.
pub(super) async fn sound(desk: Desk, Path(id): Path<String>, asked: HeaderMap) -> Result<Response, Fault> {
    let (bytes, kind) = desk.ask(move |studio| studio.sound(&PictureId(id))).await?;
    let head = [
        (header::CONTENT_TYPE, kind),
        (header::ACCEPT_RANGES, "bytes"),
        (header::CACHE_CONTROL, "private, max-age=31536000, immutable"),
    ];
    let range = asked.get(header::RANGE).and_then(|r| r.to_str().ok());
    Ok(match range.and_then(|r| part(r, bytes.len())) {
        Some((from, to)) => {
            let said = format!("bytes {from}-{to}/{}", bytes.len());
            let piece = bytes[from..=to].to_vec();
            (StatusCode::PARTIAL_CONTENT, head, [(header::CONTENT_RANGE, said)], piece).into_response()
        }
        None => (head, bytes).into_response(),
    })
}

/// First and last byte of a range (RFC 9110, 14.2); none when it is not one that can be answered, and so all is sent.
fn part(range: &str, length: usize) -> Option<(usize, usize)> {
    let (from, to) = range.strip_prefix("bytes=")?.split_once('-')?;
    let last = length.checked_sub(1)?;
    let (from, to) = match (from.trim(), to.trim()) {
        ("", back) => (length.saturating_sub(back.parse().ok()?), last),
        (from, "") => (from.parse().ok()?, last),
        (from, to) => (from.parse().ok()?, to.parse::<usize>().ok()?.min(last)),
    };
    (from <= to).then_some((from, to))
}

#[cfg(test)]
mod tests {
    use super::part;

    /// The examples of RFC 9110, 14.1.2, for a length of 10000.
    #[test]
    fn ranges_are_read_as_the_standard_has_them() {
        assert_eq!(part("bytes=0-499", 10_000), Some((0, 499)));
        assert_eq!(part("bytes=500-999", 10_000), Some((500, 999)));
        assert_eq!(part("bytes=-500", 10_000), Some((9500, 9999)));
        assert_eq!(part("bytes=9500-", 10_000), Some((9500, 9999)));
        assert_eq!(part("bytes=0-", 10_000), Some((0, 9999)));
        for not in [
            "",
            "bytes=",
            "bytes=-",
            "bytes=a-b",
            "bytes=7-3",
            "bytes=10000-",
            "lines=0-1",
            "bytes=0-1,5-6",
            "bytes=-0",
        ] {
            assert_eq!(part(not, 10_000), None, "{not}");
        }
        assert_eq!(part("bytes=0-", 0), None);
    }
}
