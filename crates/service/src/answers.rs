//! Answers written out, kept for as long as all stands that they follow from: the same question to the same records on the same day has the same answer, byte
//! for byte.
//!
//! That is so by how an answer is made: out of one state of the town, the day and the question, and of nothing else. A state's number is never given again, so an
//! answer of another state is never taken for one of this.

use std::collections::HashMap;
use std::sync::{Mutex, PoisonError};

use axum::body::Bytes;
use chrono::NaiveDate;

/// Most bytes of answers kept. When they are full all are thrown away: what is asked again comes back at once.
const MOST_BYTES: usize = 16 * 1024 * 1024;

/// What an answer follows from beside its question: the number of the town's state, and the day.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct Ground {
    /// The state's number.
    pub(crate) version: u64,
    /// The day.
    pub(crate) day: NaiveDate,
}

/// The answers kept.
#[derive(Debug, Default)]
pub(crate) struct Answers(Mutex<Kept>);

#[derive(Debug, Default)]
struct Kept {
    ground: Option<Ground>,
    /// By the whole question: the hydrant and the query as it came.
    written: HashMap<String, Bytes>,
    bytes: usize,
}

impl Answers {
    /// The answer given to this question on this ground.
    pub(crate) fn given(&self, ground: Ground, question: &str) -> Option<Bytes> {
        let kept = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        kept.written.get(question).filter(|_| kept.ground == Some(ground)).cloned()
    }

    /// Keeps an answer. Those of earlier ground go; one of earlier ground than those kept comes too late.
    pub(crate) fn keep(&self, ground: Ground, question: String, answer: &Bytes) {
        let mut kept = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        if kept.ground.is_some_and(|newer| newer > ground) {
            return;
        }
        let bytes = question.len() + answer.len();
        if kept.ground != Some(ground) || kept.bytes + bytes > MOST_BYTES {
            *kept = Kept { ground: Some(ground), ..Kept::default() };
        }
        if kept.written.insert(question, answer.clone()).is_none() {
            kept.bytes += bytes;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ground(version: u64, day: &str) -> Ground {
        Ground { version, day: day.parse().unwrap() }
    }

    fn keep(answers: &Answers, ground: Ground, question: &str, answer: &'static str) {
        answers.keep(ground, question.to_owned(), &Bytes::from_static(answer.as_bytes()));
    }

    #[test]
    fn an_answer_is_given_again_on_its_own_ground_only() {
        let answers = Answers::default();
        let monday = ground(7, "2026-11-23");
        keep(&answers, monday, "H-1?a=1", "one");
        assert_eq!(answers.given(monday, "H-1?a=1").as_deref(), Some(&b"one"[..]));
        assert_eq!(answers.given(monday, "H-1?a=2"), None);
        for other in [ground(8, "2026-11-23"), ground(6, "2026-11-23"), ground(7, "2026-11-24")] {
            assert_eq!(answers.given(other, "H-1?a=1"), None, "{other:?}");
        }
    }

    #[test]
    fn a_later_ground_takes_the_place_of_an_earlier_one_and_never_the_other_way_about() {
        let answers = Answers::default();
        let (before, after) = (ground(7, "2026-11-23"), ground(8, "2026-11-23"));
        keep(&answers, before, "H-1", "old");
        keep(&answers, after, "H-2", "new");
        keep(&answers, before, "H-1", "late");
        assert_eq!((answers.given(before, "H-1"), answers.given(after, "H-1")), (None, None));
        assert_eq!(answers.given(after, "H-2").as_deref(), Some(&b"new"[..]));
    }

    #[test]
    fn what_is_kept_has_an_end() {
        let answers = Answers::default();
        let (ground, long) = (ground(1, "2026-11-23"), Bytes::from(vec![b'x'; 1024 * 1024]));
        for n in 0..100 {
            answers.keep(ground, format!("H-{n}"), &long);
            let kept = answers.0.lock().unwrap();
            assert!(kept.bytes <= MOST_BYTES && kept.written.len() <= 16);
        }
        assert!(answers.given(ground, "H-99").is_some());
    }
}
