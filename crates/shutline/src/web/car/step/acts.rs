//! The taps of a step's card: start, pause, finish with lots and checks, undo.

use super::super::{Refusal, Sheet, Typed, fold};
use super::Card;
use crate::web::{form, layout};
use job::{LotUse, Stage, StepState};
use maud::{Markup, html};
use studio::command::Finished;
use studio::view::StepView;

impl Card<'_> {
    /// The one main button, and what goes with it.
    pub(super) fn actions(&self) -> Markup {
        if !self.open_job() {
            return html! { @if !self.view.set { (layout::empty(html! { p { "The route is not set yet, so this step cannot be started. " a href=(self.at.to(Stage::Route)) { "To the route" } } })) } };
        }
        let refusal = |form: &str| self.returned.refusal(form);
        html! {
            @for form in ["start", "pause", "undo"] { (refusal(form)) }
            // What was just tapped can be taken back where the next tap is: in sight.
            @let undo = self.undo_now();
            @match &self.s.state {
                StepState::Todo | StepState::Paused => {
                    @if !self.s.needs.is_empty() {
                        div.note { p { b { "Not yet: " } (self.s.needs.join("; ")) "." } }
                    }
                    // within a thumb's reach wherever the card is read
                    div.taps.near[self.s.needs.is_empty()] data-steps="paused" {
                        (undo)
                        (self.one("start", "running", self.s.needs.is_empty(), if self.s.state == StepState::Paused { "Go on with it" } else { "Start this step" }))
                        (self.ahead("running", html! { (self.finish(true)) (self.one("pause", "paused", false, "Pause")) }))
                        (self.ahead("finished", html! { p { "Finished." } }))
                    }
                }
                StepState::Running => {
                    @let signed = !self.checks().is_empty();
                    // What is signed for is looked at first: the tap leads there.
                    @if signed { div.near { (undo) a.btn.main.giant href="#checks" { "Check and finish" } } }
                    div.taps.near[!signed] data-steps="running" {
                        @if !signed { (undo) }
                        (self.finish(true))
                        (self.one("pause", "paused", false, "Pause"))
                        (self.ahead("paused", self.one("start", "running", true, "Go on with it")))
                        (self.ahead("finished", html! { p { "Finished." } }))
                    }
                }
                StepState::Done => { div.near { (undo) @if let Some(next) = self.next() {
                    a.btn.main.giant href={ (self.at.car_path()) "/step/" (next.planned.no) } { "Next: " (next.planned.title) }
                } @else { a.btn.main.giant href=(self.at.to(Stage::Handover)) { "On to the handover" } } } }
                StepState::Dropped(_) => {}
            }
        }
    }

    fn next(&self) -> Option<&StepView> {
        let open = |s: &&StepView| !matches!(s.state, StepState::Done | StepState::Dropped(_));
        let after = self.view.steps.iter().skip(self.i + 1);
        after.clone().find(|s| open(s) && s.needs.is_empty()).or_else(|| self.view.steps.iter().find(open))
    }

    /// What the card shows when a tap waits on the device: the next taps can be made without the connection.
    fn ahead(&self, view: &str, body: Markup) -> Markup {
        html! { template data-view=(view) { (body) } }
    }

    /// Just tapped: for ten seconds it can be taken back here; afterwards behind its fold.
    fn undo_now(&self) -> Markup {
        let did = match (self.asked.undo.as_str(), &self.s.state) {
            ("start", StepState::Running) => "Started",
            ("pause", StepState::Paused) => "Paused",
            ("finish", StepState::Done) => "Finished",
            _ => return html! {},
        };
        html! { div.note.side data-seconds="10" {
            p role="status" { b { (did) } "." }
            form method="post" action=(self.path()) {
                input type="hidden" name="form" value="undo";
                input type="hidden" name="key" value=(form::fresh_key());
                button { "Undo" }
            }
        } }
    }

    /// A tap: `then` is where the step stands afterwards.
    pub(super) fn one(&self, name: &str, then: &str, main: bool, words: &str) -> Markup {
        let kept = match name {
            "start" => Some("Step started"),
            "pause" => Some("Step paused"),
            _ => None,
        };
        html! {
            form.step method="post" action=(self.path()) data-keep=[kept] data-then=[kept.map(|_| then)] {
                input type="hidden" name="form" value=(name);
                input type="hidden" name="key" value=(form::fresh_key());
                button.giant[main] .main[main] { (words) }
            }
        }
    }

    /// Lots and a remark, then the step is finished.
    fn finish(&self, main: bool) -> Markup {
        let scale = self.at.scale();
        let p = &self.s.planned;
        let today = self.base.car.now.to_zoned_datetime(self.base.car.zone.clone()).date();
        let mut begins = Typed::new("finish");
        for (i, used) in p.products.iter().enumerate() {
            let lots = self
                .s
                .lots
                .iter()
                .find(|(name, _)| *name == used.product)
                .map(|(_, l)| l.as_slice())
                .unwrap_or_default();
            if let Some(first) = lots.iter().find(|l| l.expires.is_none_or(|e| e >= today)) {
                begins = begins.with(&format!("lot-{i}"), &first.lot);
            }
            let amount = match scale.liquid() {
                "mL" => format!("{:.0}", used.amount.as_ml()),
                _ => format!("{:.1}", used.amount.as_fl_oz()),
            };
            begins = begins.with(&format!("amount-{i}"), amount);
        }
        let typed = self.returned.or(begins);
        html! {
            (self.returned.refusal("finish"))
            (self.form(&typed, html! {
                (fold("lots", &self.chosen(&typed), self.returned.is("finish"), html! {
                    div.fields {
                        @for (i, used) in p.products.iter().enumerate() { (self.lot(&typed, i, &used.product, today)) }
                        (typed.area("note", "Remark", "", 1))
                    }
                }))
                @let checks = self.checks();
                @if !checks.is_empty() {
                    fieldset.field.checks #checks {
                        legend { "Looked at, and in order" }
                        @for (i, check) in checks.iter().enumerate() { (typed.must(&format!("check-{i}"), check)) }
                    }
                    p.small.quiet { "Finishing the step signs for it" @if let Some(who) = &self.at.desk.who { " as " (who) } "." }
                }
                button.giant .main[main] { "Done: finish the step" }
            }))
        }
    }

    fn checks(&self) -> Vec<&str> {
        checks_of(self.s)
    }

    /// Lots that are booked with the finish, in a line.
    fn chosen(&self, typed: &Typed) -> String {
        let lots = self.s.planned.products.iter().enumerate().map(|(i, used)| {
            let lot = typed.get(&format!("lot-{i}"));
            if lot.is_empty() {
                format!("{}: no lot", used.product)
            } else {
                format!("{} {lot}", used.product)
            }
        });
        let lots: Vec<String> = lots.collect();
        if lots.is_empty() { "Remark".to_owned() } else { format!("Lots: {}", lots.join(", ")) }
    }

    fn lot(&self, typed: &Typed, i: usize, product: &str, today: jiff::civil::Date) -> Markup {
        let lots = self
            .s
            .lots
            .iter()
            .find(|(name, _)| name == product)
            .map(|(_, l)| l.as_slice())
            .unwrap_or_default();
        let mut choices: Vec<(String, String)> = vec![(String::new(), "not written down".to_owned())];
        choices.extend(lots.iter().map(|l| {
            let till = l.expires.map_or(String::new(), |e| {
                let over = if e < today { "expired " } else { "to " };
                format!(", {over}{}", self.at.desk.words.times.date(e))
            });
            (l.lot.clone(), format!("{}{till}", l.lot))
        }));
        let (lot, amount) = (format!("lot-{i}"), format!("amount-{i}"));
        html! {
            (typed.select(&lot, &format!("Lot of {product}"), &choices))
            (typed.field(&amount, "Amount").unit(self.at.scale().liquid()))
        }
    }
}

