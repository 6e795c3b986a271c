//! To come.
use super::shell::Shell;
use axum::Router;

/// Routes.
pub fn routes() -> Router<Shell> {
    Router::new()
}
