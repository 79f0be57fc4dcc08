//! The one numeric routine: a bracketed Newton search on a function that falls.
//!
//! It is here and not from a crate because it has to be `no_std`, give the same bits everywhere, and treat a jump downwards (an appliance that
//! steps) as an answer: the largest argument just before the jump.

/// The largest `x` in `lo..=hi` at which `f` is not negative, for an `f` that never rises; `lo` where it is negative from the
/// start. `f` gives its value and its slope; a slope of nothing or a jump only costs speed, never the answer.
pub(crate) fn largest_holding(lo: f64, hi: f64, f: impl Fn(f64) -> (f64, f64)) -> f64 {
    const CLOSE: f64 = 4.0 * f64::EPSILON;
    largest_holding_to(CLOSE, lo, hi, f)
}

/// The same to within about a share `close` of it, on either side.
pub(crate) fn largest_holding_to(close: f64, lo: f64, hi: f64, f: impl Fn(f64) -> (f64, f64)) -> f64 {
    // Newton from above on a falling concave function (a supply curve less losses) stays above the root and needs no halving; the
    // bracket is for all that is not so well-behaved. Two hundred halvings leave nothing of any bracket that matters.
    const MOST_STEPS: usize = 200;
    let (mut low, mut high, mut x) = (lo, hi, hi);
    let (mut step_before, mut last_step) = (hi - lo, hi - lo);
    for _ in 0..MOST_STEPS {
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
        let step = (newton - x).abs();
        if slope < 0.0 && step <= close * x {
            return newton.min(high.next_down()).max(low);
        }
        let inside = slope < 0.0 && newton > low && newton < high;
        // Newton's steps must halve every other time, or the bracket is halved instead: at a jump they do not.
        let quick = inside && step <= step_before / 2.0;
        let next = if quick { newton } else { low + (high - low) / 2.0 };
        if next <= low || next >= high {
            return low;
        }
        (step_before, last_step) = (last_step, (next - x).abs());
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
    fn a_supply_curve_less_a_hose_takes_few_looks() {
        // 60 psi, 20 down at 600 gpm, floor 20, and a hose of k psi per gpm². The last digits may not send the search back to halving.
        for thousandth in 1..=4000 {
            let (looks, k) = (core::cell::Cell::new(0), f64::from(thousandth) * 1e-7);
            let drop = |x: f64| 20.0 * libm::pow(x / 600.0, 1.0 / 0.54);
            let root = largest_holding(0.0, libm::sqrt(40.0 / k).min(600.0 * libm::pow(2.0, 0.54)), |x| {
                looks.set(looks.get() + 1);
                (40.0 - drop(x) - k * x * x, -drop(x) / 0.54 / x - 2.0 * k * x)
            });
            assert!((40.0 - drop(root) - k * root * root).abs() < 1e-12, "{root} at k = {k}");
            assert!(looks.get() <= 9, "{} looks at k = {k}", looks.get());
        }
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
