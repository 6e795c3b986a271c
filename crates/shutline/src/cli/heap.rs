//! One heap for all threads of the server.

/// With a heap for each of its many threads, as glibc makes them (`mallopt(3)`, `M_ARENA_MAX`), the server's memory never
/// stops growing while hundreds of devices listen; with one it stays flat, and pages are no slower (`docs/bench-live.md`,
/// `docs/bench-bay.md`). The library reads that from its environment when a program starts, so the program takes its own
/// place once more with the same arguments. Where that cannot be done it goes on as it is.
#[cfg(all(target_os = "linux", target_env = "gnu"))]
pub fn one_for_all() {
    use std::os::unix::process::CommandExt;
    const HEAPS: &str = "MALLOC_ARENA_MAX";
    if std::env::var_os(HEAPS).is_some() {
        return;
    }
    let Ok(program) = std::env::current_exe() else { return };
    let mut again = std::process::Command::new(program);
    let mut arguments = std::env::args_os();
    if let Some(name) = arguments.next() {
        again.arg0(name);
    }
    // comes back only when it failed
    let failed = again.args(arguments).env(HEAPS, "1").exec();
    tracing::debug!("the server keeps a heap for each thread: {failed}");
}

/// Other systems' libraries have no such heaps, or no such setting.
#[cfg(not(all(target_os = "linux", target_env = "gnu")))]
pub fn one_for_all() {}
