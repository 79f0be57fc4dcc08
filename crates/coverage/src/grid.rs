//! A uniform grid over straight pieces: which of them lie near a point.
//!
//! Its outer cells reach out without end, so that one stray coordinate far out makes no cell that holds a whole town.

use std::ops::Range;

use crate::number::{index, real, signed, whole};

/// Cells in rows from the least `y`, each with the pieces that pass through it.
#[derive(Debug, Clone)]
pub(crate) struct Grid {
    origin: [f64; 2],
    cell_ft: f64,
    per_ft: f64,
    /// Columns and rows.
    size: [i32; 2],
    first: Vec<u32>,
    items: Vec<u32>,
}

/// Cells a side at the most: the rest lies in the outer cells.
const MOST_ACROSS: f64 = 8192.0;

impl Grid {
    /// Over so many pieces, each from one end to the other; a point is a piece of no length.
    pub(crate) fn new(count: usize, piece: impl Fn(usize) -> [[f64; 2]; 2]) -> Self {
        let ([least, most], cell_ft) = measure(count, &piece);
        let size = [0, 1].map(|axis| signed(((most[axis] - least[axis]) / cell_ft).clamp(0.0, MOST_ACROSS - 1.0)) + 1);
        let cells = size.map(i32::cast_unsigned).map(|n| n as usize).iter().product::<usize>();
        let mut grid =
            Self { origin: least, cell_ft, per_ft: 1.0 / cell_ft, size, first: vec![0; cells + 2], items: Vec::new() };
        grid.fill(count, &piece);
        grid
    }

    fn fill(&mut self, count: usize, piece: &impl Fn(usize) -> [[f64; 2]; 2]) {
        let mut first = std::mem::take(&mut self.first);
        for i in 0..count {
            self.passed(&piece(i), |cell| first[cell + 2] += 1);
        }
        for cell in 2..first.len() {
            first[cell] += first[cell - 1];
        }
        let mut items = vec![0; first.last().map_or(0, |n| *n as usize)];
        for i in 0..count {
            self.passed(&piece(i), |cell| {
                items[first[cell + 1] as usize] = index(i);
                first[cell + 1] += 1;
            });
        }
        first.pop();
        (self.first, self.items) = (first, items);
    }

    /// Calls each item by another number. Two that get the same are one from then on, and may come twice.
    pub(crate) fn renumber(&mut self, numbers: &[u32]) {
        self.items.iter_mut().for_each(|item| *item = numbers[*item as usize]);
    }

    /// Every cell that the piece passes through, and now and then one that it only touches.
    #[inline]
    fn passed(&self, [a, b]: &[[f64; 2]; 2], mut visit: impl FnMut(usize)) {
        let (low, high) = if a[1] <= b[1] { (a, b) } else { (b, a) };
        let rows = [self.row(low[1] - TOUCH_FT), self.row(high[1] + TOUCH_FT)];
        let slope = if low[1] == high[1] { 0.0 } else { (high[0] - low[0]) / (high[1] - low[1]) };
        for row in rows[0]..=rows[1] {
            let at = |y: f64| low[0] + slope * (y - low[1]);
            let from = if row == rows[0] { low[0] } else { at(self.edge(1, row)) };
            let to = if row == rows[1] { high[0] } else { at(self.edge(1, row + 1)) };
            let (left, right) = if from <= to { (from, to) } else { (to, from) };
            let columns = [self.column(left - TOUCH_FT), self.column(right + TOUCH_FT)];
            for column in columns[0]..=columns[1] {
                visit(self.cell(column, row));
            }
        }
    }

    fn column(&self, x: f64) -> i32 {
        signed((x - self.origin[0]) * self.per_ft).clamp(0, self.size[0] - 1)
    }

    fn row(&self, y: f64) -> i32 {
        signed((y - self.origin[1]) * self.per_ft).clamp(0, self.size[1] - 1)
    }

    fn cell(&self, column: i32, row: i32) -> usize {
        (row.cast_unsigned() as usize) * (self.size[0].cast_unsigned() as usize) + column.cast_unsigned() as usize
    }

    fn edge(&self, axis: usize, cell: i32) -> f64 {
        self.origin[axis] + f64::from(cell) * self.cell_ft
    }

    /// How far a coordinate lies outside the cells `from..=to` of an axis, ft; the outermost have no end.
    #[inline]
    fn outside(&self, axis: usize, value: f64, from: i32, to: i32) -> f64 {
        let below = if from <= 0 { 0.0 } else { self.edge(axis, from) - value };
        let above = if to + 1 >= self.size[axis] { 0.0 } else { value - self.edge(axis, to + 1) };
        below.max(above).max(0.0)
    }

    /// Calls `look` with the items of each cell, the nearest rings of cells first. It answers how far what is still wanted may lie, ft; cells farther than
    /// that are left out. An item may come more than once.
    #[inline]
    pub(crate) fn around(&self, point: [f64; 2], within_ft: f64, mut look: impl FnMut(&[u32], f64) -> f64) {
        let centre = [self.column(point[0]), self.row(point[1])];
        let mut within = look(self.items_of(self.cell(centre[0], centre[1])), within_ft);
        for ring in 1.. {
            let inner = |axis: usize| {
                let below = if centre[axis] - ring < 0 {
                    f64::INFINITY
                } else {
                    point[axis] - self.edge(axis, centre[axis] - ring + 1)
                };
                let above = if centre[axis] + ring >= self.size[axis] {
                    f64::INFINITY
                } else {
                    self.edge(axis, centre[axis] + ring) - point[axis]
                };
                below.min(above)
            };
            let nearest = inner(0).min(inner(1));
            if nearest > within + TOUCH_FT {
                break;
            }
            within = self.ring(point, centre, ring, within, &mut look);
        }
    }

