//! Bays, air and people over days. Nights and closed days are squeezed; what nobody is needed for is
//! hatched; what is late has a heavy frame.

use super::Medium;
use super::hatch::Hatch;
use super::label::Rect;
use super::pen::{Anchor, Pen, Text, escaped, num};
use units::Duration;

/// One day of a [`Calendar`].
#[derive(Clone, Debug, PartialEq)]
pub struct Day {
    /// Such as `Mon 12`.
    pub label: String,
    /// Opening and closing, from midnight of that day; none if the shop is closed.
    pub open: Option<(Duration, Duration)>,
}

/// A bay, a person, or the air of a room.
#[derive(Clone, Debug, PartialEq)]
pub struct Row {
    /// Its name.
    pub name: String,
    /// What it is for, in a few words.
    pub note: String,
    /// Whether a new group begins here.
    pub group: bool,
    /// Name of the bay when bars can be moved here, for a module that moves them.
    pub bay: Option<String>,
}

/// What a stretch of time is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum BarKind {
    /// Somebody works.
    Work,
    /// Cure or rest: nobody is needed.
    Cure,
    /// Air not fit for film.
    Dusty,
    /// Clean air.
    Clean,
    /// Closed, away, held free.
    Away,
}

/// A stretch of time in a row.
#[derive(Clone, Debug, PartialEq)]
pub struct Bar {
    /// Which row, from 0.
    pub row: usize,
    /// Start, from midnight of the first day.
    pub start: Duration,
    /// End, from midnight of the first day.
    pub end: Duration,
    /// What it is.
    pub kind: BarKind,
    /// First words, such as the car.
    pub title: String,
    /// Further words, such as the step.
    pub detail: String,
    /// Whether it ends after its time.
    pub late: bool,
    /// Where a tap leads, in a page.
    pub href: Option<String>,
    /// Which entry of the plan it is, for a module that moves it; in a page only.
    pub entry: Option<String>,
}

/// Days across, rows down.
#[derive(Clone, Debug, PartialEq)]
pub struct Calendar {
    /// Such as `Week of May 12`.
    pub title: String,
    /// Days in order.
    pub days: Vec<Day>,
    /// Rows from top to bottom.
    pub rows: Vec<Row>,
    /// Stretches of time, in any order.
    pub bars: Vec<Bar>,
    /// How the hours from 0 to 24 are written; by their numbers where there are none.
    pub hours: Vec<String>,
    /// Now, from midnight of the first day, with its words, such as `10:42`.
    pub now: Option<(Duration, String)>,
    /// Width in px; hours are stretched to fill it, but none is narrower than 5 px.
    pub width: f64,
}

/// Width of the names, px.
const NAMES: f64 = 112.0;
const HEAD: f64 = 40.0;
const LANE: f64 = 46.0;
const BAR: f64 = 36.0;
const NIGHT: f64 = 18.0;
const CLOSED: f64 = 52.0;
const DAY: f64 = 24.0 * 60.0;

/// Draws the calendar. In a page it keeps its px size, so that a wide one scrolls in its own frame.
pub fn calendar(calendar: &Calendar, medium: Medium<'_>) -> String {
    let axis = Axis::new(&calendar.days, calendar.width - NAMES - 2.0);
    let lanes = Lanes::new(calendar);
    let mut pen = Pen::new(medium, 1.0);
    let right = NAMES + axis.width;
    let bottom = HEAD + lanes.height;
    grid(&mut pen, calendar, &axis, bottom);
    names(&mut pen, calendar, &lanes, right);
    for (i, _) in calendar.rows.iter().enumerate() {
        row(&mut pen, calendar, &axis, &lanes, i, right);
    }
    if let Some((now, words)) = &calendar.now
        && now.as_minutes() >= 0.0
        && now.as_minutes() <= DAY * calendar.days.len() as f64
    {
        let x = NAMES + axis.x(*now);
        pen.line("ln fat bl", x, 24.0, x, bottom);
        let probe =
            Text { x, y: bottom + 14.0, size: 12.0, anchor: Anchor::Middle, class: "tb b", text: words };
        let half = pen.extent(probe).w / 2.0;
        pen.text(Text { x: x.clamp(half, (right - half).max(half)), ..probe });
    }
    if pen.is_page() && calendar.bars.iter().any(|b| b.entry.is_some()) {
        ruler(&mut pen, calendar, &axis, &lanes);
    }
    let words = described(calendar);
    pen.finish([0.0, 0.0, right + 2.0, bottom + 20.0], "calendar fixed", &calendar.title, &words)
}

