//! Survey: what was found and read, and what it means for the clear coat.

use super::readings::{self, Rejected};
use super::{
    Base, Fault, Refusal, Returned, Sheet, Typed, counted, finding, fold, framed, panels, section, test_spot,
    unknown, word,
};
use crate::web::layout;
use axum::response::Response;
use job::{Material, Moment, Place, Stage};
use maud::{Markup, html};
use paint::{Advice, Correction, CorrectionPlan};
use report::drawing::{self, Hatch, Medium, StripLine, common_range, panel_map, range_cell};
use report::sketch::{self, CorrectionChoices};
use studio::command::NewJob;
use studio::view::{CarView, NEAR_FLOOR, PanelSurvey, SurveyView};
use units::Thickness;

const MATERIALS: [(Material, &str); 4] = [
    (Material::Steel, "steel"),
    (Material::Aluminum, "aluminum"),
    (Material::Plastic, "plastic: no reading possible"),
    (Material::Composite, "composite: no reading possible"),
];

/// What came of a form.
pub(super) enum Answer {
    /// It is done: go on.
    Gone(Response),
    /// Some rows were left out: show them.
    Rejected(Rejected),
}

pub(super) async fn page(
    at: &Sheet,
    returned: Returned,
    rejected: Option<Rejected>,
) -> Result<Response, Fault> {
    let (base, view) = at.ask(|s, id| s.survey_view(id)).await?;
    let job = &base.car.job;
    let closed = job.survey_closed.as_ref();
    let acts = html! {
        @if job.is_open() { a.btn href="#fold-find" { "Add a finding" } }
        @if closed.is_none() && job.is_open() { a.btn href="#closing" { "Close the survey" } }
        @else if job.is_open() && job.acceptance.is_none() { a.btn.main href=(at.to(Stage::Offer)) { "On to the offer" } }
    };
    let lead = match closed {
        Some(s) => html! { "Closed by " (s.name) ", " (at.desk.words.moment(s.at)) "." },
        None => html! { "After the first wash, under inspection light." },
    };
    let common = on_all(&view);
    let body = html! {
        @if closed.is_none() && job.is_open() { (missing(at, &view)) }
        @if !view.unknown.is_empty() {
            (layout::note(html! { p { b { "Readings name panels that this body does not have: " } (view.unknown.join(", ")) "." } }))
        }
        (finding::findings(at, &base, &returned))
        @if job.is_open() { (readings::ways(at, &base.car, &returned, rejected.as_ref())) }
        (overview(at, &base.car, &view, &common))
        (cards(at, &base, &view, &common, &returned))
        @if job.is_open() {
            (test_spot::form(at, &base.car, &view, &returned))
            (material(at, &base.car, &returned))
            (close(at, &base.car, &returned))
        }
    };
    Ok(framed(at, &base, &returned, lead, acts, body))
}

/// What stands in the way of closing, with the way to it.
fn missing(at: &Sheet, view: &SurveyView) -> Markup {
    html! { @if !view.missing.is_empty() {
        div.note.error #missing {
            p { b { "The survey cannot be closed yet." } }
            ul { @for m in &view.missing { li { (m) } } }
            p {
                @if view.missing.iter().any(|m| m.contains("arrival")) { a href={ (at.to(Stage::Arrival)) "#signing" } { "Sign the arrival record" } " " }
                @if view.missing.iter().any(|m| m.contains("Measure")) {
                    a href="#readings" { "Take readings" } " · " a href="#materials" { "Say what a panel is made of" }
                }
            }
        }
    } }
}

/// A thing to mind, and what to do about it.
type ToMind = (String, String);

/// What is to be minded on every panel that was read: it is said once, so that what is one panel's own stands out.
fn on_all(view: &SurveyView) -> Vec<ToMind> {
    let mut read = view.panels.iter().filter(|p| !p.readings.is_empty());
    let Some(first) = read.next() else { return Vec::new() };
    let mut all = first.warnings.clone();
    let mut count = 1;
    for p in read {
        count += 1;
        all.retain(|w| p.warnings.contains(w));
    }
    if count > 2 { all } else { Vec::new() }
}

/// What is to be minded on this panel alone.
fn own<'a>(p: &'a PanelSurvey, common: &'a [ToMind]) -> impl Iterator<Item = &'a ToMind> {
    p.warnings.iter().filter(|w| !common.contains(w))
}

fn before_count(p: &PanelSurvey) -> usize {
    p.readings.iter().filter(|r| r.2 == Moment::Before).count()
}

