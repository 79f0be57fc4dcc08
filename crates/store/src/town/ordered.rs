//! Records by ascending key, of which a copy shares what was not changed since: a state of the town costs the next one little.

use std::sync::Arc;

/// Most records of a chunk. A change copies one chunk and the list of them.
const MOST_OF_A_CHUNK: usize = 512;

/// What stands under a key of its own.
pub(crate) trait Keyed {
    fn key(&self) -> &str;
}

/// Records by ascending key.
#[derive(Debug)]
pub(crate) struct Ordered<T> {
    /// None of them empty.
    chunks: Vec<Arc<Vec<Arc<T>>>>,
}

impl<T> Clone for Ordered<T> {
    fn clone(&self) -> Self {
        Self { chunks: self.chunks.clone() }
    }
}

impl<T> Default for Ordered<T> {
    fn default() -> Self {
        Self { chunks: Vec::new() }
    }
}

impl<T: Keyed + PartialEq> PartialEq for Ordered<T> {
    fn eq(&self, other: &Self) -> bool {
        self.iter().eq(other.iter())
    }
}

impl<T: Keyed> Ordered<T> {
    /// The chunk in which a key stands or would stand, and its place there.
    fn find(&self, key: &str) -> (usize, Result<usize, usize>) {
        let begun = |chunk: &Arc<Vec<Arc<T>>>| chunk.first().is_some_and(|first| first.key() <= key);
        let chunk = self.chunks.partition_point(begun).saturating_sub(1);
        let place = self.chunks.get(chunk).map_or(Err(0), |chunk| chunk.binary_search_by(|one| one.key().cmp(key)));
        (chunk, place)
    }

    pub(crate) fn get(&self, key: &str) -> Option<&Arc<T>> {
        let (chunk, place) = self.find(key);
        self.chunks.get(chunk)?.get(place.ok()?)
    }

    /// All by ascending key.
    pub(crate) fn iter(&self) -> impl Iterator<Item = &Arc<T>> {
        self.chunks.iter().flat_map(|chunk| chunk.iter())
    }

    /// Those behind a key, or all.
    pub(crate) fn behind<'a>(&'a self, key: Option<&str>) -> impl Iterator<Item = &'a Arc<T>> + use<'a, T> {
        let (chunk, place) = match key.map(|key| self.find(key)) {
            Some((chunk, Ok(place))) => (chunk, place + 1),
            Some((chunk, Err(place))) => (chunk, place),
            None => (0, 0),
        };
        self.chunks.iter().skip(chunk).flat_map(|chunk| chunk.iter()).skip(place)
    }

    /// Puts a record in the place of the one with its key, if there is one.
    pub(crate) fn insert(&mut self, record: T) {
        let (chunk, place) = self.find(record.key());
        let is_last = chunk + 1 >= self.chunks.len();
        let Some(there) = self.chunks.get_mut(chunk) else {
            self.chunks.push(Arc::new(vec![Arc::new(record)]));
            return;
        };
        let place = match place {
            Ok(place) => {
                Arc::make_mut(there)[place] = Arc::new(record);
                return;
            }
            Err(place) => place,
        };
        if there.len() < MOST_OF_A_CHUNK {
            Arc::make_mut(there).insert(place, Arc::new(record));
        } else if is_last && place == there.len() {
            // What comes in order fills chunk after chunk.
            self.chunks.push(Arc::new(vec![Arc::new(record)]));
        } else {
            let (front, back) = there.split_at(there.len() / 2);
            let (mut front, mut back) = (front.to_vec(), back.to_vec());
            let (half, place) =
                if place <= front.len() { (&mut front, place) } else { (&mut back, place - there.len() / 2) };
            half.insert(place, Arc::new(record));
            self.chunks.splice(chunk..=chunk, [Arc::new(front), Arc::new(back)]);
        }
    }

    pub(crate) fn remove(&mut self, key: &str) {
        let (chunk, Ok(place)) = self.find(key) else { return };
        let Some(there) = self.chunks.get_mut(chunk) else { return };
        Arc::make_mut(there).remove(place);
        if there.is_empty() {
            self.chunks.remove(chunk);
        }
    }
}

impl<T: Keyed + Clone> Ordered<T> {
    /// The record, to be changed; its key stays. A state that was copied before keeps it as it was.
    pub(crate) fn get_mut(&mut self, key: &str) -> Option<&mut T> {
        let (chunk, place) = self.find(key);
        let place = place.ok()?;
        Arc::make_mut(self.chunks.get_mut(chunk)?).get_mut(place).map(Arc::make_mut)
    }
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeMap;

    use proptest::prelude::*;

    use super::*;

    #[derive(Debug, Clone, PartialEq)]
    struct Entry(String, u32);

    impl Keyed for Entry {
        fn key(&self) -> &str {
            &self.0
        }
    }

    #[derive(Debug, Clone)]
    enum Step {
        Insert(u16, u32),
        Change(u16, u32),
        Remove(u16),
    }

    fn steps() -> impl Strategy<Value = Vec<Step>> {
        let key = || prop_oneof![0..3000_u16, 0..20_u16];
        let step = prop_oneof![
            6 => (key(), any::<u32>()).prop_map(|(key, value)| Step::Insert(key, value)),
            1 => (key(), any::<u32>()).prop_map(|(key, value)| Step::Change(key, value)),
            2 => key().prop_map(Step::Remove),
        ];
        prop::collection::vec(step, 0..4000)
    }

    fn listed(ordered: &Ordered<Entry>) -> Vec<(String, u32)> {
        ordered.iter().map(|one| (one.0.clone(), one.1)).collect()
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(64))]

        #[test]
        fn it_holds_what_a_map_of_the_standard_library_holds_and_its_copies_stay_as_they_were(steps in steps(), asked in 0..3000_u16) {
            let text = |key: u16| format!("{key:x}");
            let (mut ordered, mut map) = (Ordered::default(), BTreeMap::new());
            let mut copied = None;
            for (i, step) in steps.iter().enumerate() {
                match *step {
                    Step::Insert(key, value) => {
                        ordered.insert(Entry(text(key), value));
                        map.insert(text(key), value);
                    }
                    Step::Change(key, value) => {
                        if let Some(there) = ordered.get_mut(&text(key)) {
                            there.1 = value;
                        }
                        map.entry(text(key)).and_modify(|there| *there = value);
                    }
                    Step::Remove(key) => {
                        ordered.remove(&text(key));
                        map.remove(&text(key));
                    }
                }
                if i == steps.len() / 2 {
                    copied = Some((ordered.clone(), listed(&ordered)));
                }
            }
            let expected: Vec<_> = map.iter().map(|(key, value)| (key.clone(), *value)).collect();
            prop_assert_eq!(listed(&ordered), expected);
            let key = text(asked);
            prop_assert_eq!(ordered.get(&key).map(|one| one.1), map.get(&key).copied());
            let behind: Vec<_> = ordered.behind(Some(&key)).map(|one| one.0.clone()).collect();
            let expected: Vec<_> = map.keys().filter(|other| **other > key).cloned().collect();
            prop_assert_eq!(behind, expected);
            if let Some((copy, as_it_was)) = copied {
                prop_assert_eq!(listed(&copy), as_it_was);
            }
        }
    }
}
