//! Everything by keyboard: no mouse, no touch, no click. Every stop of the Tab key shows its focus, and none holds it.

use crate::stage::{OWNER, Stage, closed, stage};
use crate::visits::{equipped, worked_on};
use fantoccini::actions::{InputSource, KeyAction, KeyActions};
use fantoccini::key::Key;
use jiff::SignedDuration;
use job::{JobId, StepState};
use studio::{Stamp, Studio};

/// Stops of the Tab key after which a place counts as not to be reached.
const MOST: usize = 400;

/// What is wrong with the focus where it is now: not in sight, or not marked. Empty when all is well.
const FLAW: &str = r#"
const at = document.activeElement;
if (!at || at === document.body) return '';
at.scrollIntoView({ block: 'nearest' });
const box = at.getBoundingClientRect();
const name = `${at.tagName} ${at.name ?? ''} '${(at.textContent || at.getAttribute('aria-label') || '').trim().slice(0, 40)}'`;
if (box.width < 1 || box.height < 1) return `${name} has the focus and no size`;
const marked = (e) => {
  const s = getComputedStyle(e);
  return s.outlineStyle !== 'none' && parseFloat(s.outlineWidth) >= 2;
};
// A piece of film shows it by its heavy line.
const line = at.matches('.piece') && at.querySelector('path');
if (line && parseFloat(getComputedStyle(line).strokeWidth) >= 4) return '';
for (let e = at, i = 0; e && i < 3; e = e.parentElement, i += 1) if (marked(e)) return '';
return `${name} has the focus and does not show it`;
"#;

/// A hand on the keyboard.
struct Keys<'a> {
    stage: &'a Stage,
    flaws: Vec<String>,
}

impl<'a> Keys<'a> {
    fn at(stage: &'a Stage) -> Self {
        Self { stage, flaws: Vec::new() }
    }

    /// Presses keys one after the other; `held` stays down meanwhile.
    async fn press_with(&self, held: Option<char>, keys: &[char]) {
        let mut acts = KeyActions::new("keys".into());
        acts = held.into_iter().fold(acts, |a, value| a.then(KeyAction::Down { value }));
        for value in keys.iter().copied() {
            acts = acts.then(KeyAction::Down { value }).then(KeyAction::Up { value });
        }
        acts = held.into_iter().fold(acts, |a, value| a.then(KeyAction::Up { value }));
        self.stage.client.perform_actions(acts).await.unwrap();
    }

    async fn press(&self, keys: &[char]) {
        self.press_with(None, keys).await;
    }

    async fn write(&self, text: &str) {
        self.press(&text.chars().collect::<Vec<_>>()).await;
    }

    async fn focused(&self, css: &str) -> bool {
        let script = format!("return !!document.activeElement?.matches({});", serde_json::json!(css));
        self.stage.run(&script).await == true
    }

    /// Goes on with Tab until something has the focus.
    async fn to(&mut self, css: &str) {
        for _ in 0..MOST {
            if self.focused(css).await {
                return;
            }
            self.press(&[char::from(Key::Tab)]).await;
            let flaw = self.stage.run(FLAW).await;
            let flaw = flaw.as_str().unwrap_or_default().to_owned();
            if !flaw.is_empty() && !self.flaws.contains(&flaw) {
                self.flaws.push(flaw);
            }
        }
        let url = self.stage.client.current_url().await.unwrap();
        let at = self.stage.run("return document.activeElement?.outerHTML.slice(0, 200) ?? '';").await;
        panic!("{css} is not reached on {url}; the focus is at {at}");
    }

    /// Goes back with Shift and Tab until something has the focus.
    async fn back_to(&mut self, css: &str) {
        for _ in 0..MOST {
            if self.focused(css).await {
                return;
            }
            self.press_with(Some(char::from(Key::Shift)), &[char::from(Key::Tab)]).await;
        }
        panic!("{css} is not reached backwards");
    }

