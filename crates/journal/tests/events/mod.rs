//! Events to write.

use journal::{NewEvent, Stream};

pub fn stream(name: &str) -> Stream {
    Stream::new(name).unwrap()
}

pub fn event(kind: &str, body: &str) -> NewEvent {
    let at = "2026-03-02T08:30:00Z".parse().unwrap();
    NewEvent { kind: kind.into(), body: body.into(), at, by: "Robin".into() }
}