    #[inline]
    fn ring(
        &self,
        point: [f64; 2],
        [column, row]: [i32; 2],
        ring: i32,
        mut within: f64,
        look: &mut impl FnMut(&[u32], f64) -> f64,
    ) -> f64 {
        let rows = clip(row - ring, row + ring, self.size[1]);
        for y in rows {
            let dy = self.outside(1, point[1], y, y);
            let most = within + TOUCH_FT;
            if dy > most {
                continue;
            }
            let whole_row = y == row - ring || y == row + ring;
            let step = if whole_row { 1 } else { 2 * ring };
            let mut x = column - ring;
            while x <= column + ring {
                if x >= 0 && x < self.size[0] {
                    let dx = self.outside(0, point[0], x, x);
                    if dx * dx + dy * dy <= most * most {
                        within = look(self.items_of(self.cell(x, y)), within);
                    }
                }
                x += step;
            }
        }
        within
    }

    /// Calls `visit` with the items of every cell that a box touches.
    pub(crate) fn touching(&self, least: [f64; 2], most: [f64; 2], mut visit: impl FnMut(u32)) {
        let columns = [self.column(least[0]), self.column(most[0])];
        for row in self.row(least[1])..=self.row(most[1]) {
            // The cells of a row lie after one another, and their items with them.
            let [from, to] = columns.map(|column| self.cell(column, row));
            self.items[self.first[from] as usize..self.first[to + 1] as usize].iter().for_each(|item| visit(*item));
        }
    }

    /// A number for the neighbourhood of a point, and how many there are. Points taken in its order find most of what they look at still at hand.
    pub(crate) fn tile(&self, point: [f64; 2]) -> (usize, usize) {
        const BITS: u32 = 3;
        let across = |axis: usize| (self.size[axis].cast_unsigned() as usize >> BITS) + 1;
        let at = |cell: i32| cell.cast_unsigned() as usize >> BITS;
        (at(self.row(point[1])) * across(0) + at(self.column(point[0])), across(0) * across(1))
    }

    fn items_of(&self, cell: usize) -> &[u32] {
        &self.items[self.first[cell] as usize..self.first[cell + 1] as usize]
    }
}

/// More than the arithmetic may be off.
const TOUCH_FT: f64 = 1e-3;

fn clip(from: i32, to: i32, size: i32) -> Range<i32> {
    from.max(0)..(to + 1).min(size)
}

/// The least and the most coordinates of what lies together, and the side of a cell.
fn measure(count: usize, piece: &impl Fn(usize) -> [[f64; 2]; 2]) -> ([[f64; 2]; 2], f64) {
    let mut all = [[f64::INFINITY, f64::NEG_INFINITY]; 2];
    let mut long = 0.0;
    for [a, b] in (0..count).map(piece) {
        long += (a[0] - b[0]).abs() + (a[1] - b[1]).abs();
        for (axis, [least, most]) in all.iter_mut().enumerate() {
            let middle = f64::midpoint(a[axis], b[axis]);
            (*least, *most) = (least.min(middle), most.max(middle));
        }
    }
    // Where most lie is told by a few thousand as well as by all.
    let some = || (0..count).step_by(count / SAMPLE + 1).map(piece);
    let axes = [0, 1].map(|axis| middle(some().map(|[a, b]| f64::midpoint(a[axis], b[axis])), all[axis]));
    let pieces = real(count).max(1.0);
    let area = axes.iter().map(|(least, most)| most - least).product::<f64>();
    // Of the two, the wider keeps the cells that one piece passes few, and the items of one cell.
    let cell_ft = (CELL_PER_LENGTH * long / pieces).max((area / pieces).sqrt() * CELL_PER_SPACING).max(LEAST_CELL_FT);
    let [(x0, x1), (y0, y1)] = axes;
    ([[x0, y0], [x1, y1]], cell_ft.min((x1 - x0).max(y1 - y0).max(LEAST_CELL_FT) + LEAST_CELL_FT))
}

const CELL_PER_LENGTH: f64 = 0.5;
const CELL_PER_SPACING: f64 = 0.5;
const LEAST_CELL_FT: f64 = 8.0;
const SAMPLE: usize = 4096;

/// Where all but one in a hundred lie on an axis, and a quarter of that span more on both sides, as far as anything lies there.
fn middle(values: impl Iterator<Item = f64>, [least, most]: [f64; 2]) -> (f64, f64) {
    let mut values: Vec<f64> = values.collect();
    if values.len() < 2 {
        return if values.is_empty() { (0.0, 0.0) } else { (least, most) };
    }
    let share = |share: f64| whole(share * real(values.len() - 1)) as usize;
    let (low_at, high_at) = (share(0.01), share(0.99));
    let low = *values.select_nth_unstable_by(low_at, f64::total_cmp).1;
    let high = *values.select_nth_unstable_by(high_at, f64::total_cmp).1;
    let more = (high - low) / 4.0;
    ((low - more).max(least), (high + more).min(most))
}
