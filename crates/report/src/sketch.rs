//! From views to drawings: what pages and documents both draw.

use crate::drawing::{
    Bar, BarKind, Calendar, Contour, Day, Hatch, Mark, NestPiece, NestSheet, PanelMap, Remainder, Row,
    Severity, Spot, contours,
};
use crate::words::Words;
use jiff::{Timestamp, civil::Date, tz::TimeZone};
use job::{Finding, Moment, PanelId};
use plane::{Bounds, Outline, Point};
use std::collections::BTreeMap;
use studio::view::{CalendarView, CutDrawing, LaneKind, PanelSurvey, StretchKind};
use units::{Duration, Length, Thickness};

/// A finding on the drawing. One without a spot means its whole panel.
pub fn mark(finding: &Finding) -> Mark {
    Mark {
        number: finding.no.0,
        panel: finding.place.panel.0.clone(),
        u: finding.place.u.unwrap_or(0.5),
        v: finding.place.v.unwrap_or(0.5),
        size: finding.size,
        whole_panel: finding.place.u.is_none() || finding.place.v.is_none(),
        severity: severity(finding.severity),
        words: format!("{}, {}", finding.kind.title(), finding.severity.title()),
        href: None,
    }
}

/// How bad, as it is drawn.
pub const fn severity(severity: job::Severity) -> Severity {
    match severity {
        job::Severity::Light => Severity::Light,
        job::Severity::Marked => Severity::Marked,
        job::Severity::Deep => Severity::Deep,
    }
}

/// Panels all under one hatch.
pub fn hatched<'a>(panels: impl IntoIterator<Item = &'a PanelId>, hatch: Hatch) -> BTreeMap<String, Hatch> {
    panels.into_iter().map(|p| (p.0.clone(), hatch)).collect()
}

/// A roll or an offcut with what lies on it, drawn so that its width stands for `span` at least. Pieces whose corners make no outline are left out: the
/// layout's own check has refused them before.
pub fn nest_sheet(cut: &CutDrawing, span: Length, words: &Words) -> NestSheet {
    let length = |l: Length| {
        let (value, unit) = words.long_length(l);
        format!("{value} {unit}")
    };
    let size = |l: Length, w: Length| {
        let ((l, unit), (w, _)) = (words.small_length(l), words.small_length(w));
        format!("{l} × {w} {unit}")
    };
    let pieces = cut.pieces.iter().filter_map(|p| {
        let corners = p.corners_mm.iter().map(|c| Point::mm(c.0, c.1)).collect();
        let outline = Outline::new(corners).ok()?;
        Some(NestPiece { number: p.number as u32, name: p.title.clone(), outline })
    });
    let rests = cut.rests_mm.iter().map(|[x, y, w, h]| Remainder {
        bounds: Bounds { low: Point::mm(*x, *y), high: Point::mm(x + w, y + h) },
        words: format!("rest {}", size(Length::mm(*w), Length::mm(*h))),
    });
    let rest = cut.there - cut.used;
    let stays = !cut.offcut && rest > Length::mm(1.0);
    let scale = match words.units {
        job::UnitSystem::Metric => (Length::mm(1000.0), "1 m".to_owned()),
        job::UnitSystem::Us => (Length::mm(914.4), "3 ft".to_owned()),
    };
    let kind = if cut.offcut { "Offcut" } else { "Roll" };
    let (width, unit) = words.small_length(cut.width);
    NestSheet {
        title: format!("{kind} {}, {width} {unit} wide", cut.container),
        width: cut.width,
        length: Some(cut.there),
        used: if cut.offcut { cut.there } else { cut.used },
        used_words: if cut.offcut {
            size(cut.there, cut.width)
        } else {
            format!("used {}", length(cut.used))
        },
        rest_words: if stays { format!("stays on the roll: {}", length(rest)) } else { String::new() },
        scale,
        span,
        pieces: pieces.collect(),
        remainders: rests.collect(),
        edge: Outline::new(cut.outline_mm.iter().map(|c| Point::mm(c.0, c.1)).collect()).ok(),
        bad: cut
            .bad_mm
            .iter()
            .map(|[x, y, l, w]| Bounds { low: Point::mm(*x, *y), high: Point::mm(x + l, y + w) })
            .collect(),
    }
}

