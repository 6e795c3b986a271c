//! Tells the demo and prints what came of it.
use std::path::Path;
fn main() {
    let folder = std::env::args().nth(1).unwrap();
    let now: jiff::Timestamp = "2026-11-25T10:42:00-06:00".parse().unwrap();
    if let Err(e) = studio::demo::make(Path::new(&folder), now, "America/Chicago") {
        println!("FAILED: {e}");
    }
    let s = studio::Studio::open_at(Path::new(&folder), studio::Clock::at(now)).unwrap();
    for e in s.jobs().unwrap() {
        println!(
            "== {} {} {:?} work {} findings {}",
            e.id,
            e.job.car.name,
            e.job.stage(),
            e.job.work.len(),
            e.job.findings.len()
        );
        if let Some(r) = &e.job.route {
            for st in &r.steps {
                println!(
                    "   {:3} {:<22} {:>6.0} min  {:?} {:?} panels {}",
                    st.no.0,
                    st.step,
                    st.work.as_minutes(),
                    st.room,
                    e.job.step_state(st.no),
                    st.panels.len()
                );
            }
        }
        for o in &e.job.offers {
            for p in &o.options {
                println!(
                    "   offer {} {} gross {} h {:.1}/{:.1} film {:.1} back {:?} adv {}",
                    o.no,
                    p.id,
                    p.quote.gross.amount(),
                    p.quote.hours_p50.as_hours(),
                    p.quote.hours_p80.as_hours(),
                    p.quote.film.as_m2(),
                    p.back_by,
                    p.advised
                );
            }
            for n in &o.not_attempted {
                println!("   NOT {n}");
            }
        }
        for c in &e.job.changes {
            println!(
                "   change {} more {} h {:.1} {:?}",
                c.reason,
                c.more.amount(),
                c.more_hours.as_hours(),
                c.state
            );
        }
    }
    let c = s.calendar_view(None, 7, true).unwrap();
    println!("{:?} {:?} {:?}", c.problem, c.quality, c.promises);
}
