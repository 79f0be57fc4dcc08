//! The nearest street, against looking at every one.

use proptest::collection::vec;
use proptest::prelude::*;

use crate::model::{Model, apart};
use crate::reach_laws::{anywhere, street};
use crate::town::{Street, streets};

proptest! {
    #[test]
    fn the_nearest_street_is_the_nearest_of_all(lines in vec(street(), 1..40), points in vec(anywhere(), 1..30), within in 0.0..400.0_f64) {
        let found = streets(&lines);
        let model = Model::new(&lines);
        for point in points {
            let (own, wanted) = (found.snap(point, within), model.foot(point, within));
            prop_assert_eq!(own.is_some(), wanted.is_some());
            if let (Some(own), Some((_, _, off))) = (own, wanted) {
                prop_assert!((own.set_back_ft - off).abs() < 1e-6, "{} and {off}", own.set_back_ft);
            }
        }
    }

    #[test]
    fn of_segments_as_near_the_lowest_is_taken(blocks in vec((0..6_u8, 0..6_u8, any::<bool>()), 1..60), x in 0..36_u8, y in 0..36_u8) {
        let lines: Vec<_> = blocks.into_iter().map(|(x, y, along)| {
            let from = [f64::from(x) * 150.0, f64::from(y) * 150.0];
            Street::flat(&[from, if along { [from[0] + 150.0, from[1]] } else { [from[0], from[1] + 150.0] }])
        }).collect();
        let found = streets(&lines);
        // Never on a street, so that the distances off these are exact.
        let point = [f64::from(x) * 25.0 + 12.5, f64::from(y) * 25.0 + 12.5];
        let foot = found.snap(point, 2000.0).unwrap();
        let off = |segment: &longlay_coverage::streets::Segment| {
            let off = [0, 1].map(|axis| {
                let (from, to) = (segment.ends[0][axis], segment.ends[1][axis]);
                (from.min(to) - point[axis]).max(point[axis] - from.max(to)).max(0.0)
            });
            (off[0] * off[0] + off[1] * off[1]).sqrt()
        };
        let least = found.segments().iter().map(off).fold(f64::INFINITY, f64::min);
        let first = found.segments().iter().position(|segment| off(segment) == least);
        prop_assert_eq!((first, least), (Some(foot.segment as usize), foot.set_back_ft));
    }

    #[test]
    fn a_stray_point_far_out_changes_no_foot(lines in vec(street(), 1..40), points in vec(anywhere(), 1..30)) {
        let near = streets(&lines);
        let mut more = lines;
        more.push(Street::flat(&[[9e7, 9e7], [9e7 + 100.0, 9e7]]));
        let far = streets(&more);
        for point in points {
            let feet = [&near, &far].map(|streets| streets.snap(point, 300.0).map(|foot| foot.set_back_ft));
            prop_assert_eq!(feet[0].is_some(), feet[1].is_some());
            // The last digits hang on which end a segment is measured from.
            prop_assert!(feet[0].zip(feet[1]).is_none_or(|(a, b)| (a - b).abs() < 1e-9), "{:?}", feet);
        }
    }
}

#[test]
fn no_line_to_a_street_crosses_a_barrier() {
    let near = Street::flat(&[[0.0, 0.0], [1000.0, 0.0]]);
    let far = Street::flat(&[[0.0, 200.0], [1000.0, 200.0]]);
    let wall = Street::barrier(&[[-50.0, 30.0], [1050.0, 30.0]]);
    let open = streets(&[near.clone(), far.clone()]);
    let walled = streets(&[near, far, wall]);
    let set_back =
        |streets: &longlay_coverage::streets::Streets| streets.snap([500.0, 80.0], 500.0).map(|foot| foot.set_back_ft);
    assert_eq!((set_back(&open), set_back(&walled)), (Some(80.0), Some(120.0)));
    assert_eq!(walled.snap([500.0, 80.0], 119.0), None);
    assert!(apart([0.0, 0.0], [3.0, 4.0]) == 5.0);
}

#[test]
fn nothing_beyond_a_wall_that_ends_a_street_is_put_on_it() {
    let street = Street::flat(&[[0.0, 0.0], [500.0, 0.0]]);
    let wall = Street::barrier(&[[500.0, -300.0], [500.0, 0.0], [500.0, 300.0]]);
    let walled = streets(&[street, wall]);
    assert!(walled.snap([530.0, 0.0], 200.0).is_none());
    assert!(walled.snap([470.0, 20.0], 200.0).is_some());
}
