//! Forms as they come in: their bodies read within limits, with or without files.

use super::{LARGEST_FORM, LARGEST_UPLOAD, Typed, Upload};
use crate::web::fault::Fault;
use crate::web::shell::Shell;
use crate::web::upload;
use axum::body::{Body, to_bytes};
use axum::extract::{FromRequest, Multipart, Request};
use axum::http::{StatusCode, header};
use futures_util::stream::{StreamExt, unfold};
use std::fmt::Display;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use studio::{Refusal, RefusalKind};

impl FromRequest<Shell> for Typed {
    type Rejection = Fault;

    async fn from_request(request: Request, shell: &Shell) -> Result<Self, Fault> {
        let mut typed = read(request, shell).await?;
        // Pictures that came ahead in pieces stand in the form by name.
        let sent: Vec<String> = typed.all("sent").map(str::to_owned).collect();
        if !sent.is_empty() {
            let taken =
                shell.ask(move |s| sent.iter().map(|n| upload::taken(s, n)).collect::<Result<Vec<_>, _>>());
            typed.files.extend(taken.await.map_err(Fault::bare)?);
        }
        Ok(typed)
    }
}

async fn read(request: Request, shell: &Shell) -> Result<Typed, Fault> {
    {
        let kind =
            request.headers().get(header::CONTENT_TYPE).and_then(|v| v.to_str().ok()).unwrap_or_default();
        if kind.starts_with("multipart/form-data") {
            return read_parts(request, shell).await;
        }
        if !kind.is_empty() && !kind.starts_with("application/x-www-form-urlencoded") {
            return Err(Fault::bare(Refusal::invalid(
                format!("A form cannot be read from '{}'", kind.chars().take(60).collect::<String>()),
                "Send the form from its page.",
            ))
            .status(StatusCode::UNSUPPORTED_MEDIA_TYPE));
        }
        let (body, over) = limited(request.into_body(), LARGEST_FORM);
        let bytes = to_bytes(body, usize::MAX).await.map_err(|e| {
            if over.load(Ordering::Relaxed) { too_large(LARGEST_FORM) } else { broken_off(&e) }
        })?;
        let values = form_urlencoded::parse(&bytes).map(|(n, v)| (n.into_owned(), v.into_owned())).collect();
        Ok(Typed { values, ..Typed::default() })
    }
}

async fn read_parts(request: Request, state: &Shell) -> Result<Typed, Fault> {
    let (head, body) = request.into_parts();
    let (body, over) = limited(body, LARGEST_UPLOAD);
    let request = Request::from_parts(head, body);
    let mut parts = Multipart::from_request(request, state).await.map_err(|e| broken_off(&e))?;
    let mut typed = Typed::default();
    loop {
        let failed = |e: axum::extract::multipart::MultipartError| {
            if over.load(Ordering::Relaxed) { too_large(LARGEST_UPLOAD) } else { broken_off(&e.body_text()) }
        };
        let Some(part) = parts.next_field().await.map_err(failed)? else { return Ok(typed) };
        let field = part.name().unwrap_or_default().to_owned();
        let file = part.file_name().map(str::to_owned);
        let bytes = part.bytes().await.map_err(failed)?;
        match file {
            Some(name) if !bytes.is_empty() || !name.is_empty() => {
                typed.files.push(Upload { field, name, bytes })
            }
            Some(_) => {}
            None => typed.values.push((field, String::from_utf8_lossy(&bytes).into_owned())),
        }
    }
}

/// Bytes of a body that is too large that are read and thrown away: a browser that is cut off while it still sends
/// shows its own error instead of our page.
const DRAINED: usize = 1 << 30;

/// A body that ends with an error beyond so many bytes, and whether that happened.
fn limited(body: Body, most: usize) -> (Body, Arc<AtomicBool>) {
    let over = Arc::new(AtomicBool::new(false));
    let flag = over.clone();
    let chunks = unfold((body.into_data_stream(), 0, flag), move |(mut data, so_far, flag)| async move {
        let chunk = match data.next().await? {
            Ok(chunk) => chunk,
            Err(e) => return Some((Err(e), (data, so_far, flag))),
        };
        let mut size = so_far + chunk.len();
        if size <= most {
            return Some((Ok(chunk), (data, size, flag)));
        }
        flag.store(true, Ordering::Relaxed);
        while size < DRAINED
            && let Some(Ok(chunk)) = data.next().await
        {
            size += chunk.len();
        }
        Some((Err(axum::Error::new("too large")), (data, size, flag)))
    });
    (Body::from_stream(chunks), over)
}

fn broken_off(e: &dyn Display) -> Fault {
    Fault::bare(Refusal::invalid(
        format!("What was sent broke off or is damaged: {e}"),
        "Go back and send it again.",
    ))
    .status(StatusCode::BAD_REQUEST)
}

fn too_large(most: usize) -> Fault {
    Fault::bare(Refusal::new(
        RefusalKind::Invalid,
        format!("What was sent is larger than {} MB", most >> 20),
        "Nothing was kept. Send fewer or smaller files at once, then go on.",
    ))
    .status(StatusCode::PAYLOAD_TOO_LARGE)
}
