//! Drafts of messages to the customer. The program sends nothing: people copy them, or open them in their mail.

use super::super::{Base, Refusal, Returned, Sheet, Typed, section};
use crate::web::layout;
use axum::response::Response;
use job::ReminderState;
use maud::{Markup, html};
use percent_encoding::{AsciiSet, NON_ALPHANUMERIC, utf8_percent_encode};
use studio::view::ReminderRow;

/// The part of the page; only for those who see customers.
pub(super) fn reminders(at: &Sheet, base: &Base, rows: &[ReminderRow], returned: &Returned) -> Markup {
    let (waiting, over): (Vec<_>, Vec<_>) = rows.iter().partition(|r| r.waits());
    section(
        "reminders",
        "Reminders",
        html! {
            p { "Drafts to copy or to open in your mail. Nothing is sent by the program; say so when you have sent one. " (reach(base)) }
            @if waiting.is_empty() { (layout::empty(html! { p { "Nothing is to be said to the customer now. Drafts come with visits, with answers to claims, and once a year." } })) }
            div.visits { @for row in waiting { (draft(at, base, row, returned)) } }
            @if !over.is_empty() {
                details.more { summary { "Sent or left, " (over.len()) } div {
                    table.fold {
                        thead { tr { th { "About" } th { "What was done" } th { "Message" } } }
                        tbody { @for row in over { @if let Some(had) = &row.had { tr {
                            th scope="row" { (row.title) }
                            td data-h="Done" { @if had.state == ReminderState::Sent { "sent" } @else { "not to be sent" } ", " (had.by) @if !had.by.is_empty() { ", " } (at.desk.words.moment(had.at)) }
                            td.letter data-h="Message" { (had.text) }
                        } } } }
                    }
                } }
            }
        },
    )
}

fn reach(base: &Base) -> Markup {
    let c = &base.car.job.customer;
    html! {
        @match (c.phone.is_empty(), c.email.is_empty()) {
            (true, true) => { "No number and no address of the customer is known." }
            _ => {
                "Customer: " (c.name)
                @if !c.phone.is_empty() { ", " span.v { (c.phone) } }
                @if !c.email.is_empty() { ", " (c.email) }
                "."
            }
        }
    }
}

fn draft(at: &Sheet, base: &Base, row: &ReminderRow, returned: &Returned) -> Markup {
    let words = &at.desk.words;
    let name = format!("remind-{}", row.about);
    let typed = returned.or(Typed::new(&name).with("text", &row.text));
    let today = words.times.day_of(base.car.now);
    let due = row.due <= today;
    html! {
        article.card.now[due] data-unfold id={ "reminder-" (row.about) } {
            header { h3 { (row.title) } @if due { (layout::late("due")) } @else { (layout::tag("to come")) } }
            p.small.quiet { "From " (words.date(row.due)) @if let Some(had) = &row.had { ", written anew" (layout::by(&had.by)) ", " (words.moment(had.at)) } "." }
            details.more open[returned.is(&name)] { summary { "The draft" } div {
                (returned.refusal(&name))
                (at.form(&typed, html! {
                    input type="hidden" name="about" value=(row.about);
                    p { b { "Subject: " } span id={ (name) "-subject" } { (row.subject) } }
                    (typed.area("text", "Message", "", 11))
                    p.acts.last {
                        button type="button" hidden data-copy=(typed.id("text")) { "Copy the message" }
                        @if let Some(mail) = mail(base, row) { a.btn href=(mail) { "Open in mail" } }
                        button name="do" value="keep" { "Keep the draft" }
                        button.main name="do" value="sent" { "I have sent it" }
                    }
                }))
            } }
            details.more { summary { "It is not to be sent" } div {
                (at.form(&Typed::new(&format!("leave-{}", row.about)), html! {
                    input type="hidden" name="about" value=(row.about);
                    (Typed::new(&format!("leave-{}", row.about)).area("why", "Reason", "", 1))
                    p.acts { button { "Leave it" } }
                }))
            } }
        }
    }
}

/// A link that opens the draft in the mail of the device (RFC 6068); none without an address.
fn mail(base: &Base, row: &ReminderRow) -> Option<String> {
    let to = base.car.job.customer.email.trim();
    if to.is_empty() || to.contains(char::is_whitespace) {
        return None;
    }
    let body = row.text.replace('\n', "\r\n");
    Some(format!(
        "mailto:{}?subject={}&body={}",
        utf8_percent_encode(to, ADDRESS),
        utf8_percent_encode(&row.subject, PLAIN),
        utf8_percent_encode(&body, PLAIN)
    ))
}

/// What may stand in a part of an address as it is (RFC 3986, unreserved).
const PLAIN: &AsciiSet = &NON_ALPHANUMERIC.remove(b'-').remove(b'.').remove(b'_').remove(b'~');
/// The same in the address of a mail.
const ADDRESS: &AsciiSet = &PLAIN.remove(b'@');

pub(super) async fn keep(at: &Sheet, typed: &mut Typed) -> Result<Response, Refusal> {
    let about = typed.text("about");
    let state = if typed.get("do") == "sent" { ReminderState::Sent } else { ReminderState::Draft };
    set(at, typed, about, state, typed.text("text")).await
}

pub(super) async fn leave(at: &Sheet, typed: &mut Typed) -> Result<Response, Refusal> {
    let about = typed.text("about");
    set(at, typed, about, ReminderState::Left, typed.text("why")).await
}

async fn set(
    at: &Sheet,
    typed: &Typed,
    about: String,
    state: ReminderState,
    text: String,
) -> Result<Response, Refusal> {
    at.save(typed, format!("{}#reminders", at.path()), move |s, id, stamp| {
        s.set_reminder(id, stamp, &about, state, &text).map(drop)
    })
    .await
}

#[cfg(test)]
mod tests {
    use super::{ADDRESS, PLAIN};
    use percent_encoding::utf8_percent_encode;

    #[test]
    fn mail_links_are_encoded() {
        // RFC 6068, section 5: spaces as %20, line breaks as %0D%0A, non-ASCII as UTF-8 bytes (its example: caf%C3%A9).
        assert_eq!(utf8_percent_encode("café au lait\r\n", PLAIN).to_string(), "caf%C3%A9%20au%20lait%0D%0A");
        assert_eq!(utf8_percent_encode("a+b@example.org", ADDRESS).to_string(), "a%2Bb@example.org");
        assert_eq!(utf8_percent_encode("x&body=y?z#", PLAIN).to_string(), "x%26body%3Dy%3Fz%23");
    }
}
