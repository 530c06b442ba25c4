//! Which questions are still wanted, and prints that are kept from one question to the next.

use motefall::Progress;
use motefall_run::Series;
use std::collections::VecDeque;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::Duration;

/// Pages that are told apart at a time, and settings whose prints are kept.
const MOST_PAGES: usize = 16;
const MOST_SERIES: usize = 24;

/// The lock, whatever became of who held it last: what it guards is whole at any time.
pub(super) fn locked<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

/// What a page asked last.
struct Asked {
    page: String,
    setting: String,
    newest: u64,
}

/// The newest setting of each page.
#[derive(Default)]
pub(super) struct Pages(Mutex<VecDeque<Asked>>);

impl Pages {
    /// A question of a page, by its number, about a setting; `None` if a newer question was about another one.
    pub(super) fn ask<'a>(&'a self, page: &str, number: u64, setting: &str) -> Option<Wanted<'a>> {
        let mut pages = locked(&self.0);
        let (page, setting) = (page.to_owned(), setting.to_owned());
        let wanted = Wanted { pages: self, page: page.clone(), setting: setting.clone() };
        match pages.iter_mut().find(|asked| asked.page == page) {
            Some(asked) if asked.setting == setting => asked.newest = asked.newest.max(number),
            Some(asked) if number > asked.newest => (asked.setting, asked.newest) = (setting, number),
            Some(_) => return None,
            None => {
                pages.truncate(MOST_PAGES - 1);
                pages.push_front(Asked { page, setting, newest: number });
            }
        }
        Some(wanted)
    }
}

/// A question that is under way. As [`Progress`], it is cancelled when the page asks about another setting.
pub(super) struct Wanted<'a> {
    pages: &'a Pages,
    page: String,
    setting: String,
}

impl Progress for Wanted<'_> {
    fn begin(&self, _: &str, _: Option<u64>) {}
    fn advance(&self, _: u64) {}
    fn cancelled(&self) -> bool {
        locked(&self.pages.0).iter().any(|asked| asked.page == self.page && asked.setting != self.setting)
    }
}

/// Prints of a setting, and how long one takes.
pub(super) struct Paced {
    pub(super) series: Series,
    /// Made so far, and the time of the last of them, each.
    pub(super) made: u32,
    pub(super) each: Option<Duration>,
}

/// Prints of the settings that were looked at last.
#[derive(Default)]
pub(super) struct Printed(Mutex<VecDeque<(String, Arc<Mutex<Paced>>)>>);

impl Printed {
    /// Those of a setting, from a new series if there are none.
    pub(super) fn of(&self, setting: &str, new: impl FnOnce() -> Series) -> Arc<Mutex<Paced>> {
        let mut all = locked(&self.0);
        if let Some((_, paced)) = all.iter().find(|(other, _)| other == setting) {
            return Arc::clone(paced);
        }
        all.truncate(MOST_SERIES - 1);
        let new = Arc::new(Mutex::new(Paced { series: new(), made: 0, each: None }));
        all.push_front((setting.to_owned(), Arc::clone(&new)));
        new
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_newer_setting_stops_the_older_one_of_its_page_alone() {
        let pages = Pages::default();
        let first = pages.ask("a", 1, "{}").expect("new");
        let other = pages.ask("b", 1, "{}").expect("new");
        assert!(!first.cancelled());
        // The same setting, asked again, goes on.
        assert!(pages.ask("a", 2, "{}").is_some());
        assert!(!first.cancelled());
        let second = pages.ask("a", 3, "{x}").expect("newer");
        assert!(first.cancelled() && !second.cancelled() && !other.cancelled());
        assert!(pages.ask("a", 2, "{}").is_none(), "overtaken");
        // Back again.
        assert!(pages.ask("a", 4, "{}").is_some());
        assert!(second.cancelled() && !first.cancelled());
    }
}
