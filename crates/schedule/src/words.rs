//! Whole numbers read one by one from plain text.

use crate::outcome::Fault;
use std::str::SplitWhitespace;

pub(crate) struct Numbers<'a> {
    words: SplitWhitespace<'a>,
    read: usize,
}

impl<'a> Numbers<'a> {
    pub(crate) fn new(text: &'a str) -> Self {
        Self { words: text.split_whitespace(), read: 0 }
    }

    pub(crate) fn within(&mut self, what: &str, least: i32, most: i32) -> Result<i32, Fault> {
        self.read += 1;
        let place = format!("number {} ({what})", self.read);
        let Some(word) = self.words.next() else {
            return Err(Fault::new(place, "the file ends too early", "complete it"));
        };
        match word.parse::<i32>() {
            Ok(n) if (least..=most).contains(&n) => Ok(n),
            _ => {
                let word: String = word.chars().take(24).collect();
                Err(Fault::new(
                    place,
                    format!("`{word}`"),
                    format!("give a whole number from {least} to {most}"),
                ))
            }
        }
    }

    pub(crate) fn count(&mut self, what: &str, most: i32) -> Result<usize, Fault> {
        self.within(what, 0, most).map(|n| n as usize)
    }

    pub(crate) fn end(&mut self) -> Result<(), Fault> {
        match self.words.next() {
            None => Ok(()),
            Some(_) => Err(Fault::new(
                format!("number {}", self.read + 1),
                "more numbers than the first line announces",
                "correct the counts",
            )),
        }
    }
}