/// What a module needs to tell a time and a bay from a place: `data-axis` holds minutes since midnight of the
/// first day and px, in turn; every row that takes bars has its top and bottom.
fn ruler(pen: &mut Pen<'_>, calendar: &Calendar, axis: &Axis, lanes: &Lanes) {
    let knots: Vec<String> =
        axis.knots.iter().map(|(t, x)| format!("{} {}", num(*t), num(NAMES + x))).collect();
    pen.raw(&format!("<g data-axis=\"{}\">", knots.join(" ")));
    for (row, (top, height)) in calendar.rows.iter().zip(&lanes.rows) {
        if let Some(bay) = &row.bay {
            pen.raw(&format!(
                "<g data-bay=\"{}\" data-top=\"{}\" data-bottom=\"{}\"/>",
                escaped(bay),
                num(HEAD + top),
                num(HEAD + top + height)
            ));
        }
    }
    pen.raw("</g>");
}

/// From time to place across: hours at full width, nights and closed days squeezed.
struct Axis {
    /// Time in minutes and place in px, both rising.
    knots: Vec<(f64, f64)>,
    width: f64,
}

impl Axis {
    fn new(days: &[Day], width: f64) -> Self {
        let open =
            |d: &Day| d.open.map(|(a, b)| (a.as_minutes().clamp(0.0, DAY), b.as_minutes().clamp(0.0, DAY)));
        let open = |d: &Day| open(d).filter(|(a, b)| a < b);
        let closed = days.iter().filter(|d| open(d).is_none()).count() as f64;
        let working: f64 = days.iter().filter_map(open).map(|(a, b)| b - a).sum();
        let nights = (days.len() as f64 - closed) * 2.0 * NIGHT + closed * CLOSED;
        let minute = ((width - nights) / working.max(1.0)).max(5.0 / 60.0);
        let mut knots = vec![(0.0, 0.0)];
        let mut x = 0.0;
        for (i, day) in days.iter().enumerate() {
            let midnight = DAY * i as f64;
            if let Some((a, b)) = open(day) {
                knots.push((midnight + a, x + NIGHT));
                x += NIGHT + (b - a) * minute;
                knots.push((midnight + b, x));
                x += NIGHT;
            } else {
                x += CLOSED;
            }
            knots.push((midnight + DAY, x));
        }
        Self { knots, width: x }
    }

    /// Place of a time; what lies before or after the days stands at their ends.
    fn x(&self, t: Duration) -> f64 {
        let t = t.as_minutes();
        let after = self.knots.partition_point(|k| k.0 <= t);
        match (after.checked_sub(1).and_then(|i| self.knots.get(i)), self.knots.get(after)) {
            (Some(a), Some(b)) => a.1 + (b.1 - a.1) * (t - a.0) / (b.0 - a.0),
            (None, _) => 0.0,
            (Some(_), None) => self.width,
        }
    }
}

/// Rows split into lanes where bars overlap in time.
struct Lanes {
    /// Lane of each bar.
    of: Vec<usize>,
    /// Top of each row below the head, and its height.
    rows: Vec<(f64, f64)>,
    height: f64,
}

impl Lanes {
    fn new(calendar: &Calendar) -> Self {
        let mut order: Vec<usize> = (0..calendar.bars.len()).collect();
        order.sort_by(|a, b| {
            let (a, b) = (&calendar.bars[*a], &calendar.bars[*b]);
            a.start.total_cmp(&b.start).then(a.end.total_cmp(&b.end))
        });
        let shown = Duration::minutes(DAY * calendar.days.len() as f64);
        order.retain(|i| calendar.bars[*i].start < shown && calendar.bars[*i].end > Duration::ZERO);
        let mut of = vec![0; calendar.bars.len()];
        let mut ends: Vec<Vec<f64>> = vec![Vec::new(); calendar.rows.len()];
        for i in order {
            let bar = &calendar.bars[i];
            let Some(lanes) = ends.get_mut(bar.row) else { continue };
            let start = bar.start.as_minutes() + 0.01;
            let lane = lanes.iter().position(|end| *end <= start).unwrap_or(lanes.len());
            if lane == lanes.len() {
                lanes.push(0.0);
            }
            lanes[lane] = bar.end.as_minutes();
            of[i] = lane;
        }
        let mut height = 0.0;
        let rows = ends
            .iter()
            .map(|lanes| {
                let own = LANE * lanes.len().max(1) as f64;
                height += own;
                (height - own, own)
            })
            .collect();
        Self { of, rows, height }
    }
}