/// All painted panels in a table, with the range of the clear coat drawn over one scale.
fn overview(at: &Sheet, car: &CarView, view: &SurveyView, common: &[ToMind]) -> Markup {
    let words = &at.desk.words;
    let floor = car.shop.settings.floor;
    let unit = words.thickness_unit();
    let line = |p: &PanelSurvey| {
        let e = p.estimate.as_ref()?;
        let half = e.clear.sd * 1.96;
        let (low, high) = ((e.clear.mean - half).max(Thickness::ZERO), e.clear.mean + half);
        Some(StripLine {
            name: format!("{}, clear coat", p.title),
            low,
            point: e.clear.mean,
            high,
            words: sketch::range_words(e.clear.mean, low, high, floor, words),
        })
    };
    let lines: Vec<StripLine> =
        view.panels.iter().filter(|p| !p.readings.is_empty()).filter_map(line).collect();
    let range = common_range(lines.iter().flat_map(|l| [l.low, l.high]).chain([floor]));
    let figure = |p: &PanelSurvey, label: &str| {
        html! { @if let Some(f) = p.figures.iter().find(|f| f.label == label) { (layout::value(words, f)) } }
    };
    section(
        "panels",
        "Panels",
        html! {
            @for (what, hint) in common { (layout::note(html! { p { b { "On every panel: " (words.told(what)) } " " (words.told(hint)) } })) }
            table.fold.flow.panels {
                caption {
                    "Clear coat is estimated from the total; the bar is its 95 % range on a scale from " (words.thickness(range.0)) " to "
                    (words.thickness(range.1)) " " (unit) ", the heavy line the floor of " (words.thickness(floor)) " " (unit)
                    ". “At least” holds for the thinnest place."
                }
                thead { tr { th { "Panel" } th.n { "Spots" } th.n { "Total" } th.n { "Clear coat" } th { span.unseen { "Range" } } th.n { "At least" } th { "Mind" } } }
                tbody { @for p in &view.panels {
                    tr {
                        th { a href={ "#panel-" (p.id) } { (p.title) } }
                        td.n.say data-h="Spots" { @if p.readable { (before_count(p)) } @else { span.quiet { "none possible" } } }
                        td.n.say data-h="Total" { (figure(p, "Total")) }
                        td.n.say data-h="Clear coat" { @if !p.readings.is_empty() { (figure(p, "Clear coat")) } }
                        td data-h="" { @if !p.readings.is_empty() { @if let Some(l) = line(p) {
                            (layout::drawing(range_cell(&l, Some(floor), range, Medium::Page { id: &format!("r-{}", p.id) })))
                        } } }
                        td.n.say data-h="At least" { @if !p.readings.is_empty() { (figure(p, "Least clear coat")) } }
                        td.all data-h="Mind" { @for (i, (what, _)) in own(p, common).enumerate() { @if i > 0 { " " } (words.told(what)) } }
                    }
                } }
            }
        },
    )
}

/// A card for each panel with readings, findings or something to mind.
fn cards(at: &Sheet, base: &Base, view: &SurveyView, common: &[ToMind], returned: &Returned) -> Markup {
    let shown = view.panels.iter().filter(|p| !p.readings.is_empty() || !p.findings.is_empty());
    html! {
        section #cards {
            h2.unseen { "Panel by panel" }
            div.panelcards { @for p in shown { (card(at, base, p, common, returned)) } }
        }
    }
}

