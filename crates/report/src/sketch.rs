//! From views to drawings: what pages and documents both draw.

use crate::drawing::{
    Bar, BarKind, Calendar, Contour, Day, FilmPiece, Front, FrontDot, Hatch, Mark, NestPiece, NestSheet,
    PanelMap, Remainder, Row, Severity, Spot, StretchMap, StripLine,
};
use crate::words::Words;
use jiff::{Timestamp, civil::Date, tz::TimeZone};
use job::{Claim, Finding, Moment, PanelId};
use plane::{Bounds, Outline, Point};
use std::collections::BTreeMap;
use studio::view::{
    CalendarView, ClearContour, CorrectedPanel, CutDrawing, FlatView, LaneKind, Nearness, OnCar, PanelSurvey,
    StretchKind,
};
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
        hatch: None,
        words: format!("{}, {}", finding.kind.title(), finding.severity.title()),
        href: None,
    }
}

/// Film on a car as it can be tapped: hatched as film, or by the claims on the piece as a whole. Pieces of one panel that
/// nothing tells apart on the drawing are drawn as one.
pub fn film(on_car: &[OnCar], claims: &[Claim], href: impl Fn(&str) -> Option<String>) -> Vec<FilmPiece> {
    let mut pieces: Vec<FilmPiece> = Vec::new();
    for p in on_car {
        let drawn = p.outline_mm.is_empty();
        if drawn && pieces.iter().any(|q| q.panel == p.laid.panel.0 && q.corners.is_empty()) {
            continue;
        }
        let own = |c: &&Claim| {
            c.panel == p.laid.panel && c.piece.as_ref().is_some_and(|piece| drawn || *piece == p.laid.piece)
        };
        let whole = claims.iter().filter(own).filter(|c| c.spot.is_none());
        // one that waits outweighs those that were answered
        let whole = whole.map(claimed).min();
        let count = claims.iter().filter(own).count();
        let here = on_car.iter().filter(|q| drawn && q.laid.panel == p.laid.panel).count();
        let named = if here > 1 { format!("{here} pieces") } else { format!("piece {}", p.laid.piece) };
        let said = match count {
            0 => String::new(),
            1 => ", 1 claim".to_owned(),
            n => format!(", {n} claims"),
        };
        pieces.push(FilmPiece {
            piece: p.laid.piece.clone(),
            panel: p.laid.panel.0.clone(),
            corners: p.outline_mm.iter().map(|[x, y]| (Length::mm(*x), Length::mm(*y))).collect(),
            hatch: whole.unwrap_or(Hatch::Film),
            words: format!("Film on {}, {named}{said}", p.laid.panel.title().to_lowercase()),
            href: href(&p.laid.piece),
        });
    }
    pieces
}

/// A claim on the drawing, by its number counted from 1.
pub fn claim_mark(number: u32, claim: &Claim) -> Mark {
    let [u, v] = claim.spot.unwrap_or([0.5, 0.5]);
    Mark {
        number,
        panel: claim.panel.0.clone(),
        u,
        v,
        size: None,
        // A piece as a whole is hatched itself; without film the panel is.
        whole_panel: claim.spot.is_none() && claim.piece.is_none(),
        severity: Severity::Deep,
        hatch: Some(claimed(claim)),
        words: match claim.kind {
            Some(kind) => format!("Claim, {}", kind.title().to_lowercase()),
            None => "Claim".to_owned(),
        },
        href: None,
    }
}

/// An open claim is hatched as the worst finding; one that was answered as what nobody is needed for.
const fn claimed(claim: &Claim) -> Hatch {
    if claim.answer.is_some() { Hatch::Cure } else { Hatch::Deep }
}

/// An estimate of clear coat with its range on the floor's scale, in words.
pub fn range_words(
    point: Thickness,
    low: Thickness,
    high: Thickness,
    floor: Thickness,
    words: &Words,
) -> String {
    let [point, low, high, floor] = [point, low, high, floor].map(Thickness::as_um);
    words.told(&format!("{point:.0} µm, 95 % range {low:.0} to {high:.0} µm, floor {floor:.0} µm"))
}

