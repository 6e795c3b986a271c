//! Style, marks and modules of our own, under addresses that hold the digest of their content, so that a browser
//! may keep them for good.

use axum::extract::Path;
use axum::http::{StatusCode, header};
use axum::response::{IntoResponse, Response};
use rust_embed::RustEmbed;
use std::collections::BTreeMap;
use std::sync::LazyLock;

#[derive(RustEmbed)]
#[folder = "assets/"]
struct Files;

struct Asset {
    bytes: Vec<u8>,
    kind: &'static str,
    digest: String,
}

static ASSETS: LazyLock<BTreeMap<String, Asset>> = LazyLock::new(|| {
    Files::iter()
        .filter_map(|name| {
            let mut bytes = Files::get(&name)?.data.into_owned();
            let kind = match name.rsplit('.').next()? {
                "css" => "text/css; charset=utf-8",
                "js" => "text/javascript; charset=utf-8",
                "svg" => "image/svg+xml",
                _ => return None,
            };
            // A module names another without its digest: it gets it here, so that both may be kept for good.
            if name.ends_with(".js") {
                let text = String::from_utf8(bytes).ok()?;
                bytes = with_digests(&text).into_bytes();
            }
            if name == "shutline.css" {
                bytes.extend_from_slice(b"\n/* drawings */\n");
                bytes.extend_from_slice(report::drawing::STYLE.as_bytes());
            }
            let digest = digest(&bytes);
            Some((name.into_owned(), Asset { bytes, kind, digest }))
        })
        .collect()
});

/// A module's text with the addresses of the modules that it names.
fn with_digests(text: &str) -> String {
    let mut out = text.to_owned();
    for name in Files::iter().filter(|n| n.ends_with(".js")) {
        if let Some(file) = Files::get(&name) {
            let url = format!("\"/assets/{}/{name}\"", digest(&file.data));
            out = out.replace(&format!("\"./{name}\""), &url);
        }
    }
    out
}

/// The worker that shows pages without the connection: it stands at the root, for which it works.
pub async fn worker() -> Response {
    let Some(asset) = ASSETS.get("worker.js") else { return StatusCode::NOT_FOUND.into_response() };
    ([(header::CONTENT_TYPE, asset.kind), (header::CACHE_CONTROL, "no-cache")], asset.bytes.as_slice())
        .into_response()
}

/// The first 64 bits of the content's BLAKE3 hash: enough to tell one version of a file from another.
fn digest(bytes: &[u8]) -> String {
    journal::Hash::of(bytes).to_string().chars().take(16).collect()
}

/// The address of an asset as it is in this program.
pub fn url(name: &str) -> String {
    let digest = ASSETS.get(name).map_or("none", |a| a.digest.as_str());
    format!("/assets/{digest}/{name}")
}

/// An asset by digest and name. An old digest gets what there is now, but nobody keeps it.
pub async fn serve(Path((digest, name)): Path<(String, String)>) -> Response {
    let Some(asset) = ASSETS.get(&name) else { return StatusCode::NOT_FOUND.into_response() };
    let keep = if asset.digest == digest { "public, max-age=31536000, immutable" } else { "no-cache" };
    ([(header::CONTENT_TYPE, asset.kind), (header::CACHE_CONTROL, keep)], asset.bytes.as_slice())
        .into_response()
}
