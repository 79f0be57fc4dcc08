//! What a formula answered.

use longlay_hydraulics::finding::Finding;
use longlay_hydraulics::needed_flow::{MethodCaution, Step};

/// An answer as it is told to callers beforehand.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Output {
    /// Its name.
    pub(crate) name: &'static str,
    /// Its unit; nothing for text and for true or false.
    pub(crate) unit: &'static str,
}

/// A number, a text, or true or false.
#[derive(Debug, Clone, Copy)]
pub(crate) enum Answer {
    /// A number.
    Number(f64),
    /// A text.
    Text(&'static str),
    /// True or false.
    Flag(bool),
}

/// One named answer, or one step of the working.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Named {
    /// Its name.
    pub(crate) name: &'static str,
    /// Its unit.
    pub(crate) unit: &'static str,
    /// What it came to.
    pub(crate) answer: Answer,
    /// Which item of a list it is of, counted from 0.
    pub(crate) index: Option<usize>,
}

/// All that a formula answered.
#[derive(Debug, Default)]
pub(crate) struct Found {
    /// The answers.
    pub(crate) values: Vec<Named>,
    /// How they came about.
    pub(crate) working: Vec<Named>,
    /// What is weak about what went in.
    pub(crate) findings: Vec<Finding>,
    /// What goes with a method's answer.
    pub(crate) cautions: Vec<MethodCaution>,
}

impl Found {
    /// With an answer.
    pub(crate) fn number(self, output: Output, value: f64) -> Self {
        self.answer(output, Answer::Number(value))
    }

    /// With an answer where there is one; what is not known is left out.
    pub(crate) fn number_if_known(self, output: Output, value: Option<f64>) -> Self {
        match value {
            Some(value) => self.number(output, value),
            None => self,
        }
    }

    /// With a text.
    pub(crate) fn text(self, output: Output, text: &'static str) -> Self {
        self.answer(output, Answer::Text(text))
    }

    /// With a true or false.
    pub(crate) fn flag(self, output: Output, flag: bool) -> Self {
        self.answer(output, Answer::Flag(flag))
    }

    /// With a step of the working.
    pub(crate) fn step(mut self, name: &'static str, value: f64, unit: &'static str) -> Self {
        self.working.push(Named { name, unit, answer: Answer::Number(value), index: None });
        self
    }

    /// With a step for each item of a list.
    pub(crate) fn steps(
        mut self,
        name: &'static str,
        unit: &'static str,
        values: impl IntoIterator<Item = f64>,
    ) -> Self {
        let each = |(index, value)| Named { name, unit, answer: Answer::Number(value), index: Some(index) };
        self.working.extend(values.into_iter().enumerate().map(each));
        self
    }

    /// With the working of a method.
    pub(crate) fn worked(mut self, steps: &[Step]) -> Self {
        for step in steps {
            self = self.step(step.name, step.value, step.unit);
        }
        self
    }

    /// With findings.
    pub(crate) fn findings(mut self, findings: Vec<Finding>) -> Self {
        self.findings.extend(findings);
        self
    }

    /// With a method's cautions.
    pub(crate) fn cautions(mut self, cautions: &[MethodCaution]) -> Self {
        self.cautions.extend(cautions);
        self
    }

    fn answer(mut self, output: Output, answer: Answer) -> Self {
        self.values.push(Named { name: output.name, unit: output.unit, answer, index: None });
        self
    }
}

/// An output with a unit, or without one.
pub(crate) const fn output(name: &'static str, unit: &'static str) -> Output {
    Output { name, unit }
}