/// Total thickness of a panel before and after correction, as far as it was measured.
pub fn totals(panel: &CorrectedPanel, words: &Words) -> [Option<StripLine>; 2] {
    [("before", panel.before), ("after", panel.after)].map(|(name, total)| {
        let (mean, half) = total?;
        let (told, pm) = words.thickness_within((mean, half));
        Some(StripLine {
            name: name.to_owned(),
            low: mean - half,
            point: mean,
            high: mean + half,
            words: format!("{told} ± {pm} {}", words.thickness_unit()),
        })
    })
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
    let rests = cut.rests.iter().filter_map(|rest| {
        let [x, y, w, h] = rest.rectangle_mm;
        let [_, _, length, width] = rest.around_mm();
        let around = size(Length::mm(length), Length::mm(width));
        Some(Remainder {
            outline: Outline::new(rest.corners_mm.iter().map(|c| Point::mm(c.0, c.1)).collect()).ok()?,
            rectangle: Bounds { low: Point::mm(x, y), high: Point::mm(x + w, y + h) },
            words: if rest.is_odd() { format!("rest within {around}") } else { format!("rest {around}") },
        })
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

/// A panel's readings of one moment, over the contours of its clear coat where there are any: hatched under the floor
/// and under a little more than it. Readings that do not go with the rest stand in a ring; a cross is where the next one
/// tells most.
pub fn panel_map(panel: &PanelSurvey, moment: Moment, words: &Words) -> PanelMap {
    let before = moment == Moment::Before;
    let spots = panel.readings.iter().enumerate().filter(|(_, r)| r.2 == moment).filter_map(|(i, r)| {
        let (u, v) = r.0?;
        Some(Spot { u, v, words: words.thickness(r.1), flagged: before && panel.outliers.contains(&i) })
    });
    let contours = panel.contours.iter().filter(|_| before).map(|c| contour(c, words));
    let more =
        panel.estimate.as_ref().map(|e| &e.more).filter(|m| before && m.readings > 0 && panel.readable);
    PanelMap {
        title: format!("{}, total thickness", panel.title),
        panel: panel.id.clone(),
        unit: words.thickness_unit().to_owned(),
        spots: spots.collect(),
        contours: contours.collect(),
        next: more.and_then(|m| m.next_at),
        scale: scale_bar(panel.width, words),
    }
}

/// A contour of the clear coat as it is drawn.
pub fn contour(contour: &ClearContour, words: &Words) -> Contour {
    let level = words.thickness(contour.under);
    Contour {
        rings: contour.rings.clone(),
        hatch: match contour.nearness {
            Nearness::Under => Some(Hatch::Marked),
            Nearness::Near => Some(Hatch::Light),
            Nearness::Level => None,
        },
        words: format!("clear coat under {level} {}", words.thickness_unit()),
        number: level_number(contour.under, words),
    }
}

/// A level as it stands on its line: with a decimal where it is between whole micrometers.
fn level_number(level: Thickness, words: &Words) -> String {
    match words.units {
        job::UnitSystem::Metric => {
            let text = format!("{:.1}", level.as_um());
            text.strip_suffix(".0").map(str::to_owned).unwrap_or(text)
        }
        job::UnitSystem::Us => format!("{:.2}", level.as_mil()),
    }
}

/// A round length for the scale bar of a panel.
pub fn scale_bar(width: Length, words: &Words) -> (Length, String) {
    let scale = match words.units {
        job::UnitSystem::Metric => [(500.0, "500 mm"), (100.0, "100 mm")],
        job::UnitSystem::Us => [(508.0, "20 in"), (101.6, "4 in")],
    };
    let (mm, said) = if width > Length::mm(scale[0].0 * 1.5) { scale[0] } else { scale[1] };
    (Length::mm(mm), said.to_owned())
}

/// Removal against remaining mark; none when there is nothing to choose between.
pub fn correction_front(title: &str, plan: &CorrectionChoices<'_>, words: &Words) -> Option<Front> {
    if plan.points.len() < 2 {
        return None;
    }
    let value = |t: Thickness| match words.units {
        job::UnitSystem::Metric => t.as_um(),
        job::UnitSystem::Us => t.as_mil(),
    };
    let unit = words.thickness_unit();
    let dots = plan.points.iter().map(|p| FrontDot {
        x: value(p.removal),
        y: value(p.remaining_mark),
        allowed: p.safe,
        advised: plan.advised == Some(p.removal),
        beaten: false,
        words: format!(
            "takes {:.2} {unit}, leaves marks of {:.2} {unit}{}",
            value(p.removal),
            value(p.remaining_mark),
            if p.safe { "" } else { ", not allowed" }
        ),
    });
    Some(Front {
        title: format!("{title}: what is taken against the mark that stays"),
        across: format!("taken, {unit}"),
        up: format!("mark that stays, {unit}"),
        dots: dots.collect(),
        wanted: Some((value(plan.wanted), "wanted".to_owned())),
        most: Some((value(plan.most), "may be taken".to_owned())),
    })
}

/// What [`correction_front`] draws.
pub struct CorrectionChoices<'a> {
    /// The front, least removal first.
    pub points: &'a [studio::view::FrontPoint],
    /// Removal of the advised passes.
    pub advised: Option<Thickness>,
    /// Deepest mark that may stay.
    pub wanted: Thickness,
    /// What may be taken.
    pub most: Thickness,
}

/// The flat piece with its stretch, or the pieces of the way to cut it that was chosen, each in the outline that is cut.
pub fn flat_map(flat: &FlatView, words: &Words) -> StretchMap {
    let pairs = |list: &[[f64; 2]]| list.iter().map(|[x, y]| (*x, *y)).collect::<Vec<_>>();
    let scale = match words.units {
        job::UnitSystem::Metric => (Length::mm(200.0), "200 mm".to_owned()),
        job::UnitSystem::Us => (Length::mm(203.2), "8 in".to_owned()),
    };
    let map = match &flat.laid {
        Some(laid) => StretchMap {
            title: format!("{}, cut, flat pieces with their stretch", flat.title),
            points: pairs(&laid.flat),
            triangles: laid.triangles.clone(),
            stretch: laid.stretch.clone(),
            worst: laid.worst,
            outlines: laid.outlines.iter().map(|o| pairs(o)).collect(),
            ..StretchMap::default()
        },
        None => StretchMap {
            title: format!("{}, flat piece with its stretch", flat.title),
            points: pairs(&flat.flat),
            triangles: flat.triangles.clone(),
            stretch: flat.stretch.clone(),
            worst: flat.worst,
            outlines: flat.outlines.iter().map(|o| pairs(o)).collect(),
            ..StretchMap::default()
        },
    };
    StretchMap { scale: Some(scale), ..map }
}

/// The panel seen from outside with the stretch of its film in one piece, and the cuts that were chosen.
pub fn seen_map(flat: &FlatView) -> StretchMap {
    let cuts = flat.laid.as_ref().map(|l| &l.cuts_seen[..]).unwrap_or_default();
    StretchMap {
        title: format!("{}, seen from outside, with its stretch", flat.title),
        points: flat.seen.iter().map(|[x, y]| (*x, *y)).collect(),
        triangles: flat.triangles.clone(),
        stretch: flat.stretch.clone(),
        worst: flat.worst,
        cuts: cuts.iter().map(|line| line.iter().map(|[x, y]| (*x, *y)).collect()).collect(),
        ..StretchMap::default()
    }
}

/// Length of cuts in sight against worst stretch; none when there is nothing to choose between.
pub fn seam_front(flat: &FlatView, words: &Words) -> Option<Front> {
    let mut plans: Vec<_> = flat.plans.iter().filter(|p| p.possible).collect();
    if plans.len() < 2 {
        return None;
    }
    plans.sort_by(|a, b| a.in_sight.total_cmp(&b.in_sight).then(b.worst.total_cmp(&a.worst)));
    let chosen = |name: &str| flat.chosen.as_ref().is_some_and(|c| c.plan == name);
    let unit = words.small_length(Length::ZERO).1;
    let (value, unit): (fn(Length) -> f64, _) = match words.units {
        job::UnitSystem::Metric => (Length::as_mm, unit),
        job::UnitSystem::Us => (|l| l.as_mm() / 25.4, unit),
    };
    let mut least = f64::INFINITY;
    let dots = plans.iter().map(|p| {
        let beaten = p.worst >= least;
        least = least.min(p.worst);
        let (length, unit) = words.small_length(p.in_sight);
        FrontDot {
            x: value(p.in_sight),
            y: p.worst * 100.0,
            allowed: true,
            advised: chosen(&p.name),
            beaten,
            words: format!("{}, {length} {unit} in sight, worst stretch {:.2} %", p.title, p.worst * 100.0),
        }
    });
    Some(Front {
        title: format!("{}: cuts in sight against worst stretch", flat.title),
        across: format!("cuts in sight, {unit}"),
        up: "worst stretch, %".to_owned(),
        dots: dots.collect(),
        wanted: Some((flat.bound * 100.0, "no uncut piece can do better".to_owned())),
        most: None,
    })
}

/// Some days of a plan, `width` px wide.
pub fn calendar(
    view: &CalendarView,
    width: f64,
    words: &Words,
    href: impl Fn(&str, u32) -> Option<String>,
) -> Calendar {
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
            bay: (lane.kind == LaneKind::Bay && view.kept).then(|| lane.name.clone()),
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
            let movable = view.kept && !s.begun && s.kind != StretchKind::Rest && lane.kind == LaneKind::Bay;
            let entry = s.car.as_ref().zip(s.step).filter(|_| movable);
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
                entry: entry.map(|(car, step)| format!("{} {step}", car.id)),
            });
        }
    }
    let now = at(view.now);
    let clock = words.clock(view.now);
    Calendar {
        title: format!("Plan from {}", words.date(view.from)),
        hours: (0..=24).map(|h| words.times.hour(h)).collect(),
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