/// A panel's readings of one moment, over the map of its clear coat where there is one: hatched under the
/// floor and under a little more than it.
pub fn panel_map(panel: &PanelSurvey, moment: Moment, floor: Thickness, words: &Words) -> PanelMap {
    let spots = panel.readings.iter().filter(|r| r.2 == moment).filter_map(|(at, total, _)| {
        let (u, v) = (*at)?;
        Some(Spot { u, v, words: words.thickness(*total), flagged: false })
    });
    let unit = words.thickness_unit();
    let regions = panel.map.as_ref().filter(|_| moment == Moment::Before).map_or_else(Vec::new, |map| {
        let values: Vec<f64> = map.clear_mean.iter().map(|t| t.as_um()).collect();
        let under = |level: Thickness, hatch| Contour {
            rings: contours(&values, map.columns, map.rows, level.as_um()),
            hatch: Some(hatch),
            words: format!("clear coat under {} {unit}", words.thickness(level)),
        };
        let near = floor + Thickness::um(5.0);
        [under(near, Hatch::Light), under(floor, Hatch::Marked)]
            .into_iter()
            .filter(|c| !c.rings.is_empty())
            .collect()
    });
    let scale = match words.units {
        job::UnitSystem::Metric => [(500.0, "500 mm"), (100.0, "100 mm")],
        job::UnitSystem::Us => [(508.0, "20 in"), (101.6, "4 in")],
    };
    let (mm, said) = if panel.width > Length::mm(scale[0].0 * 1.5) { scale[0] } else { scale[1] };
    PanelMap {
        title: format!("{}, total thickness", panel.title),
        panel: panel.id.clone(),
        unit: unit.to_owned(),
        spots: spots.collect(),
        contours: regions,
        scale: (Length::mm(mm), said.to_owned()),
    }
}

/// Some days of a plan, `width` px wide.
pub fn calendar(view: &CalendarView, width: f64, href: impl Fn(&str, u32) -> Option<String>) -> Calendar {
    let at = |t: Timestamp| since(view.from, t, &view.zone);
    let days = view.hours.iter().enumerate().map(|(i, (date, open))| {
        let midnight = Duration::minutes(24.0 * 60.0 * i as f64);
        Day {
            label: date.strftime("%a %-d").to_string(),
            open: open.map(|(a, b)| (at(a) - midnight, at(b) - midnight)),
        }
    });
    let mut rows = Vec::new();
    let mut bars = Vec::new();
    let mut last = None;
    for (index, lane) in view.lanes.iter().enumerate() {
        let person = lane.kind == LaneKind::Person;
        rows.push(Row {
            name: lane.name.clone(),
            note: lane.about.clone(),
            group: last == Some(!person) && index > 0,
        });
        last = Some(person);
        for s in &lane.stretches {
            let kind = match (lane.kind, s.kind) {
                (_, StretchKind::Rest) => BarKind::Cure,
                (_, StretchKind::Changeover) => BarKind::Away,
                (LaneKind::Air, StretchKind::Dusty) => BarKind::Dusty,
                (LaneKind::Air, _) => BarKind::Clean,
                _ => BarKind::Work,
            };
            let (title, detail) = match &s.car {
                Some(car) => (car.name.clone(), s.what.clone()),
                None => (s.what.clone(), String::new()),
            };
            let link = s.car.as_ref().zip(s.step).and_then(|(car, step)| href(car.id.as_str(), step.0));
            bars.push(Bar {
                row: index,
                start: at(s.from),
                end: at(s.to),
                kind,
                title,
                detail,
                late: s.late,
                href: link,
            });
        }
    }
    let now = at(view.now);
    let clock = view.now.to_zoned_datetime(view.zone.clone()).strftime("%-H:%M").to_string();
    Calendar {
        title: format!("Plan from {}", view.from.strftime("%a, %b %-d, %Y")),
        days: days.collect(),
        rows,
        bars,
        now: (now >= Duration::ZERO).then_some((now, clock)),
        width,
    }
}

/// Minutes on the wall clock since midnight of a day. On the day the clock changes an hour is drawn
/// shorter or longer, so that every day is as wide as the others.
fn since(day: Date, at: Timestamp, zone: &TimeZone) -> Duration {
    let local = at.to_zoned_datetime(zone.clone()).datetime();
    let midnight = day.at(0, 0, 0, 0);
    Duration::seconds(local.duration_since(midnight).as_secs_f64())
}
