//! A car's page.

use super::shell::Shell;
use axum::Router;

/// Routes under `/cars/{id}`.
pub fn routes() -> Router<Shell> {
    Router::new()
}