fn grid(pen: &mut Pen<'_>, calendar: &Calendar, axis: &Axis, bottom: f64) {
    let at = |day: usize, minutes: f64| NAMES + axis.x(Duration::minutes(DAY * day as f64 + minutes));
    for (i, day) in calendar.days.iter().enumerate() {
        let (from, to) = (at(i, 0.0), at(i, DAY));
        let open = day.open.map(|(a, b)| (a.as_minutes(), b.as_minutes())).filter(|(a, b)| a < b);
        let first = if let Some((a, b)) = open {
            let (x0, x1) = (at(i, a), at(i, b));
            pen.rect("tint", from, HEAD, x0 - from, bottom - HEAD);
            pen.rect("tint", x1, HEAD, to - x1, bottom - HEAD);
            hours(pen, (a, b), &calendar.hours, |m| at(i, m), bottom);
            x0
        } else {
            pen.rect("tint", from, HEAD, to - from, bottom - HEAD);
            from + 3.0
        };
        pen.line("ln mid hair", to, 6.0, to, bottom);
        let size = if to - from < 60.0 { 11.0 } else { 14.0 };
        pen.text(Text { x: first, y: 16.0, size, anchor: Anchor::Start, class: "b", text: &day.label });
    }
}

/// Hour lines as dense as their numbers allow.
fn hours(pen: &mut Pen<'_>, open: (f64, f64), names: &[String], at: impl Fn(f64) -> f64, bottom: f64) {
    let room = if names.iter().any(|n| n.chars().count() > 2) { 42.0 } else { 30.0 };
    let hour = (at(open.1) - at(open.0)) / ((open.1 - open.0) / 60.0);
    let every = [1.0, 2.0, 4.0, 6.0].into_iter().find(|h| h * hour >= room).unwrap_or(12.0);
    let mut t = (open.0 / 60.0).ceil();
    while t * 60.0 <= open.1 - 0.01 {
        let x = at(t * 60.0);
        pen.line("ln hair soft", x, HEAD, x, bottom);
        if x + room / 2.0 + 1.0 < at(open.1) + NIGHT {
            let name = names.get(t as usize).cloned().unwrap_or_else(|| num(t));
            pen.text(Text { x, y: 33.0, size: 11.5, anchor: Anchor::Start, class: "t2", text: &name });
        }
        t += every;
    }
}

fn names(pen: &mut Pen<'_>, calendar: &Calendar, lanes: &Lanes, right: f64) {
    pen.line("ln mid", 0.0, HEAD, right, HEAD);
    for (i, (row, (top, height))) in calendar.rows.iter().zip(&lanes.rows).enumerate() {
        let y = HEAD + top;
        let class = if row.group && i > 0 { "ln mid" } else { "ln soft hair" };
        if i > 0 {
            pen.line(class, 0.0, y, right, y);
        }
        let name = shortened(&row.name, 14.0, true, NAMES - 8.0);
        let note = shortened(&row.note, 12.0, false, NAMES - 8.0);
        let base = y + if note.is_empty() { height.min(LANE) / 2.0 + 5.0 } else { 20.0 };
        pen.text(Text { x: 0.0, y: base, size: 14.0, anchor: Anchor::Start, class: "b", text: &name });
        pen.text(Text { x: 0.0, y: y + 36.0, size: 12.0, anchor: Anchor::Start, class: "t2", text: &note });
    }
    let bottom = HEAD + lanes.height;
    pen.line("ln mid", 0.0, bottom, right, bottom);
}

/// Cut at a letter with a mark of omission, so that it is no wider than `most`.
fn shortened(text: &str, size: f64, bold: bool, most: f64) -> String {
    let wide = |t: &str| size * crate::font::width_em(t, bold);
    if wide(text) <= most {
        return text.to_owned();
    }
    let mut kept = text.to_owned();
    while kept.pop().is_some() {
        let shown = format!("{}…", kept.trim_end());
        if wide(&shown) <= most {
            return shown;
        }
    }
    String::new()
}

fn row(pen: &mut Pen<'_>, calendar: &Calendar, axis: &Axis, lanes: &Lanes, row: usize, right: f64) {
    let Some((top, _)) = lanes.rows.get(row) else { return };
    let mut own: Vec<(usize, &Bar, Rect)> = calendar
        .bars
        .iter()
        .enumerate()
        .filter(|(_, b)| b.row == row && b.start < b.end)
        .map(|(i, b)| {
            let (x0, x1) = (NAMES + axis.x(b.start), NAMES + axis.x(b.end));
            let y = HEAD + top + LANE * lanes.of[i] as f64 + (LANE - BAR) / 2.0;
            (i, b, Rect { x: x0, y, w: (x1 - x0).max(2.0), h: BAR })
        })
        .filter(|(_, _, r)| r.x < right && r.x + r.w > NAMES)
        .collect();
    own.sort_by(|a, b| a.2.x.total_cmp(&b.2.x));
    for (_, bar, r) in &own {
        frame(pen, bar, *r);
    }
    // A label beside its bar must not reach into the next bar of the lane, nor out of the drawing.
    for (k, (i, bar, r)) in own.iter().enumerate() {
        let lane = lanes.of[*i];
        let next = own[k + 1..]
            .iter()
            .filter(|(j, ..)| lanes.of[*j] == lane)
            .map(|(.., n)| n.x)
            .fold(right, f64::min);
        words(pen, bar, *r, next);
    }
}