/// What is loud stands open; all else is one tap away.
fn card(at: &Sheet, base: &Base, p: &PanelSurvey, common: &[ToMind], returned: &Returned) -> Markup {
    let car = &base.car;
    let words = &at.desk.words;
    let floor = car.shop.settings.floor;
    let has = |m: Moment| p.readings.iter().any(|r| r.2 == m);
    let map = |m: Moment| {
        let placed = p.readings.iter().any(|r| r.2 == m && r.0.is_some());
        let map = sketch::panel_map(p, m, words);
        let id = format!("m-{}-{}", p.id, if m == Moment::After { "a" } else { "b" });
        let svg = panel_map(car.body, &map, Medium::Page { id: &id }).filter(|_| placed)?;
        Some((svg, map))
    };
    let maps = html! {
        @if let Some((svg, map)) = map(Moment::Before) {
            figure { (layout::drawing(svg))
                figcaption {
                    "Numbers: total as read, " (words.thickness_unit()) ", before correction."
                    @if !map.contours.is_empty() { " Lines: clear coat as estimated between the readings." }
                    @if map.spots.iter().any(|s| s.flagged) { " In a ring: does not go with the rest, read it again." }
                    @if map.next.is_some() { " Cross: the next reading tells most there." }
                }
                (floor_key(at, p, &map, floor))
            }
        } @else if has(Moment::Before) {
            p.small.quiet { (words_of(p, Moment::Before, at)) " " (words.thickness_unit()) ". No places known, so no map: tap the drawing when reading." }
        }
        @if let Some((svg, _)) = map(Moment::After) {
            figure { (layout::drawing(svg)) figcaption { "Total thickness after correction, " (words.thickness_unit()) "." } }
        } @else if has(Moment::After) {
            p.small.quiet { "After correction: " (words_of(p, Moment::After, at)) " " (words.thickness_unit()) "." }
        }
    };
    // What calls for nothing stays small.
    let calm = matches!(p.correction.as_ref().map(|c| &c.advice), None | Some(Advice::NothingToDo));
    let alone = own(p, common).next().is_some();
    let shut = !alone && calm && p.findings.is_empty();
    let (area, area_unit) = words.area(p.area);
    html! {
        details.card.paper id={ "panel-" (p.id) } open[alone || left(p) || returned.is(&withdrawing(p))] {
            summary { h3 { (p.title) } span { (verdict(p)) } span.small.quiet { (layout::quantity(area, area_unit)) } }
            @for (what, hint) in own(p, common) { p.loud { b { (words.told(what)) } " " (words.told(hint)) } }
            @if !p.findings.is_empty() {
                p.small { "Findings: " @for no in &p.findings { a.no href={ "#finding-" (no) } { (no) } " " } }
            }
            @if !p.figures.is_empty() { (layout::figures(words, &p.figures)) }
            @if shut && p.readings.iter().any(|r| r.0.is_some()) { (fold(&format!("map-{}", p.id), "Its readings on the drawing", false, maps)) } @else { (maps) }
            @if let Some(e) = p.estimate.as_ref().filter(|e| e.more.readings > 0 && p.readable) {
                p.small { b { "Worth taking: " } (counted(e.more.readings, "more reading", "more readings")) ". " (words.told(&e.more.why)) }
            }
            @if let Some(plan) = &p.correction { (advice(at, p, plan, "Correction")) }
            @if let Some(plan) = &p.edge_correction { (advice(at, p, plan, "At edges and body lines")) }
            @if let Some(taken) = &p.taken { (layout::figures(words, std::slice::from_ref(taken))) }
            (test_spot::said(at, p))
            @if car.job.is_open() && !p.readings.is_empty() { (withdraw(at, p, returned)) }
        }
    }
}

/// Whether something is left as it is because the clear coat would not bear it.
fn left(p: &PanelSurvey) -> bool {
    let plans = p.correction.iter().chain(&p.edge_correction);
    plans.into_iter().any(|plan| matches!(plan.advice, Advice::LeaveIt(_)))
}

/// In a word, what is to be done with the panel.
fn verdict(p: &PanelSurvey) -> Markup {
    html! { @match p.correction.as_ref().map(|c| &c.advice) {
        _ if left(p) => (layout::late("leave it")),
        Some(Advice::Correct(_)) => (layout::tag("correct it")),
        _ => {}
    } }
}

/// The hatches of a map with what they mean; only those that are on it.
fn floor_key(at: &Sheet, p: &PanelSurvey, map: &drawing::PanelMap, floor: Thickness) -> Markup {
    let words = &at.desk.words;
    let unit = words.thickness_unit();
    let near = format!("clear coat under {} {unit}", words.thickness(floor + NEAR_FLOOR));
    let under = format!("under the floor of {} {unit}", words.thickness(floor));
    let mut parts = vec![(Hatch::Light, near.as_str()), (Hatch::Marked, under.as_str())];
    parts.retain(|(hatch, _)| map.contours.iter().any(|c| c.hatch == Some(*hatch)));
    html! { @if !parts.is_empty() { (layout::key(&format!("mk-{}", p.id), &parts)) } }
}

fn words_of(p: &PanelSurvey, moment: Moment, at: &Sheet) -> String {
    let list = p.readings.iter().filter(|r| r.2 == moment);
    list.map(|r| at.desk.words.thickness(r.1)).collect::<Vec<_>>().join(", ")
}

