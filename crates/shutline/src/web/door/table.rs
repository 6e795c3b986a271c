//! Every route and who may call it. The door asks this table for each request: a route that does not stand here is
//! closed to everybody.

use job::Role;

/// Who may call a route.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum May {
    /// Anybody who can reach the program, also without sign-in.
    Anybody,
    /// Everybody who works here and is signed in.
    Staff,
    /// Who works on the cars: owner and technicians.
    Bench,
    /// Who deals with customers and prices: owner and front desk.
    Desk,
    /// The owner.
    Owner,
}

impl May {
    /// Whether somebody in this role may; none is signed in when there is no role.
    pub fn admits(self, role: Option<Role>) -> bool {
        match (self, role) {
            (Self::Anybody, _) => true,
            (_, None) => false,
            (Self::Staff, Some(_)) => true,
            (Self::Bench, Some(r)) => matches!(r, Role::Owner | Role::Technician),
            (Self::Desk, Some(r)) => matches!(r, Role::Owner | Role::FrontDesk),
            (Self::Owner, Some(r)) => r == Role::Owner,
        }
    }

    /// In words, after "is for".
    pub const fn words(self) -> &'static str {
        match self {
            Self::Anybody => "everybody",
            Self::Staff => "people who work here",
            Self::Bench => "those who work on the cars",
            Self::Desk => "the owner and the front desk",
            Self::Owner => "the owner",
        }
    }
}

/// A route: method, path with `{}` for any part, and who may call it.
#[derive(Clone, Copy, Debug)]
pub struct Row {
    pub method: &'static str,
    pub path: &'static str,
    pub may: May,
}

const fn get(path: &'static str, may: May) -> Row {
    Row { method: "GET", path, may }
}

const fn post(path: &'static str, may: May) -> Row {
    Row { method: "POST", path, may }
}

use May::{Anybody, Bench, Desk, Owner, Staff};

/// The table. Of several rows that fit, the first counts. `HEAD` is as `GET`.
pub const ROUTES: &[Row] = &[
    // the door itself, and what a page needs before anybody is signed in
    get("/door", Anybody),
    post("/door/first", Anybody),
    post("/door/admit", Anybody),
    post("/door/in", Anybody),
    post("/door/out", Anybody),
    get("/door/join/{}", Anybody),
    post("/door/join/{}", Anybody),
    get("/assets/{}/{}", Anybody),
    get("/worker.js", Anybody),
    // links of customers: the token is the right
    get("/look/{}", Anybody),
    get("/look/{}/{}", Anybody),
    get("/look/{}/picture/{}", Anybody),
    // the day
    get("/", Staff),
    post("/who", Staff),
    get("/help", Staff),
    post("/theme", Anybody),
    get("/live", Staff),
    post("/day/step", Bench),
    post("/day/air", Bench),
    // cars
    get("/cars", Staff),
    get("/cars/new", Desk),
    post("/cars/new", Desk),
    get("/cars/{}", Staff),
    get("/cars/{}/offer", Desk),
    get("/cars/{}/sides", Desk),
    post("/cars/{}/sides", Desk),
    post("/cars/{}/offer", Desk),
    post("/cars/{}/survey", Bench),
    post("/cars/{}/route", Bench),
    post("/cars/{}/film", Bench),
    post("/cars/{}/links", Desk),
    post("/cars/{}/step/{}", Bench),
    get("/cars/{}/step/{}", Staff),
    get("/cars/{}/finding/{}", Staff),
    post("/cars/{}/finding/{}", Staff),
    get("/cars/{}/picture/{}", Staff),
    post("/cars/{}/picture/{}", Staff),
    get("/cars/{}/past", Staff),
    get("/cars/{}/doc/route.pdf", Staff),
    get("/cars/{}/doc/cut.pdf", Staff),
    get("/cars/{}/doc/{}", Desk),
    get("/cars/{}/cut/{}", Staff),
    get("/cars/{}/shape/{}", Staff),
    post("/cars/{}/film/try", Bench),
    get("/cars/{}/film/search", Staff),
    get("/cars/{}/readings.csv", Staff),
    get("/cars/{}/calendar.ics", Staff),
    get("/cars/{}/{}", Staff),
    post("/cars/{}/{}", Staff),
    get("/picture/{}", Staff),
    get("/voice/{}", Staff),
    get("/upload/{}", Staff),
    post("/upload/{}", Staff),
    // days to come
    get("/calendar", Staff),
    get("/calendar/again", Staff),
    post("/calendar/keep", Staff),
    post("/calendar/pin", Staff),
    get("/calendar/step/{}/{}", Staff),
    get("/calendar/try", Staff),
    post("/calendar/change", Staff),
    post("/calendar/slip", Staff),
    get("/calendar/when", Desk),
    get("/calendar/bay/{}", Staff),
    get("/calendar/person/{}", Staff),
    // the shelf
    get("/stock", Staff),
    post("/stock/count", Staff),
    post("/stock/offcut", Staff),
    post("/stock/discard", Staff),
    post("/stock/lot", Staff),
    post("/stock/dispose", Staff),
    post("/stock/roll", Desk),
    post("/stock/product", Desk),
    // the shop
    get("/shop", Owner),
    post("/shop/general", Owner),
    post("/shop/person", Owner),
    post("/shop/bay", Owner),
    post("/shop/tools", Owner),
    post("/shop/hours", Owner),
    post("/shop/prices", Owner),
    post("/shop/limits", Owner),
    post("/shop/pin", Owner),
    post("/shop/passphrase", Owner),
    post("/shop/invite", Owner),
    post("/shop/dismiss", Owner),
    get("/shop/gauges", Owner),
    post("/shop/gauges", Owner),
    get("/shop/learned", Owner),
    post("/shop/learned", Owner),
    get("/shop/margins", Owner),
    get("/money.csv", Desk),
    get("/money.json", Desk),
    get("/shop/steps", Owner),
    post("/shop/steps", Owner),
    get("/shop/steps.toml", Owner),
    get("/shop/methods", Owner),
    post("/shop/methods", Owner),
    get("/shop/methods.json", Owner),
    // the record
    get("/record", Desk),
    post("/record/verify", Desk),
];