    /// Writes into a field, in place of what stands there.
    async fn fill(&mut self, css: &str, text: &str) {
        self.to(css).await;
        self.press_with(Some(char::from(Key::Control)), &['a']).await;
        self.write(text).await;
    }

    /// Chooses from a list by arrows.
    async fn choose(&mut self, css: &str, value: &str) {
        self.to(css).await;
        self.press(&[char::from(Key::Home)]).await;
        for _ in 0..MOST {
            if self.stage.run("return document.activeElement.value;").await == value {
                return;
            }
            self.press(&[char::from(Key::Down)]).await;
        }
        panic!("{value} is not in {css}");
    }

    /// Goes to a radio button of a group and chooses by arrows.
    async fn pick(&mut self, name: &str, value: &str) {
        self.to(&format!("input[type=radio][name={name}]")).await;
        for _ in 0..MOST {
            if self.focused(&format!("[name={name}][value={}]:checked", serde_json::json!(value))).await {
                return;
            }
            self.press(&[char::from(Key::Down)]).await;
        }
        panic!("{value} is not among {name}");
    }

    async fn tick(&mut self, css: &str) {
        self.to(css).await;
        self.press(&[' ']).await;
    }

    async fn enter(&mut self, css: &str) {
        self.to(css).await;
        self.press(&[char::from(Key::Enter)]).await;
    }

    /// Opens a fold and goes on inside.
    async fn unfold(&mut self, css: &str) {
        self.enter(&format!("{css} > summary")).await;
        self.stage
            .until("the fold", &format!("return document.querySelector({})?.open;", serde_json::json!(css)))
            .await;
    }

    /// Sends a form and waits for the next page, which begins at its top.
    async fn send(&mut self, css: &str, then: &str) {
        self.stage.run("window.before = true; return true;").await;
        self.enter(css).await;
        let script = format!(
            "return !window.before && document.readyState === 'complete' && !document.querySelector('[role=alert]') && !!document.querySelector({});",
            serde_json::json!(then)
        );
        self.stage.until(then, &script).await;
        self.stage.run("document.activeElement?.blur(); scrollTo(0, 0); return true;").await;
    }

    fn done(self) {
        assert!(self.flaws.is_empty(), "{}", self.flaws.join("\n"));
    }
}

pub(crate) fn studio(stage: &Stage) -> Studio {
    Studio::open(&stage.studio).unwrap()
}

