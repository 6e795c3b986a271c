//! What of the slate goes along with a backup: links that customers hold. Secrets, devices and sessions stay: whoever
//! restores a backup begins as owner anew, on the machine itself.

use super::link::{self, Link};
use super::{broken, open_slate};
use crate::clock::Clock;
use crate::refusal::Refusal;
use crate::studio::Studio;
use jiff::Timestamp;
use journal::{Journal, Report, Slate};
use std::path::Path;

impl Studio {
    /// Copies the studio to another folder while it is in use: record, pictures, and links that customers hold.
    ///
    /// # Errors
    /// When the folder cannot be used or holds something else.
    pub fn back_up(&self, to: &Path) -> Result<Report, Refusal> {
        let report = self.journal.backup(to).map_err(|e| Refusal::broken(e, ""))?;
        copy_links(self.slate()?, to, self.now())?;
        Ok(report)
    }

    /// Brings a backup back into a new folder; with `links`, also what customers hold: says how many of these links work
    /// again. A backup does not know of a link that was withdrawn after it.
    ///
    /// # Errors
    /// When the backup is damaged, or the folder is not empty.
    pub fn bring_back(from: &Path, to: &Path, links: bool) -> Result<(Report, usize), Refusal> {
        let report = Journal::restore(from, to).map_err(|e| Refusal::broken(e, ""))?;
        if !links || !from.join("slate.db").exists() {
            return Ok((report, 0));
        }
        let count = copy_links(&open_slate(from)?, to, Clock::System.now())?;
        Ok((report, count))
    }
}

/// Writes the links of a slate onto that of another folder; those that are no longer here go there too. Says how
/// many there are.
fn copy_links(from: &Slate, to: &Path, now: Timestamp) -> Result<usize, Refusal> {
    let here = from.list(link::KIND, now).map_err(broken)?;
    let there = open_slate(to)?;
    for (name, _) in there.list(link::KIND, now).map_err(broken)? {
        if here.iter().all(|(n, _)| *n != name) {
            there.wipe(link::KIND, &name).map_err(broken)?;
        }
    }
    let count = here.len();
    for (name, text) in here {
        let until = serde_json::from_str::<Link>(&text).ok().map(|l| l.until);
        there.put(link::KIND, &name, &text, until).map_err(broken)?;
    }
    Ok(count)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::command::NewJob;
    use crate::door::Shown;
    use crate::studio::Stamp;
    use job::{Car, Customer, Order};

    #[test]
    fn what_people_wrote_comes_back_and_secrets_do_not() {
        let place = tempfile::tempdir().unwrap();
        let [origin, copy, back, bare] = ["a", "b", "c", "d"].map(|n| place.path().join(n));
        let studio = Studio::open(&origin).unwrap();
        studio.make_owner("Nadia", "heron lamp gravel noon", "2580").unwrap();
        let car = Car { plate: "TST 1".into(), body: "van".into(), ..Car::default() };
        let new = NewJob {
            car,
            customer: Customer::default(),
            order: Order::default(),
            promised: None,
            expected: None,
        };
        let id = studio.book(&Stamp::by("Nadia"), new).unwrap();
        studio.note(&id, &Stamp::by("Nadia"), "call before ten").unwrap();
        let kept = studio.give_link("Nadia", &id, Shown::Report, 14).unwrap();
        let gone = studio.give_link("Nadia", &id, Shown::Offer, 14).unwrap();
        studio.back_up(&copy).unwrap();
        // A link that was taken back meanwhile does not live on in a later backup of the same folder.
        studio.withdraw_link(&id, &gone.name()).unwrap();
        studio.back_up(&copy).unwrap();
        drop(studio);
        assert_eq!(Studio::bring_back(&copy, &back, true).unwrap().1, 1);
        assert_eq!(Studio::bring_back(&copy, &bare, false).unwrap().1, 0);
        assert!(Studio::open(&bare).unwrap().link(&kept).unwrap().is_none());
        let again = Studio::open(&back).unwrap();
        assert_eq!(again.job(&id).unwrap().job.notes[0].text, "call before ten");
        assert_eq!(again.link(&kept).unwrap().unwrap().job, id);
        assert!(again.link(&gone).unwrap().is_none());
        assert!(!again.has_owner().unwrap(), "the owner begins anew");
    }
}