/// What may be corrected, or why it is left, with the choices that were weighed.
fn advice(at: &Sheet, p: &PanelSurvey, plan: &CorrectionPlan, title: &str) -> Markup {
    // what the card or the page says at its head is not said again
    let said = |caution: &String| p.warnings.iter().any(|(what, hint)| *caution == format!("{what} {hint}"));
    let advised = match &plan.advice {
        Advice::Correct(c) => Some(c),
        Advice::LeaveIt(leave) => leave.best_safe.as_ref(),
        Advice::NothingToDo => None,
    };
    html! {
        div.advice {
            @if p.edge_correction.is_some() { h4 { (title) } }
            @match &plan.advice {
                Advice::NothingToDo => { p { b { "Nothing to correct. " } "The marks are within the wanted finish." } }
                Advice::Correct(c) => { p { b { "Correct it." } } (passes(at, c)) }
                Advice::LeaveIt(leave) => {
                    p.loud { b { "Leave it. " } (at.desk.words.told(&leave.words)) " " (at.desk.words.told(&leave.hint)) }
                    @if let Some(c) = &leave.best_safe { p { b { "As far as it may go:" } } (passes(at, c)) }
                }
            }
            @for caution in plan.cautions.iter().filter(|c| !said(c)) { div.note.caution { p { (at.desk.words.told(caution)) } } }
            (front(at, p, plan, title, advised))
        }
    }
}

/// What is taken against what stays, over all ways that were weighed.
fn front(
    at: &Sheet,
    p: &PanelSurvey,
    plan: &CorrectionPlan,
    title: &str,
    advised: Option<&Correction>,
) -> Markup {
    let choices = CorrectionChoices {
        points: &plan.front,
        advised: advised.map(|c| c.removal.mean),
        wanted: plan.wanted,
        most: plan.most,
    };
    let words = &at.desk.words;
    let id = format!("front-{}-{}", p.id, if title == "Correction" { "face" } else { "edge" });
    let Some(drawn) = sketch::correction_front(&p.title, &choices, words) else { return html! {} };
    let safe = plan.front.iter().filter(|f| f.safe).count();
    let drawing = drawing::front(&drawn, Medium::Page { id: &id });
    fold(
        &id,
        &format!("{} weighed, {safe} allowed", counted(plan.front.len(), "way", "ways")),
        false,
        html! {
            figure { (layout::drawing(drawing)) figcaption { "Filled: within floor and allowance. Open: not allowed. In a ring: advised." } }
        },
    )
}

fn passes(at: &Sheet, c: &Correction) -> Markup {
    let words = &at.desk.words;
    let unit = words.thickness_unit();
    let fine = |t: Thickness| at.scale().thickness_fine(t);
    html! {
        ol.passes { @for s in &c.steps {
            li { (counted(s.passes as usize, "pass", "passes")) ", " (s.name) ": takes "
                (layout::quantity(html! { (fine(s.removal.mean)) span.pm { " ± " (fine(s.removal.sd * 1.96)) } }, unit)) ", " (layout::duration(words, s.time)) }
        } }
        (layout::facts(&[
            ("Takes in all", layout::quantity(html! { (fine(c.removal.mean)) span.pm { " ± " (fine(c.removal.sd * 1.96)) } }, unit)),
            ("Risk of going under the floor", layout::quantity(percent(c.risk), "%")),
            ("Deepest mark that stays", layout::quantity(fine(c.remaining_mark), unit)),
            ("Work", layout::duration(words, c.time)),
        ]))
    }
}

/// A small share in percent, no finer than it is known.
fn percent(p: f64) -> String {
    let p = p * 100.0;
    if p < 0.1 { "under 0.1".to_owned() } else { format!("{p:.1}") }
}

/// The form that takes a panel's readings back.
fn withdrawing(p: &PanelSurvey) -> String {
    format!("withdraw-{}", p.id)
}

fn withdraw(at: &Sheet, p: &PanelSurvey, returned: &Returned) -> Markup {
    let form = withdrawing(p);
    let typed = returned.or(Typed::new(&form).with("moment", "before"));
    let moments: Vec<(&str, &str)> =
        [("before", Moment::Before, "before correction"), ("after", Moment::After, "after correction")]
            .into_iter()
            .filter(|(_, m, _)| p.readings.iter().any(|r| r.2 == *m))
            .map(|(w, _, t)| (w, t))
            .collect();
    fold(
        &form,
        "Take its readings back",
        returned.is(&form),
        html! {
            (returned.refusal(&form))
            (at.form(&typed, html! {
                input type="hidden" name="panel" value=(p.id);
                (typed.select("moment", "Which", &moments))
                (typed.field("why", "Reason").hint("They stay in the record."))
                p.acts { button { "Take them back" } }
            }))
        },
    )
}