#[tokio::test(flavor = "multi_thread")]
async fn from_the_door_to_a_step_by_keyboard() {
    let Some(stage) = closed(1280, 1100, |port| port).await else { return };
    let mut keys = Keys::at(&stage);
    // The first start, out again, and in by PIN.
    stage.open("/").await;
    for (name, value) in OWNER {
        keys.fill(&format!("form#first [name={name}]"), value).await;
    }
    keys.send("form#first button.main", "details.who").await;
    keys.enter("details.who > summary").await;
    keys.send("form[action='/door/out'] button", "form#in").await;
    keys.pick("name", "Nadia").await;
    keys.fill("form#in [name=pin]", "2580").await;
    keys.send("form#in button.main", "details.who").await;

    equipped(&studio(&stage));

    // A new car.
    stage.open("/cars").await;
    keys.send("a[href='/cars/new']", "form[action='/cars/new']").await;
    keys.fill("[name=plate]", "TST 700").await;
    keys.fill("[name=name]", "Keyed hatch").await;
    keys.pick("body", "hatchback").await;
    keys.fill("[name=customer]", "Ilse Invented").await;
    keys.pick("finish", "gloss").await;
    keys.send("form[action='/cars/new'] button.main", "form#record").await;
    let id = JobId("0002".into());

    // Arrival, with a finding put on the drawing by the cross.
    keys.fill("form#record [name=odometer]", "1240").await;
    keys.fill("form#record [name=keys]", "2").await;
    keys.send("form#record button", "#findings").await;
    keys.enter("[data-keys]").await;
    keys.press(&[char::from(Key::Up), char::from(Key::Up), char::from(Key::Left)]).await;
    stage
        .until(
            "a panel under the cross",
            "return /Enter puts/.test(document.querySelector('.tapped').textContent);",
        )
        .await;
    keys.press(&[char::from(Key::Enter)]).await;
    stage.until("the form", "return !!document.activeElement.closest('[data-place]');").await;
    keys.choose("form#find [name=kind]", "scratch").await;
    keys.pick("severity", "marked").await;
    keys.fill("form#find [name=note]", "found by keys").await;
    keys.send("form#find p.acts button", "#finding-1").await;
    let found = studio(&stage).job(&id).unwrap().job.findings[0].clone();
    assert!(found.place.u.is_some() && found.note == "found by keys", "{found:?}");
    keys.send("form#sign button.main", "#readings").await;

    // Readings, closed.
    keys.unfold("#fold-csv").await;
    let panels = studio(&stage).survey_view(&id).unwrap().panels;
    let mut table = String::from("panel,reading_um,u,v\n");
    for p in panels.iter().filter(|p| p.readable) {
        for (i, (u, v)) in [(0.2, 0.3), (0.8, 0.3), (0.5, 0.7)].iter().enumerate() {
            table.push_str(&format!("{},{},{u},{v}\n", p.id, 118 + i));
        }
    }
    keys.to("form#csv textarea").await;
    // Typed by hand in the bay; here it is pasted, which a driver cannot do by keys alone.
    stage.run(&format!("document.activeElement.value = {}; return true;", serde_json::json!(table))).await;
    keys.send("form#csv p.acts button", "form#close").await;
    keys.send("form#close button.main", "#options, [data-reckoning], a[href]").await;

    // Offer agreed, with name and a signature drawn by arrows.
    stage.until("the draft", "return [...document.querySelectorAll('button')].some((b) => b.textContent === 'Make the offer');").await;
    keys.send("form.one button.main", "form#accept").await;
    keys.fill("form#accept [name=name]", "Ilse Invented").await;
    keys.to("form#accept [data-sign] svg").await;
    keys.press(&[
        ' ',
        char::from(Key::Right),
        char::from(Key::Right),
        char::from(Key::Down),
        char::from(Key::Right),
    ])
    .await;
    keys.press(&[' ']).await;
    keys.send("form#accept button.main", "#steps").await;
    let acceptance = studio(&stage).job(&id).unwrap().job.acceptance.clone().unwrap();
    assert!(!acceptance.strokes.is_empty(), "the drawn signature is kept");

    // The route, its first step begun and finished.
    keys.send("form.one button.main", "#steps").await;
    let step = studio(&stage).job(&id).unwrap().job.open_steps().next().unwrap().no;
    stage.open(&format!("/cars/{id}/step/{step}")).await;
    keys.send("button.giant.main", "form#finish").await;
    for i in 0..20 {
        let css = format!("form#finish [name=check-{i}]");
        if stage.run(&format!("return !!document.querySelector({});", serde_json::json!(css))).await != true {
            break;
        }
        keys.tick(&css).await;
    }
    keys.back_to("form#finish button.giant").await;
    keys.send("form#finish button.giant", "h1").await;
    assert_eq!(studio(&stage).job(&id).unwrap().job.step_state(step), StepState::Done);
    keys.done();
    stage.client.close().await.unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn a_car_is_handed_over_by_keyboard() {
    let Some(stage) = stage(1280, 1100).await else { return };
    let id = worked_on(&stage.studio, None);
    let mut keys = Keys::at(&stage);
    stage.open(&format!("/cars/{id}/handover")).await;
    let checks = stage.run("return document.querySelectorAll('#hand_over [name=checked]').length;").await;
    for i in 0..checks.as_u64().unwrap() {
        keys.tick(&format!("#hand_over label.tick:nth-of-type({}) input", i + 1)).await;
    }
    keys.fill("#hand_over [name=name]", "Ilse Invented").await;
    keys.send("#hand_over button.main", "#visits").await;
    assert!(studio(&stage).job(&id).unwrap().job.handover.is_some());

    // A claim on the map's list, answered; then the reminder that comes of it is said to be sent.
    keys.unfold("#fold-claim").await;
    keys.choose("form#claim [name=panel]", "hood").await;
    keys.choose("form#claim [name=kind]", "chip").await;
    keys.fill("form#claim [name=what]", "a stone went in").await;
    keys.send("form#claim p.acts button", "#claim-1").await;
    keys.unfold("#claim-1 > details").await;
    keys.fill("form#answer-0 textarea", "we touch it up").await;
    keys.send("form#answer-0 button", "#reminder-claim-0").await;
    keys.unfold("#reminder-claim-0 > details:first-of-type").await;
    keys.send("#reminder-claim-0 button[value=sent]", "#reminders").await;
    let job = studio(&stage).job(&id).unwrap().job;
    assert!(job.claims[0].answer.is_some());
    assert_eq!(job.reminders[0].state, job::ReminderState::Sent);
    keys.done();
    stage.client.close().await.unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn a_step_and_a_piece_are_moved_by_keyboard() {
    let Some(stage) = stage(1280, 1400).await else { return };
    {
        let studio = studio(&stage);
        let by = Stamp::by("Nadia");
        let roll = job::Roll {
            id: "R-1".into(),
            film: "clear".into(),
            width: units::Length::mm(1520.0),
            left: units::Length::m(15.0),
            margin: units::Length::mm(8.0),
            ..job::Roll::default()
        };
        studio.receive_roll(&by, &roll).unwrap();
    }
    let mut keys = Keys::at(&stage);
    stage.open("/cars/0001/film").await;
    keys.unfold("#fold-by-hand").await;
    keys.to("[data-hand] .piece").await;
    let place = "const p = document.activeElement; return `${p.dataset.x} ${p.dataset.y}`;";
    let before = stage.run(place).await;
    keys.press(&[char::from(Key::Right)]).await;
    stage
        .until(
            "an answer",
            "return /Lies at|cannot lie/.test(document.querySelector('[data-said]').textContent);",
        )
        .await;
    if stage.run("return /Lies at/.test(document.querySelector('[data-said]').textContent);").await == true {
        assert_ne!(stage.run(place).await, before, "the piece moved");
    }
    keys.press(&['l']).await;
    keys.send("button[name=do][value=keep]", "[data-hand]").await;
    assert_eq!(studio(&stage).job(&JobId("0001".into())).unwrap().job.wish.locked.len(), 1);

    // The calendar: an entry, an hour later, kept.
    equipped(&studio(&stage));
    studio(&stage).keep_plan(&Stamp::by("Nadia")).unwrap();
    let booking = studio(&stage).shop().unwrap().plan[0].clone();
    stage.open("/calendar").await;
    keys.send(
        &format!("a[href='/calendar/step/{}/{}']:not([tabindex])", booking.job, booking.step),
        "form[action='/calendar/try'] [name=at]",
    )
    .await;
    keys.to("form[action='/calendar/try'] [name=at]").await;
    // month, day, year, then the hour: one up.
    keys.press(&[
        char::from(Key::Right),
        char::from(Key::Right),
        char::from(Key::Right),
        char::from(Key::Up),
    ])
    .await;
    keys.send("#move ~ form button, section[aria-labelledby=move] button", "h1").await;
    let kept =
        stage.run("return !!document.querySelector('form[action=\"/calendar/change\"] button.main');").await;
    assert_eq!(kept, true, "the change is possible");
    keys.send("form[action='/calendar/change'] button.main", "h1").await;
    let moved = studio(&stage).shop().unwrap().plan.clone();
    let moved = moved.iter().find(|b| b.job == booking.job && b.step == booking.step).unwrap().clone();
    assert_eq!(moved.from, booking.from + SignedDuration::from_hours(1));
    keys.done();
    stage.client.close().await.unwrap();
}
