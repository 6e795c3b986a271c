//! Cookies: which device this is, and who is signed in at it.

use axum::http::{HeaderMap, HeaderValue, header};
use axum::response::Response;
use studio::door::Token;

/// Which device this is.
pub const DEVICE: &str = "device";

/// Who is signed in at it.
pub const SESSION: &str = "session";

/// A year: a device is let in again when it is over.
const YEAR: u32 = 366 * 24 * 3600;

/// The value of a cookie.
pub fn cookie_of(headers: &HeaderMap, name: &str) -> Option<String> {
    headers
        .get_all(header::COOKIE)
        .iter()
        .filter_map(|v| v.to_str().ok())
        .flat_map(|v| v.split(';'))
        .filter_map(|pair| pair.trim().split_once('='))
        .find(|(n, _)| *n == name)
        .map(|(_, v)| v.to_owned())
}

/// A value as it was before it was put into a cookie.
pub fn decoded(value: &str) -> String {
    form_urlencoded::parse(format!("v={value}").as_bytes())
        .next()
        .map_or_else(String::new, |(_, v)| v.into_owned())
}

/// Gives a device its token.
pub fn give_device(response: &mut Response, token: &Token, secure: bool) {
    set(response, DEVICE, token.as_str(), Some(YEAR), secure);
}

/// Gives a browser its session; it ends with the browser, or earlier.
pub fn give_session(response: &mut Response, token: &Token, secure: bool) {
    set(response, SESSION, token.as_str(), None, secure);
}

/// Takes the session away.
pub fn take_session(response: &mut Response, secure: bool) {
    set(response, SESSION, "", Some(0), secure);
}

fn set(response: &mut Response, name: &str, value: &str, seconds: Option<u32>, secure: bool) {
    let age = seconds.map_or(String::new(), |s| format!("; Max-Age={s}"));
    let only = if secure { "; Secure" } else { "" };
    // Strict: a page of another site cannot act here with it. HttpOnly: no script reads it.
    let cookie = format!("{name}={value}; Path=/; SameSite=Strict; HttpOnly{age}{only}");
    if let Ok(cookie) = HeaderValue::from_str(&cookie) {
        response.headers_mut().append(header::SET_COOKIE, cookie);
    }
}
