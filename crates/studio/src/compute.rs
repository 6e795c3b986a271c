//! Results kept under the digest of their inputs: nothing is computed twice, stale results are seen to be stale.

use serde::Serialize;
use std::any::Any;
use std::collections::BTreeMap;
use std::sync::{Arc, Mutex, PoisonError};

/// Results that are kept at most; the oldest go first.
const KEPT: usize = 512;

/// Digest of a computation's name and inputs.
pub type Digest = [u8; 32];

#[derive(Default)]
struct Shelf {
    results: BTreeMap<Digest, (u64, Arc<dyn Any + Send + Sync>)>,
    clock: u64,
}

/// Results by the digest of their inputs.
#[derive(Default)]
pub struct Results(Mutex<Shelf>);

impl Results {
    /// The kept result for these inputs, or what `work` gives. Two callers may compute the same thing at once; both
    /// get equal results, since engines are pure.
    pub fn get<T, I>(&self, name: &str, inputs: &I, work: impl FnOnce() -> T) -> Arc<T>
    where
        T: Send + Sync + 'static,
        I: Serialize,
    {
        let Ok(text) = serde_json::to_vec(&(name, inputs)) else { return Arc::new(work()) };
        let digest = digest(&text);
        if let Some(found) = self.look_up(&digest) {
            return found;
        }
        let result = Arc::new(work());
        let mut shelf = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        shelf.clock += 1;
        let now = shelf.clock;
        shelf.results.insert(digest, (now, result.clone()));
        if shelf.results.len() > KEPT
            && let Some(oldest) = shelf.results.iter().min_by_key(|(_, (used, _))| *used).map(|(d, _)| *d)
        {
            shelf.results.remove(&oldest);
        }
        result
    }

    /// The kept result for these inputs, if it is there.
    pub fn peek<T, I>(&self, name: &str, inputs: &I) -> Option<Arc<T>>
    where
        T: Send + Sync + 'static,
        I: Serialize,
    {
        self.look_up(&digest(&serde_json::to_vec(&(name, inputs)).ok()?))
    }

    fn look_up<T: Send + Sync + 'static>(&self, digest: &Digest) -> Option<Arc<T>> {
        let mut shelf = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        shelf.clock += 1;
        let now = shelf.clock;
        let (used, kept) = shelf.results.get_mut(digest)?;
        *used = now;
        kept.clone().downcast().ok()
    }
}

fn digest(text: &[u8]) -> Digest {
    *blake3::hash(text).as_bytes()
}