fn material(at: &Sheet, car: &CarView, returned: &Returned) -> Markup {
    let typed = returned.or(Typed::new("material"));
    let choices: Vec<(String, &str)> = MATERIALS.iter().map(|(m, t)| (word(m), *t)).collect();
    section(
        "materials",
        "What panels are made of",
        html! {
            @if !car.job.car.materials.is_empty() {
                ul { @for (panel, m) in &car.job.car.materials {
                    li { (panel.title()) ": " (MATERIALS.iter().find(|(x, _)| x == m).map_or("glass", |(_, t)| t)) }
                } }
            }
            (fold("material", "Say what a panel is made of", returned.is("material"), html! {
                (returned.refusal("material"))
                (at.form(&typed, html! {
                    div.fields {
                        (typed.select("panel", "Panel", &panels::painted(car.body)))
                        (typed.select("material", "Made of", &choices))
                    }
                    p.acts { button { "Keep it" } }
                }))
            }))
        },
    )
}

fn close(at: &Sheet, car: &CarView, returned: &Returned) -> Markup {
    if let Some(s) = &car.job.survey_closed {
        return section(
            "closing",
            "Closed",
            html! { p { b { (s.name) } " closed the survey, " (at.desk.words.moment(s.at)) ". What is found later is added all the same." } },
        );
    }
    let typed = returned.or(Typed::new("close").with("name", at.desk.by()));
    section(
        "closing",
        "Close the survey",
        html! {
            p { "What was found and read is the ground of the offer. What is found later is added, priced and agreed." }
            (returned.refusal("close"))
            (at.form(&typed, html! {
                (typed.field("name", "Your name").required())
                p.acts { button.main { "Close the survey" } }
            }))
        },
    )
}

pub(super) async fn act(at: &Sheet, typed: &mut Typed) -> Result<Answer, Refusal> {
    let form = typed.form().to_owned();
    let gone = match form.as_str() {
        "csv" => {
            return Ok(match readings::table(at, typed).await? {
                Ok(response) => Answer::Gone(response),
                Err(rejected) => Answer::Rejected(rejected),
            });
        }
        "one" => readings::one(at, typed).await?,
        "test_spot" => test_spot::keep(at, typed).await?,
        other if other.starts_with("no_test_spot") => test_spot::withdraw(at, typed).await?,
        "material" => {
            let materials: Vec<(String, Material)> = MATERIALS.iter().map(|(m, _)| (word(m), *m)).collect();
            let materials: Vec<(&str, Material)> = materials.iter().map(|(w, m)| (w.as_str(), *m)).collect();
            let material = typed.one_of("material", &materials).unwrap_or_default();
            let panel = typed.required("panel");
            typed.sound()?;
            at.save(typed, format!("{}#materials", at.path()), move |s, id, stamp| {
                let entry = s.job(id)?;
                let job = &entry.job;
                let mut car = job.car.clone();
                car.materials.insert(panel.as_str().into(), material);
                let new = NewJob {
                    car,
                    customer: job.customer.clone(),
                    order: job.order.clone(),
                    promised: job.promised,
                    expected: job.expected,
                };
                // Only the material changes: what somebody else changed in between must not be overwritten.
                let stamp = studio::Stamp { seen: Some(entry.version), ..stamp.clone() };
                s.change_booking(id, &stamp, &new).map(drop)
            })
            .await?
        }
        "close" => {
            let name = typed.text("name");
            at.save(typed, at.to(Stage::Offer), move |s, id, stamp| {
                s.close_survey(id, stamp, &name).map(drop)
            })
            .await?
        }
        other if other.starts_with("withdraw") => {
            let place = Place::panel(&typed.required("panel"));
            let moment = if typed.get("moment") == "after" { Moment::After } else { Moment::Before };
            let why = typed.text("why");
            at.save(typed, format!("{}#panel-{}", at.path(), place.panel), move |s, id, stamp| {
                s.withdraw_readings(id, stamp, &place, moment, &why).map(drop)
            })
            .await?
        }
        other => return Err(unknown(other)),
    };
    Ok(Answer::Gone(gone))
}