/// What somebody signs for when the step is finished.
fn checks_of(step: &StepView) -> Vec<&str> {
    step.wanted.iter().filter_map(|w| w.strip_prefix("Check: ")).collect()
}

/// Lots that were used, and a remark.
pub(super) fn finished(typed: &mut Typed, at: &Sheet, step: &StepView) -> Result<Finished, Refusal> {
    let mut lots = Vec::new();
    for (i, used) in step.planned.products.iter().enumerate() {
        let lot = typed.get(&format!("lot-{i}")).to_owned();
        let name = format!("amount-{i}");
        let amount = typed.number(&name);
        if amount.is_some_and(|n| !(0.0..=1e6).contains(&n)) {
            typed.complain(&name, "Enter an amount from 0 to 1000000.");
        }
        if !lot.is_empty() {
            let amount = amount.map_or(used.amount, |n| at.scale().liquid_from(n));
            lots.push(LotUse { product: used.product.clone(), lot, amount });
        }
    }
    let checks = checks_of(step);
    for i in 0..checks.len() {
        let name = format!("check-{i}");
        if !typed.on(&name) {
            typed.complain(&name, "This was not looked at yet. Tick it, or pause the step.");
        }
    }
    typed.sound()?;
    let checked = checks.into_iter().map(str::to_owned).collect();
    Ok(Finished { note: typed.text("note"), lots, checked })
}
