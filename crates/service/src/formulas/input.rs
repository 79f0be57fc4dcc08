//! What a formula is asked with. One declaration of an input drives its reading, its bounds and its place in the catalogue.

use longlay_hydraulics::quantity::{Bound, OutOfBounds};
use serde_json::Value;

/// An input as it is told to callers.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Input {
    /// Its name, which ends with its unit.
    pub(crate) name: &'static str,
    /// Its unit; nothing where there is none.
    pub(crate) unit: &'static str,
    /// What it is.
    pub(crate) kind: Kind,
    /// Whether it must be given.
    pub(crate) required: bool,
    /// What it means.
    pub(crate) about: &'static str,
}

/// What an input is.
#[derive(Debug, Clone, Copy)]
pub(crate) enum Kind {
    /// A number inside bounds.
    Number(Bound),
    /// A whole number.
    Whole(u8, u8),
    /// One of these words.
    Text(&'static [&'static str]),
    /// True or false.
    Flag,
    /// A list of objects with these members.
    List(&'static [Input]),
}

impl Input {
    /// The same, that may be left out.
    pub(crate) const fn optional(self) -> Self {
        Self { required: false, ..self }
    }

    const fn new(name: &'static str, unit: &'static str, kind: Kind, about: &'static str) -> Self {
        Self { name, unit, kind, required: true, about }
    }
}

/// What is wrong with a value: a stable code and words.
pub(crate) type Fault = (&'static str, String);

/// An input of one value.
pub(crate) trait Single {
    /// What it is read as.
    type Value;
    /// Its declaration.
    fn input(&self) -> Input;
    /// Reads what stands there.
    fn read(&self, value: &Value) -> Result<Self::Value, Fault>;
}

/// A number, read as a quantity.
pub(crate) struct Number<T> {
    /// Its declaration.
    pub(crate) input: Input,
    make: fn(f64) -> Result<T, OutOfBounds>,
}

impl<T> Number<T> {
    /// By its name, bounds and constructor.
    pub(crate) const fn new(
        name: &'static str,
        bound: Bound,
        make: fn(f64) -> Result<T, OutOfBounds>,
        about: &'static str,
    ) -> Self {
        Self { input: Input::new(name, bound.unit, Kind::Number(bound), about), make }
    }
}

impl<T> Single for Number<T> {
    type Value = T;

    fn input(&self) -> Input {
        self.input
    }

    fn read(&self, value: &Value) -> Result<T, Fault> {
        let number = value.as_f64().ok_or_else(|| wrong_type("a number", value))?;
        (self.make)(number).map_err(|error| ("out_of_bounds", error.to_string()))
    }
}

/// A whole number.
pub(crate) struct Whole {
    /// Its declaration.
    pub(crate) input: Input,
    least: u8,
    most: u8,
}

impl Whole {
    /// By its name and ends.
    pub(crate) const fn new(name: &'static str, least: u8, most: u8, about: &'static str) -> Self {
        Self { input: Input::new(name, "1", Kind::Whole(least, most), about), least, most }
    }
}

impl Single for Whole {
    type Value = u8;

    fn input(&self) -> Input {
        self.input
    }

    fn read(&self, value: &Value) -> Result<u8, Fault> {
        let number = value.as_f64().ok_or_else(|| wrong_type("a whole number", value))?;
        let found = (self.least..=self.most).find(|whole| f64::from(*whole) == number);
        let ends = || format!("must be a whole number from {} to {}, not {number}", self.least, self.most);
        found.ok_or_else(|| ("out_of_bounds", ends()))
    }
}

/// One of a few words, each with what it means. See [`choice`].
pub(crate) struct Choice<T: 'static> {
    /// Its declaration.
    pub(crate) input: Input,
    /// The words.
    pub(crate) words: &'static [&'static str],
    /// What they mean, in their order.
    pub(crate) meanings: &'static [T],
}

impl<T: Copy> Single for Choice<T> {
    type Value = T;

    fn input(&self) -> Input {
        self.input
    }

    fn read(&self, value: &Value) -> Result<T, Fault> {
        let text = value.as_str().ok_or_else(|| wrong_type("text", value))?;
        let found = self.words.iter().zip(self.meanings).find(|(word, _)| **word == text);
        let unknown = || ("unknown_choice", format!("must be one of {}, not {text}", self.words.join(", ")));
        found.map(|(_, meaning)| *meaning).ok_or_else(unknown)
    }
}

/// A [`Choice`]: name, what it means, and each word with its meaning.
macro_rules! choice {
    ($name:literal, $about:literal, $($word:literal => $meaning:expr),* $(,)?) => {
        $crate::formulas::input::Choice {
            input: $crate::formulas::input::Input {
                name: $name,
                unit: "",
                kind: $crate::formulas::input::Kind::Text(&[$($word),*]),
                required: true,
                about: $about,
            },
            words: &[$($word),*],
            meanings: &[$($meaning),*],
        }
    };
}
pub(crate) use choice;

/// True or false.
pub(crate) struct Flag {
    /// Its declaration.
    pub(crate) input: Input,
}

impl Flag {
    /// By its name.
    pub(crate) const fn new(name: &'static str, about: &'static str) -> Self {
        Self { input: Input::new(name, "", Kind::Flag, about) }
    }
}

impl Single for Flag {
    type Value = bool;

    fn input(&self) -> Input {
        self.input
    }

    fn read(&self, value: &Value) -> Result<bool, Fault> {
        value.as_bool().ok_or_else(|| wrong_type("true or false", value))
    }
}

/// A list of objects.
pub(crate) struct List {
    /// Its declaration.
    pub(crate) input: Input,
    /// The members of each.
    pub(crate) items: &'static [Input],
}

impl List {
    /// By its name and its items' members.
    pub(crate) const fn new(name: &'static str, items: &'static [Input], about: &'static str) -> Self {
        Self { input: Input::new(name, "", Kind::List(items), about), items }
    }
}

/// A value of another kind than was asked.
pub(crate) fn wrong_type(expected: &str, value: &Value) -> Fault {
    let found = match value {
        Value::Null => "null".to_owned(),
        Value::Array(_) => "a list".to_owned(),
        Value::Object(_) => "an object".to_owned(),
        scalar => scalar.to_string(),
    };
    ("wrong_type", format!("must be {expected}, not {found}"))
}
