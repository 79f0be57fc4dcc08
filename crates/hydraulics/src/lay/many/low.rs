//! The low end of a band, gathered input by input.

/// A figure less the root of the squared sum of what each input by itself takes of it.
#[derive(Debug, Clone, Copy)]
pub(super) struct Low {
    figure: f64,
    squares: f64,
}

impl Low {
    /// Every figure may be under what is exact by 4e-7 of itself, and of eight inputs the root of the sum of squares by no more than three times
    /// that and what the figure itself lacks.
    const SLACK: f64 = 3e-6;

    pub(super) const fn of(figure: f64) -> Self {
        Self { figure, squares: 0.0 }
    }

    /// What the figure is with one more input at its worse end.
    pub(super) fn add(&mut self, then: f64) {
        let less = (self.figure - then).max(0.0);
        self.squares += less * less;
    }

    /// The same where nothing brings more than `most`. What comes to it with every input at its worse end is no hair less: needs and ratings are round
    /// numbers, and often the same.
    pub(super) fn gpm_up_to(self, most: f64) -> f64 {
        if self.figure == most && self.squares == 0.0 { most } else { self.gpm() }
    }

    /// The low end; never over the exact one, never under nothing.
    pub(super) fn gpm(self) -> f64 {
        (self.figure * (1.0 - Self::SLACK) - libm::sqrt(self.squares)).max(0.0)
    }
}
