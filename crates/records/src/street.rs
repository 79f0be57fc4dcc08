//! Streets: along them a supply line is laid, and some of them none crosses.

use crate::hydrant::Location;
use crate::text::{self, TextFault};

/// Longest id of a street, characters: those of a map's files are long, and unique in the world.
pub const MAX_STREET_ID_CHARS: usize = 120;
/// Most places of one street's line.
pub const MAX_STREET_PLACES: usize = 10_000;

/// What keeps hose from crossing a line.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Barrier {
    /// A railway.
    Railway,
    /// A road of limited access.
    LimitedAccess,
    /// A median that hose is not laid over.
    Median,
    /// A wall or a fence.
    Wall,
}

impl Barrier {
    /// Every kind.
    pub const ALL: [Self; 4] = [Self::Railway, Self::LimitedAccess, Self::Median, Self::Wall];

    /// Its name in files and records.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Railway => "railway",
            Self::LimitedAccess => "limited_access",
            Self::Median => "median",
            Self::Wall => "wall",
        }
    }

    /// The kind of this name.
    pub fn of_name(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|kind| kind.name() == name)
    }
}

/// A street, or a line that hose does not cross.
///
/// Streets meet only where they share a vertex at the same level: lines that merely cross do not meet, because one may be a bridge. The first vertex
/// lies at `from_level`, the last at `to_level`; those between lie at the level of both where the two agree, and meet nothing where they do not.
/// Hose is laid against the traffic too: one-ways are not kept.
#[derive(Debug, Clone, PartialEq)]
pub struct Street {
    /// As its file names it: 1 to [`MAX_STREET_ID_CHARS`] characters.
    pub id: String,
    /// What it is called.
    pub name: Option<String>,
    /// Its line, 2 to [`MAX_STREET_PLACES`] places, of which no two neighbours are the same.
    pub line: Vec<Location>,
    /// Level of the first place: 0 the ground, 1 a bridge over it, -1 a tunnel under it.
    pub from_level: i16,
    /// Level of the last place.
    pub to_level: i16,
    /// What keeps hose from crossing it. Along such a line none is laid either.
    pub barrier: Option<Barrier>,
}

/// Checks a street's id.
///
/// # Errors
/// Blank, too long or with a control character.
pub fn check_id(id: &str) -> Result<(), TextFault> {
    text::check(id, MAX_STREET_ID_CHARS)
}

/// The same line without places that repeat the one before; none where less than two are left.
pub fn line(places: impl IntoIterator<Item = Location>) -> Option<Vec<Location>> {
    let mut line: Vec<Location> = places.into_iter().collect();
    line.dedup();
    (line.len() >= 2).then_some(line)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn barriers_are_known_by_their_names() {
        for kind in Barrier::ALL {
            assert_eq!(Barrier::of_name(kind.name()), Some(kind));
        }
        assert_eq!(Barrier::of_name("Railway"), None);
    }

    #[test]
    fn a_line_of_one_place_is_none() {
        let at = |lon| Location::new(lon, 40.0).unwrap();
        assert_eq!(line([at(-30.0), at(-30.0)]), None);
        assert_eq!(line([at(-30.0), at(-30.0), at(-30.1)]), Some(vec![at(-30.0), at(-30.1)]));
    }
}
