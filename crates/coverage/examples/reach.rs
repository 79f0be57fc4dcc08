//! Which hydrants serve which places, for an outside program to check: reads a network line by line, prints a pair a line.
//!
//! In, with feet of a plane throughout, the rule first:
//!
//! ```text
//! rule HOSE SECTION SLACK PLACE_WITHIN HYDRANT_WITHIN
//! line FROM_LEVEL TO_LEVEL BARRIER(0 or 1) X Y X Y ...
//! place X Y
//! hydrant X Y
//! ```
//!
//! Out: the place's number, the hydrant's, and the lay in feet.

use std::error::Error;
use std::io::{self, BufWriter, Write, read_to_string};

use longlay_coverage::records::{Hydrant, Place};
use longlay_coverage::rule::Rule;
use longlay_coverage::run::Served;
use longlay_coverage::streets::{Line, Streets};
use longlay_coverage::threads::Progress;

const THREADS: usize = 2;

fn main() -> Result<(), Box<dyn Error>> {
    let text = read_to_string(io::stdin())?;
    let mut rule = None;
    let mut lines = Vec::new();
    let (mut places, mut hydrants) = (Vec::new(), Vec::new());
    for row in text.lines() {
        let (kind, rest) = row.split_once(' ').ok_or(row)?;
        match kind {
            "rule" => {
                let [hose_ft, section_ft, slack, place_within_ft, hydrant_within_ft] = numbers(rest)?;
                let usual = Rule::with_hose(hose_ft);
                rule = Some(Rule { section_ft, slack, place_within_ft, hydrant_within_ft, ..usual });
            }
            "line" => {
                let [from, to, barrier, points] =
                    rest.splitn(4, ' ').collect::<Vec<_>>().try_into().map_err(|_| row)?;
                lines.push((from.parse()?, to.parse()?, barrier == "1", all(points)?));
            }
            "place" => {
                let [x, y] = numbers(rest)?;
                places.push(Place { x, y, need_gpm: None, ground_ft: None });
            }
            "hydrant" => {
                let [x, y] = numbers(rest)?;
                hydrants.push(Hydrant {
                    x,
                    y,
                    source: None,
                    borrowed: false,
                    in_service: true,
                    main: None,
                    ground_ft: None,
                });
            }
            _ => return Err(row.into()),
        }
    }
    let points: Vec<_> = lines.iter().map(|(.., flat)| flat.as_chunks::<2>().0).collect();
    let line = |((from_level, to_level, barrier, _), points): (&(i16, i16, bool, Vec<f64>), _)| Line {
        points,
        from_level: *from_level,
        to_level: *to_level,
        barrier: *barrier,
    };
    let streets = Streets::new(&lines.iter().zip(points).map(line).collect::<Vec<_>>())?;
    let rule = rule.ok_or("no rule")?;
    let served = Served::new(&streets, &places, &hydrants, rule, THREADS, &Progress::default())?;
    let mut out = BufWriter::new(io::stdout().lock());
    for place in 0..places.len() {
        for lay in served.lays(place) {
            writeln!(out, "{place} {} {}", lay.hydrant, rule.feet(lay.sections))?;
        }
    }
    Ok(out.flush()?)
}

fn all(text: &str) -> Result<Vec<f64>, Box<dyn Error>> {
    Ok(text.split(' ').map(str::parse).collect::<Result<_, _>>()?)
}

fn numbers<const N: usize>(text: &str) -> Result<[f64; N], Box<dyn Error>> {
    all(text)?.try_into().map_err(|_| format!("not {N} numbers: {text}").into())
}