/// Forms of a car's sheets that are for fewer people than the sheet: name of the form and who may send it.
const FORMS: &[(&str, May)] = &[("promise", Desk), ("call_off", Desk), ("book", Desk)];

/// The same by how the form's name begins: one for each claim, one for each reminder.
const FORMS_BEGIN: &[(&str, May)] = &[("answer-", Desk), ("remind-", Desk), ("leave-", Desk)];

/// Who may send a form of a car's sheets; none when the sheet alone decides.
pub fn may_send(form: &str) -> Option<May> {
    let exact = FORMS.iter().find(|(name, _)| *name == form);
    exact.or_else(|| FORMS_BEGIN.iter().find(|(begin, _)| form.starts_with(begin))).map(|(_, may)| *may)
}

/// What the table says of a request.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Said {
    /// These may.
    For(May),
    /// The path is there, but not for this method.
    OtherMethod,
    /// There is no such path.
    Nothing,
}

/// Looks a request up.
pub fn look_up(method: &str, path: &str) -> Said {
    let method = if method == "HEAD" { "GET" } else { method };
    let fits: Vec<&Row> = ROUTES.iter().filter(|r| fits(r.path, path)).collect();
    match fits.iter().find(|r| r.method == method) {
        Some(row) => Said::For(row.may),
        None if fits.is_empty() => Said::Nothing,
        None => Said::OtherMethod,
    }
}

fn fits(pattern: &str, path: &str) -> bool {
    let (mut a, mut b) = (pattern.split('/'), path.split('/'));
    loop {
        match (a.next(), b.next()) {
            (None, None) => return true,
            (Some(p), Some(x)) if p == x || (p == "{}" && !x.is_empty()) => {}
            _ => return false,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_first_row_that_fits_counts() {
        assert_eq!(look_up("GET", "/cars/0001/offer"), Said::For(Desk));
        assert_eq!(look_up("HEAD", "/cars/0001/work"), Said::For(Staff));
        assert_eq!(look_up("GET", "/cars/0001/doc/handover.pdf"), Said::For(Desk));
        assert_eq!(look_up("DELETE", "/cars"), Said::OtherMethod);
        assert_eq!(look_up("GET", "/cars//offer"), Said::Nothing);
        assert_eq!(look_up("GET", "/etc/passwd"), Said::Nothing);
        assert_eq!(look_up("GET", ""), Said::Nothing);
    }
}
