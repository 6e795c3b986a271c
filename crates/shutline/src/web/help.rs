//! Help: what each sheet is for, the words of the trade, and what to do when something is in the way.

use super::layout::{self, Room};
use super::shell::{Desk, Shell};
use axum::Router;
use axum::response::Html;
use axum::routing::get;
use maud::html;

/// Routes of the help.
pub fn routes() -> Router<Shell> {
    Router::new().route("/help", get(open))
}

/// What a room or sheet is for: its anchor, its name, and what is done there.
const SHEETS: [(&str, &str, &str); 13] = [
    (
        "day",
        "Day",
        "What is late, what stands in which bay, what is next, who waits, what cures. Start and finish steps from here; the board changes by itself when somebody else goes on.",
    ),
    (
        "calendar",
        "Calendar",
        "The plan that people know, and a new one to compare with it. Nothing moves before somebody keeps the new plan.",
    ),
    ("cars", "Cars", "Every job, open ones first. Search by plate, name, color, or a word of a note."),
    (
        "arrival",
        "Arrival",
        "The car as it came, before anything is touched: odometer, keys, belongings, findings with pictures. The customer signs it. Tap the drawing where something is.",
    ),
    (
        "survey",
        "Survey",
        "After the first wash: findings under light and thickness readings. The readings become an estimate of the clear coat with its range.",
    ),
    (
        "offer",
        "Offer",
        "At least three ways to go on, each with a fixed price and how often it holds. The customer takes one; what changes later is a change order that is agreed before it is worked on.",
    ),
    (
        "route",
        "Route",
        "The steps, in an order that harms nothing. Each says why it is where it is. A rule can be broken only by somebody who signs for it.",
    ),
    ("film", "Film", "Pieces on the roll, offcuts first; the cut file for the cutter."),
    (
        "work",
        "Work",
        "One card for each step: where, with what, in which dilution, for how long, with which cautions. Start, pause and finish with one tap; a tap can be taken back for ten seconds.",
    ),
    (
        "handover",
        "Handover",
        "What was done, with proof: before and after with a slider, thickness, film with batch numbers, care. Pictures of the same panel are suggested as pairs; keep them, part them, or put others together. The customer signs.",
    ),
    (
        "visits",
        "Visits",
        "Inspections and top-ups; claims, put on the piece of film that failed by tapping it on the map; drafts of reminders that you send yourself and then mark as sent; the clear coat taken over the car's life.",
    ),
    ("stock", "Stock", "Rolls, offcuts and chemicals with lots and expiry. Steps book what they use."),
    (
        "shop",
        "Shop",
        "People, roles, PINs and devices; units, how times and days are written; bays, hours, prices, limits; the shop's own steps and methods. For the owner.",
    ),
];

/// Words of the trade as this program uses them.
const WORDS: [(&str, &str); 14] = [
    ("Clear coat", "The uppermost layer of the paint. Polishing takes some of it, and it never comes back."),
    ("Floor", "The least clear coat that must stay on a panel, by the shop's own setting."),
    (
        "Budget",
        "What may still be taken from a panel: clear coat above the floor, less what earlier jobs took.",
    ),
    ("Pass", "Going over a panel once with one pad and one compound."),
    ("Test spot", "A small place on which the mildest method is tried first."),
    (
        "Finding",
        "Something seen on the car, with its place on the drawing. It is never erased, only taken back with a reason.",
    ),
    ("Reading", "A thickness in micrometers (or mils) by a gauge, at a place on a panel."),
    ("Seam", "Where two pieces of film meet on a panel."),
    ("Relief cut", "A cut from the edge that lets flat film follow a strong curve."),
    ("Wrap-round", "Film beyond the edge of a panel, tucked into the shut line."),
    ("Offcut", "A rest of a roll that is kept because it is large enough for another piece."),
    ("Dwell", "The time a product soaks before it is rinsed or wiped."),
    (
        "Flash, cure",
        "The time until a coating can be leveled; the time until it is hard enough for water and road.",
    ),
    ("Change order", "A change of scope with price and date, agreed before anybody works on it."),
];

async fn open(desk: Desk) -> Html<String> {
    let body = html! {
        (layout::head("Help", html! { "What is where, what the words mean, and what to do when something is in the way." }, html! {}))
        section aria-labelledby="bay" {
            h2 #bay { "In the bay" }
            dl.help {
                div { dt { "The connection is away" } dd { "Go on: notes, readings, findings, taps on steps and pictures are kept on the device and sent in order when it is back, each once. What is not sent yet stands at the top of every page. Pages that were open before open again." } }
                div { dt { "Pictures" } dd { "Straight from the camera or many at once, JPEG, PNG, WebP or HEIC. The file is kept as it came; what customers and documents get is a copy that does not say where it was taken. Open a picture to draw rings and arrows on it: the picture itself is never altered." } }
                div { dt { "Hands too wet to type" } dd { "Speak a note: record it on the step's card or at the foot of a sheet. It is for the shop alone and is heard where it was spoken." } }
                div { dt { "A tap was a slip" } dd { "Undo stands on the card for ten seconds, afterwards behind “A slip of the hand”." } }
                div { dt { "Somebody else changed the same thing" } dd { "Nothing is overwritten: the page says what changed, and what you typed stays in the form. Save again to keep it." } }
                div { dt { "Where does a figure come from?" } dd { "Tap it: formula, inputs and source stand behind every dotted line." } }
                div { dt { "By keyboard" } dd { "Tab goes from field to field, Shift and Tab back, Enter sends, Space ticks, Escape closes. “To the content” skips the top line. “Place it by keyboard” moves a cross over a drawing: arrows, with Shift in small steps, Enter. A signature is drawn by arrows, Space sets the pen down. Pieces of film are moved by arrows, turned by R, locked by L." } }
                div { dt { "Something can hurt" } dd { "The cautions on a card are general. The product's safety data sheet, its maker's instructions, local law and licensed trades come first." } }
            }
        }
        section aria-labelledby="sheets" {
            h2 #sheets { "Pages and sheets" }
            dl.help { @for (id, name, words) in SHEETS { div id=(id) { dt { (name) } dd { (words) } } } }
        }
        section aria-labelledby="words" {
            h2 #words { "Words" }
            dl.help { @for (word, means) in WORDS { div { dt { (word) } dd { (means) } } } }
        }
    };
    Html(layout::page(&desk, Room::None, "Help", body).into_string())
}