fn frame(pen: &mut Pen<'_>, bar: &Bar, r: Rect) {
    let (hatch, class) = match bar.kind {
        BarKind::Work => (None, "ed fill"),
        BarKind::Clean => (None, "ed fill hair"),
        BarKind::Away => (None, "ed fill hair dash"),
        BarKind::Cure => (Some(Hatch::Cure), "ed hair"),
        BarKind::Dusty => (Some(Hatch::Dust), "ed hair"),
    };
    let heavy = if bar.late { " fat" } else { "" };
    let fill = hatch.map_or(String::new(), |h| format!(" fill=\"{}\"", pen.hatch(h)));
    let named = [bar.title.as_str(), bar.detail.as_str()]
        .iter()
        .filter(|t| !t.is_empty())
        .copied()
        .collect::<Vec<_>>()
        .join(", ");
    let late = if bar.late { ", late" } else { "" };
    let href = bar.href.as_deref().filter(|_| pen.is_page());
    let entry = bar.entry.as_deref().filter(|_| pen.is_page());
    // The words of a bar carry the link that keys reach; the same one on the bar is for fingers.
    if let Some(href) = href {
        pen.raw(&format!("<a href=\"{}\" tabindex=\"-1\" aria-hidden=\"true\">", escaped(href)));
    }
    let entry = entry.map_or(String::new(), |e| format!(" data-entry=\"{}\"", escaped(e)));
    pen.raw(&format!(
        "<rect{entry} class=\"{class}{heavy}\"{fill} x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\"><title>{}{late}</title></rect>",
        num(r.x),
        num(r.y),
        num(r.w),
        num(r.h),
        escaped(&named)
    ));
    if href.is_some() {
        pen.raw("</a>");
    }
}

/// One line inside if it fits, else two lines, else two lines beside the bar, else the title alone inside,
/// else nothing: the words stand in the list below the calendar too.
fn words(pen: &mut Pen<'_>, bar: &Bar, r: Rect, next: f64) {
    const SIZE: f64 = 12.5;
    let wide = |t: &str| SIZE * crate::font::width_em(t, false);
    let both =
        if bar.detail.is_empty() { bar.title.clone() } else { format!("{}, {}", bar.title, bar.detail) };
    let two = wide(&bar.title).max(wide(&bar.detail));
    let room = r.w - 12.0;
    let hatched = matches!(bar.kind, BarKind::Cure | BarKind::Dusty);
    let (inside, beside) = (r.x + 6.0, r.x + r.w + 4.0);
    let one = |text: &str, x: f64, dy: f64, class: &str, pen: &mut Pen<'_>| {
        let t = Text { x, y: r.y + dy, size: SIZE, anchor: Anchor::Start, class, text };
        if hatched && x < r.x + r.w { pen.patched(t) } else { pen.text(t) }
    };
    let fits = wide(&both) <= room || two <= room || two + 8.0 <= next - beside || wide(&bar.title) <= room;
    if let Some(href) = bar.href.as_deref().filter(|_| pen.is_page()) {
        let named = if fits { String::new() } else { format!(" aria-label=\"{}\"", escaped(&both)) };
        pen.raw(&format!("<a href=\"{}\"{named}>", escaped(href)));
        if !fits {
            // Without words the link is as large as its bar, so that the focus is seen; fingers reach through it.
            pen.raw(&format!(
                "<rect class=\"ln hair\" pointer-events=\"none\" x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\"/>",
                num(r.x),
                num(r.y),
                num(r.w),
                num(r.h)
            ));
        }
    }
    if wide(&both) <= room {
        one(&both, inside, 22.5, "", pen);
    } else if two <= room {
        one(&bar.title, inside, 15.5, "", pen);
        one(&bar.detail, inside, 30.0, "t2", pen);
    } else if two + 8.0 <= next - beside {
        one(&bar.title, beside, 15.5, "", pen);
        one(&bar.detail, beside, 30.0, "t2", pen);
    } else if wide(&bar.title) <= room {
        one(&bar.title, inside, 22.5, "", pen);
    }
    if bar.href.is_some() && pen.is_page() {
        pen.raw("</a>");
    }
}

fn described(calendar: &Calendar) -> String {
    let late = calendar.bars.iter().filter(|b| b.late).count();
    let late = if late == 0 { "none late".to_owned() } else { format!("{late} late") };
    format!(
        "{} rows over {} days, {} entries, {late}.",
        calendar.rows.len(),
        calendar.days.len(),
        calendar.bars.len()
    )
}
