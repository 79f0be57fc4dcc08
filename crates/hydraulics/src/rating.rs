//! Capacity classes of hydrants and their marking.

/// A hydrant's class by rated flow.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CapacityClass {
    /// 1500 gpm and over.
    Aa,
    /// 1000 to 1499 gpm.
    A,
    /// 500 to 999 gpm.
    B,
    /// Under 500 gpm.
    C,
}

impl CapacityClass {
    /// The class of a rated flow.
    ///
    /// # Formula
    /// AA from 1500 gpm, A from 1000, B from 500, C under.
    /// # Units
    /// gpm at the rating pressure.
    /// # Range
    /// Any flow. A flow between whole gallons belongs to the lower class.
    /// # Source
    /// `nfpa-291` ch. 5.
    pub fn of_rated_flow(gpm: f64) -> Self {
        match gpm {
            flow if flow >= 1500.0 => Self::Aa,
            flow if flow >= 1000.0 => Self::A,
            flow if flow >= 500.0 => Self::B,
            _ => Self::C,
        }
    }

    /// Its code.
    pub const fn code(self) -> &'static str {
        match self {
            Self::Aa => "AA",
            Self::A => "A",
            Self::B => "B",
            Self::C => "C",
        }
    }

    /// Colour of tops and caps. Towns differ: a hydrant's own colours may mean something else.
    ///
    /// Source: `nfpa-291` ch. 5.
    pub const fn marking(self) -> &'static str {
        match self {
            Self::Aa => "light blue",
            Self::A => "green",
            Self::B => "orange",
            Self::C => "red",
        }
    }
}
