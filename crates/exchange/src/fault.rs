//! Every fault of a file at once, each with the row a spreadsheet shows it in.

/// Most faults kept; the others are counted.
pub const MOST_KEPT: usize = 100;
/// Longest part of a cell that a fault quotes, characters.
const MOST_QUOTED: usize = 60;

/// One fault.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Fault {
    /// The row: the header is row 1 of a spreadsheet, and the first feature row 1 of a map's file. Row 0 is the file as a whole.
    pub row: u64,
    /// The column, where it is one.
    pub column: Option<String>,
    /// Stable code of what is wrong.
    pub code: &'static str,
    /// What is wrong.
    pub detail: String,
}

/// The faults of a file: the first [`MOST_KEPT`], and how many there are.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Faults {
    kept: Vec<Fault>,
    count: u64,
}

/// What is wrong with one cell, before anybody knows where it stands.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Wrong {
    pub(crate) code: &'static str,
    pub(crate) detail: String,
}

impl Wrong {
    pub(crate) fn new(code: &'static str, detail: impl Into<String>) -> Self {
        Self { code, detail: detail.into() }
    }
}

impl Faults {
    /// Those kept, in the order of the file.
    pub fn kept(&self) -> &[Fault] {
        &self.kept
    }

    /// How many there are.
    pub fn count(&self) -> u64 {
        self.count
    }

    /// Whether there is none.
    pub fn is_empty(&self) -> bool {
        self.count == 0
    }

    /// Notes a fault.
    pub fn note(&mut self, row: u64, column: Option<&str>, code: &'static str, detail: impl Into<String>) {
        self.count += 1;
        if self.kept.len() < MOST_KEPT {
            self.kept.push(Fault { row, column: column.map(str::to_owned), code, detail: detail.into() });
        }
    }

    /// Notes those of others behind its own.
    pub(crate) fn append(&mut self, others: Self) {
        self.count += others.count;
        self.kept.extend(others.kept.into_iter().take(MOST_KEPT.saturating_sub(self.kept.len())));
    }

    /// One fault of the whole file.
    pub(crate) fn of_file(row: u64, code: &'static str, detail: impl Into<String>) -> Self {
        let mut faults = Self::default();
        faults.note(row, None, code, detail);
        faults
    }
}

/// What was written, shortened to what a message can bear.
pub(crate) fn shortened(text: &str) -> String {
    let mut shown: String = text.chars().take(MOST_QUOTED).map(|c| if c.is_control() { ' ' } else { c }).collect();
    if text.chars().nth(MOST_QUOTED).is_some() {
        shown.push_str("...");
    }
    shown
}

/// The same between marks.
pub(crate) fn quoted(text: &str) -> String {
    format!("`{}`", shortened(text))
}
