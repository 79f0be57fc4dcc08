//! The one numeric routine: a bracketed Newton search on a function that falls.
//!
//! It is here and not from a crate because it has to be `no_std`, give the same bits everywhere, and treat a jump downwards (an appliance that
//! steps) as an answer: the largest argument just before the jump.

/// The largest `x` in `lo..=hi` at which `f` is not negative, for an `f` that never rises; `lo` where it is negative from the
/// start. `f` gives its value and its slope; a slope of nothing or a jump only costs speed, never the answer.
pub(crate) fn largest_holding(lo: f64, hi: f64, f: impl Fn(f64) -> (f64, f64)) -> f64 {
    // Newton from above on a falling concave function (a supply curve less losses) stays above the root and halves nothing; the
    // bracket is for all that is not so well-behaved. Two hundred steps halve any bracket to neighbouring floats.
    const MOST_STEPS: usize = 200;
    const CLOSE: f64 = 4.0 * f64::EPSILON;
    let (mut low, mut high, mut x) = (lo, hi, hi);
    let mut last_width = hi - lo;
    for step in 0..MOST_STEPS {
        let (value, slope) = f(x);
        if value >= 0.0 {
            low = x;
            if x >= hi || value == 0.0 && slope < 0.0 {
                return x;
            }
        } else {
            high = x;
        }
        let newton = x - value / slope;
        // Every third step the bracket must have shrunk to half, or it is halved.
        let stalled = step % 3 == 2 && {
            let stalled = high - low > last_width / 2.0;
            last_width = high - low;
            stalled
        };
        let inside = slope < 0.0 && newton > low && newton < high;
        if inside && (newton - x).abs() <= CLOSE * x {
            return newton;
        }
        let next = if inside && !stalled { newton } else { low + (high - low) / 2.0 };
        if next <= low || next >= high {
            return low;
        }
        x = next;
    }
    low
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_smooth_root_is_found_to_the_last_digits() {
        let root = largest_holding(0.0, 10.0, |x| (2.0 - x * x, -2.0 * x));
        assert!((root - core::f64::consts::SQRT_2).abs() < 1e-14, "{root}");
    }

    #[test]
    fn at_a_jump_the_answer_lies_just_before_it() {
        let root = largest_holding(0.0, 1000.0, |x| (if x >= 350.0 { -5.0 } else { 5.0 } - x * 1e-6, -1e-6));
        assert_eq!(root, 350.0_f64.next_down());
    }

    #[test]
    fn what_never_fails_gives_the_end_and_what_always_fails_the_start() {
        assert_eq!(largest_holding(0.0, 7.0, |_| (1.0, 0.0)), 7.0);
        assert_eq!(largest_holding(0.0, 7.0, |_| (-1.0, 0.0)), 0.0);
    }
}
