//! Pictures that come in pieces: what has arrived waits in the studio's folder until the form that they belong to comes.

use super::fault::Fault;
use super::form::Upload;
use super::shell::{Desk, Shell};
use axum::Router;
use axum::body::{Bytes, to_bytes};
use axum::extract::{Path, Query, Request};
use axum::http::header;
use axum::response::{IntoResponse, Response};
use axum::routing::get;
use serde::Deserialize;
use std::fs;
use std::io::{Seek, SeekFrom, Write};
use std::path::PathBuf;
use std::time::Duration;
use studio::{Refusal, RefusalKind, Studio};

/// Routes of the pieces.
pub fn routes() -> Router<Shell> {
    Router::new().route("/upload/{name}", get(have).post(piece))
}

/// Most bytes of one piece.
const LARGEST_PIECE: usize = 1 << 20;

/// Most bytes that wait at once, of all pictures.
const MOST_WAITING: u64 = 2 << 30;

/// How long pieces wait for their form.
const KEPT: Duration = Duration::from_secs(14 * 24 * 3600);

/// Where a picture waits, if its name is one.
fn place(studio: &Studio, name: &str) -> Result<PathBuf, Refusal> {
    let sound =
        (8..=100).contains(&name.len()) && name.bytes().all(|b| b.is_ascii_alphanumeric() || b == b'-');
    if !sound {
        return Err(Refusal::invalid("This is no name of a picture on its way", "Send it from its page."));
    }
    Ok(studio.folder().join("incoming").join(name))
}

fn length(studio: &Studio, name: &str) -> Result<u64, Refusal> {
    Ok(fs::metadata(place(studio, name)?).map_or(0, |m| m.len()))
}

fn said(have: u64) -> Response {
    ([(header::CONTENT_TYPE, "application/json")], format!("{{\"have\":{have}}}")).into_response()
}

async fn have(desk: Desk, Path(name): Path<String>) -> Result<Response, Fault> {
    Ok(said(desk.ask(move |s| length(s, &name)).await?))
}

#[derive(Deserialize)]
struct Piece {
    from: u64,
    size: u64,
}

/// Takes a piece that goes on where the last one ended; answers how much there is. A piece that was sent twice, or comes
/// late, changes nothing.
async fn piece(
    desk: Desk,
    Path(name): Path<String>,
    Query(piece): Query<Piece>,
    request: Request,
) -> Result<Response, Fault> {
    let too_large = |what: &str| {
        desk.fault(Refusal::invalid(what, "Send a picture of at most 60 MB."))
            .status(axum::http::StatusCode::PAYLOAD_TOO_LARGE)
    };
    if piece.size > studio::picture::LARGEST_BYTES as u64 {
        return Err(too_large("The picture is too large"));
    }
    let bytes = to_bytes(request.into_body(), LARGEST_PIECE)
        .await
        .map_err(|_| too_large("The piece is too large"))?;
    let have = desk.ask(move |s| put(s, &name, &piece, &bytes)).await?;
    Ok(said(have))
}

fn put(studio: &Studio, name: &str, piece: &Piece, bytes: &Bytes) -> Result<u64, Refusal> {
    let path = place(studio, name)?;
    let broken = |e: std::io::Error| Refusal::broken(e, "Is there room on the disk?");
    let have = length(studio, name)?;
    if piece.from != have {
        return Ok(have);
    }
    if have + bytes.len() as u64 > piece.size {
        return Err(Refusal::invalid("There is more of the picture than was said", "Send it again."));
    }
    if have == 0 {
        sweep(studio)?;
    }
    fs::create_dir_all(studio.folder().join("incoming")).map_err(broken)?;
    let mut file =
        fs::OpenOptions::new().create(true).truncate(false).write(true).open(path).map_err(broken)?;
    // Of two that write the same piece at once, both write the same bytes to the same place.
    file.seek(SeekFrom::Start(have)).map_err(broken)?;
    file.write_all(bytes).map_err(broken)?;
    Ok(have + bytes.len() as u64)
}

/// Throws away what has waited too long; refuses more when too much waits.
fn sweep(studio: &Studio) -> Result<(), Refusal> {
    let mut waiting = 0;
    for entry in fs::read_dir(studio.folder().join("incoming")).into_iter().flatten().flatten() {
        let Ok(about) = entry.metadata() else { continue };
        if about.modified().ok().and_then(|m| m.elapsed().ok()).is_some_and(|age| age > KEPT) {
            let _ = fs::remove_file(entry.path());
        } else {
            waiting += about.len();
        }
    }
    if waiting > MOST_WAITING {
        return Err(Refusal::new(
            RefusalKind::TooMany,
            "Too many pictures are on their way",
            "Send fewer at once.",
        ));
    }
    Ok(())
}

/// A picture that came in pieces, as the form names it: its name here, a blank, the name of the file.
pub fn taken(studio: &Studio, said: &str) -> Result<Upload, Refusal> {
    let (name, file) = said.split_once(' ').unwrap_or((said, "picture"));
    let bytes = fs::read(place(studio, name)?)
        .map_err(|_| Refusal::not_found(format!("'{file}' did not arrive"), "Send the picture again."))?;
    Ok(Upload { field: "files".to_owned(), name: file.to_owned(), bytes: bytes.into() })
}

/// The form was done: its pieces are in the record now.
pub fn forget<'a>(studio: &Studio, said: impl Iterator<Item = &'a str>) {
    for name in said.filter_map(|s| s.split(' ').next()) {
        if let Ok(path) = place(studio, name) {
            let _ = fs::remove_file(path);
        }
    }
}
