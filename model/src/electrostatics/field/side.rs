//! Charge along one side of a rectangle: a basis, and its integrals against Gaussians.
//!
//! Each half of a side, from an edge to the middle, carries functions of its own. With tau from 0 at the edge to 1 in the
//! middle, a point lies `s = tau² (2 + tau²)/3` of the half from the edge, and function j has the charge
//! `√(2j+1) P_j(2 tau - 1) d tau`. Near the edge the density then goes like 1/√s times a smooth function, as it does at
//! the edge of any thin plate; the points of tau crowd there, so that edges of thin layers and corners are resolved by
//! few functions; and the middle is as good as uniform. Left and right halves are joined into even and odd functions.
//!
//! Against a Gaussian of exponent p the integrals of one side with itself depend on p (half width)² alone. They are
//! tabulated once per process and interpolated in ln p; those of two different sides are done by quadrature whenever
//! they are needed.
//!
//! * gives: integrals of pairs of functions of unit charge against exp(-p (x - x')²), without unit
//! * needs: p in 1/m², sides in m; at most [`MOST`] functions per half
//! * source: own
//! * accuracy: 1e-9 by quadrature, against many more nodes; the table within 3e-8 of the largest integral of that p
//! * errors: none
//! * example: a Gaussian much wider than the side gives 1 for the pair of even functions that carry all the charge

use super::gauss::{GAUSS_16, GAUSS_32, Node};
use nalgebra::DMatrix;
use smallvec::SmallVec;
use std::sync::OnceLock;

/// Functions per half, and so of each parity.
pub(super) const MOST: usize = 12;

/// How strongly the points of tau crowd at the edge: s = tau² (CROWDING + (1 - CROWDING) tau²). Measured: between 0.5
/// and 0.8 wide plates over thin layers and plates far from everything do about equally well.
const CROWDING: f64 = 2.0 / 3.0;

/// Widths of a Gaussian beyond which it is nothing: exp(-36) = 2e-16.
const REACH: f64 = 6.0;

/// A side of a rectangle.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Side {
    /// Its middle, m.
    pub(super) centre_m: f64,
    /// Half of its length, m.
    pub(super) half_m: f64,
}

impl Side {
    /// From each edge to the middle: left, right.
    fn halves(&self) -> [Half; 2] {
        [
            Half { edge: self.centre_m - self.half_m, towards: self.half_m },
            Half { edge: self.centre_m + self.half_m, towards: -self.half_m },
        ]
    }

    /// Distance to another on the same axis; 0 where they meet.
    pub(super) fn gap_m(&self, other: &Side) -> f64 {
        ((self.centre_m - other.centre_m).abs() - self.half_m - other.half_m).max(0.0)
    }

    /// Integrals of the first `counts[0]` functions of this side with the first `counts[1]` of the other. Functions are
    /// even and odd by turns; the first carries the charge 1, the others none.
    pub(super) fn integrals(&self, other: &Side, per_m2: f64, counts: [usize; 2]) -> DMatrix<f64> {
        let halves = self.halves().map(|a| other.halves().map(|b| a.integrals(&b, per_m2)));
        DMatrix::from_fn(counts[0], counts[1], |i, j| {
            let mut sum = 0.0;
            for (a, row) in halves.iter().enumerate() {
                for (b, block) in row.iter().enumerate() {
                    sum += part(i, a) * part(j, b) * block[i / 2][j / 2];
                }
            }
            sum
        })
    }

    /// Integrals with itself.
    pub(super) fn own_integrals(&self, per_m2: f64, count: usize) -> DMatrix<f64> {
        let [even, odd] = Table::get().both(per_m2 * self.half_m * self.half_m, count.div_ceil(2));
        DMatrix::from_fn(count, count, |i, j| match (i % 2, j % 2) {
            (0, 0) => even[pair(i / 2, j / 2)],
            (1, 1) => odd[pair(i / 2, j / 2)],
            _ => 0.0,
        })
    }

    /// Places for a rule of `rule` on each half, m, and what charge each of `count` functions puts there: `[place][function]`.
    pub(super) fn nodes(&self, rule: &[Node], count: usize) -> (Vec<f64>, DMatrix<f64>) {
        let on_half = |a: usize| rule.iter().map(move |[x, weight]| (a, 0.5 * (1.0 + x), 0.5 * weight));
        let nodes: Vec<(usize, f64, f64)> = on_half(0).chain(on_half(1)).collect();
        let places = nodes.iter().map(|(a, tau, _)| self.halves()[*a].at(*tau)).collect();
        let charges = DMatrix::from_fn(nodes.len(), count, |n, i| {
            let (a, tau, weight) = nodes[n];
            part(i, a) * weight * functions(tau)[i / 2]
        });
        (places, charges)
    }

    /// Densities of the first `count` functions at a place, 1/m. Nothing outside; at the edge, where the density has no
    /// bound, that at 1e-9 of the half from it.
    pub(super) fn densities(&self, x_m: f64, count: usize) -> SmallVec<[f64; 2 * MOST]> {
        let from_centre = (x_m - self.centre_m) / self.half_m;
        if from_centre.abs() > 1.0 {
            return SmallVec::from_elem(0.0, count);
        }
        let (a, tau) = (usize::from(from_centre > 0.0), tau_of((1.0 - from_centre.abs()).max(1e-9)));
        let slope = self.half_m * tau * (2.0 * CROWDING + 4.0 * (1.0 - CROWDING) * tau * tau);
        let values = functions(tau);
        (0..count).map(|i| part(i, a) * values[i / 2] / slope).collect()
    }
}

/// Share of a half's function in an even or odd one.
fn part(function: usize, half: usize) -> f64 {
    if function % 2 == 1 && half == 0 { -0.5 } else { 0.5 }
}

/// Where a pair of functions of one parity stands, so that the first few functions are a prefix.
pub(super) fn pair(i: usize, j: usize) -> usize {
    let (low, high) = if i < j { (i, j) } else { (j, i) };
    high * (high + 1) / 2 + low
}

/// From an edge to the middle of a side.
#[derive(Debug, Clone, Copy)]
struct Half {
    edge: f64,
    /// Signed: from the edge to the middle.
    towards: f64,
}

type Block = [[f64; MOST]; MOST];

impl Half {
    fn at(&self, tau: f64) -> f64 {
        self.edge + self.towards * share_of(tau)
    }

    /// tau of the point of this half that is nearest to x.
    fn tau(&self, x: f64) -> f64 {
        tau_of(((x - self.edge) / self.towards).clamp(0.0, 1.0))
    }

    fn ends(&self) -> [f64; 2] {
        let middle = self.edge + self.towards;
        [self.edge.min(middle), self.edge.max(middle)]
    }

    /// Integrals of this half's functions (rows) with those of another. The inner integral is cut where the Gaussian
    /// ends and at its peak, the outer one where the inner one changes quickly: about the other's edge, in growing
    /// steps, and about its middle.
    fn integrals(&self, other: &Half, per_m2: f64) -> Block {
        let sigma = 1.0 / per_m2.sqrt();
        // Over a wide Gaussian the highest functions swing many times.
        let rule: &[Node] = if sigma > 0.02 * other.towards.abs() { &GAUSS_32 } else { &GAUSS_16 };
        let (reach, ends) = (REACH * sigma, other.ends());
        let mut block = [[0.0; MOST]; MOST];
        for cut in self.cuts(other, sigma).windows(2) {
            let (start, half) = (cut[0], 0.5 * (cut[1] - cut[0]));
            let (from, to) = (self.at(cut[0]), self.at(cut[1]));
            if half <= 0.0 || from.min(to) > ends[1] + reach || from.max(to) < ends[0] - reach {
                continue;
            }
            for [node, weight] in GAUSS_16 {
                let tau = start + half * (1.0 + node);
                let x = self.at(tau);
                let mut inner = [0.0; MOST];
                let bounds = [other.tau(x - reach), other.tau(x), other.tau(x + reach)];
                for side in bounds.windows(2) {
                    let (start, half) = (side[0], 0.5 * (side[1] - side[0]));
                    if half == 0.0 {
                        continue;
                    }
                    for [node, weight] in rule {
                        let tau = start + half * (1.0 + node);
                        let apart = x - other.at(tau);
                        let gaussian = weight * half.abs() * (-per_m2 * apart * apart).exp();
                        for (sum, value) in inner.iter_mut().zip(functions(tau)) {
                            *sum += gaussian * value;
                        }
                    }
                }
                for (row, value) in block.iter_mut().zip(functions(tau)) {
                    for (sum, inner) in row.iter_mut().zip(inner) {
                        *sum += weight * half * value * inner;
                    }
                }
            }
        }
        block
    }

    /// Where to cut the outer integral, in rising tau.
    fn cuts(&self, other: &Half, sigma: f64) -> SmallVec<[f64; 64]> {
        let mut cuts: SmallVec<[f64; 64]> = SmallVec::from_slice(&[0.0, 1.0]);
        let [low, high] = self.ends();
        let mut cut = |x: f64| {
            if x > low && x < high {
                cuts.push(self.tau(x));
            }
        };
        cut(other.edge);
        let mut step = 0.25 * sigma;
        while step < self.towards.abs() + other.towards.abs() {
            cut(other.edge - step);
            cut(other.edge + step);
            step *= 4.0;
        }
        let middle = other.edge + other.towards;
        for step in [0.0, 1.5, 3.0, 6.0] {
            cut(middle - step * sigma);
            cut(middle + step * sigma);
        }
        cuts.sort_by(f64::total_cmp);
        cuts
    }
}

/// Distance from the edge in halves.
fn share_of(tau: f64) -> f64 {
    let square = tau * tau;
    square * (CROWDING + (1.0 - CROWDING) * square)
}

/// The inverse.
fn tau_of(share: f64) -> f64 {
    (2.0 * share / (CROWDING + (CROWDING * CROWDING + 4.0 * (1.0 - CROWDING) * share).sqrt())).sqrt()
}

/// √(2j+1) P_j(2 tau - 1): orthonormal in tau.
fn functions(tau: f64) -> [f64; MOST] {
    const NORM: [f64; MOST] = norms();
    const STEP: [[f64; 2]; MOST] = steps();
    let x = 2.0 * tau - 1.0;
    let (mut before, mut legendre) = (0.0, 1.0);
    std::array::from_fn(|n| {
        let value = legendre * NORM[n];
        (before, legendre) = (legendre, STEP[n][0] * x * legendre - STEP[n][1] * before);
        value
    })
}

/// √(2n + 1), by Newton's method as the compiler has no root.
const fn norms() -> [f64; MOST] {
    let mut norms = [1.0; MOST];
    let mut n = 0;
    while n < MOST {
        let square = (2 * n + 1) as f64;
        let mut step = 0;
        while step < 12 {
            norms[n] = 0.5 * (norms[n] + square / norms[n]);
            step += 1;
        }
        n += 1;
    }
    norms
}

/// Factors of the recurrence P_(n+1) = a x P_n - b P_(n-1).
const fn steps() -> [[f64; 2]; MOST] {
    let mut steps = [[0.0; 2]; MOST];
    let mut n = 0;
    while n < MOST {
        steps[n] = [(2 * n + 1) as f64 / (n + 1) as f64, n as f64 / (n + 1) as f64];
        n += 1;
    }
    steps
}

const PAIRS: usize = MOST * (MOST + 1) / 2;
type Row = [f64; PAIRS];

/// Integrals of a side with itself over p (half width)².
pub(super) struct Table {
    even: Vec<Row>,
    odd: Vec<Row>,
}

impl Table {
    /// Binary octaves of p (half width)²: beyond it a Gaussian is too narrow to be told from others, see
    /// [`Table::NARROWEST`]; before it, it is a parabola to 3e-8.
    const OCTAVES: std::ops::Range<i32> = -14..36;
    /// Rows per octave.
    const DENSITY: i32 = 4;
    /// Rows that are interpolated together. The integrals are analytic in ln p up to an imaginary part of pi/2; with
    /// these settings the error is 1e-10 of the largest.
    const POINTS: usize = 12;
    /// Largest p (half width)² that the table holds.
    pub(super) const NARROWEST: f64 = (1_u64 << Self::OCTAVES.end) as f64;

    /// Under this p (half width)² the integrals are straight lines in p.
    pub(super) const WIDEST: f64 = 1.0 / (1_u64 << -Self::OCTAVES.start) as f64;

    /// The table of this process.
    pub(super) fn get() -> &'static Self {
        static TABLE: OnceLock<Table> = OnceLock::new();
        TABLE.get_or_init(Self::new)
    }

    fn new() -> Self {
        let margin = Self::POINTS as i32 / 2;
        let rows = Self::DENSITY * Self::OCTAVES.start - margin..=Self::DENSITY * Self::OCTAVES.end + margin;
        let (left, right) = (Half { edge: -1.0, towards: 1.0 }, Half { edge: 1.0, towards: -1.0 });
        let (mut even, mut odd) = (Vec::with_capacity(rows.clone().count()), Vec::with_capacity(rows.clone().count()));
        for row in rows {
            let p = (f64::from(row) / f64::from(Self::DENSITY)).exp2();
            let near = left.integrals(&left, p);
            let far = left.integrals(&right, p);
            // The blocks are symmetric but for rounding.
            let joined = |sign: f64| {
                let mut row = [0.0; PAIRS];
                for i in 0..MOST {
                    for j in 0..=i {
                        row[pair(i, j)] = 0.25 * (near[i][j] + near[j][i] + sign * (far[i][j] + far[j][i]));
                    }
                }
                row
            };
            even.push(joined(1.0));
            odd.push(joined(-1.0));
        }
        Self { even, odd }
    }

    /// Integrals of the first `count` even functions, in the order of [`pair`].
    pub(super) fn even(&self, p: f64, count: usize, into: &mut [f64]) {
        self.interpolate(&self.even, p, count, 1.0, into);
    }

    fn both(&self, p: f64, count: usize) -> [Row; 2] {
        let mut rows = [[0.0; PAIRS]; 2];
        self.interpolate(&self.even, p, count, 1.0, &mut rows[0]);
        self.interpolate(&self.odd, p, count, 0.0, &mut rows[1]);
        rows
    }

    /// `widest` is the first integral for a Gaussian without end; all others vanish.
    fn interpolate(&self, rows: &[Row], p: f64, count: usize, widest: f64, into: &mut [f64]) {
        let into = &mut into[..count * (count + 1) / 2];
        let start = f64::from(Self::OCTAVES.start).exp2();
        if p < start {
            // A straight line in p.
            let share = p / start;
            into.iter_mut().zip(&rows[Self::POINTS / 2]).for_each(|(value, first)| *value = share * first);
            into[0] += widest * (1.0 - share);
            return;
        }
        let at = (p.min(Self::NARROWEST).log2() - f64::from(Self::OCTAVES.start)) * f64::from(Self::DENSITY);
        let first = (at.floor() as usize).min(rows.len() - Self::POINTS - 1);
        // The first row lies half of the points before the table's start.
        let at = at - first as f64 + (Self::POINTS / 2 - 1) as f64;
        into.fill(0.0);
        for (n, row) in rows[first + 1..first + 1 + Self::POINTS].iter().enumerate() {
            let others = (0..Self::POINTS).filter(|m| *m != n);
            let weight: f64 = others.map(|m| (at - m as f64) / (n as f64 - m as f64)).product();
            into.iter_mut().zip(row).for_each(|(value, known)| *value += weight * known);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn worst(a: &DMatrix<f64>, b: &DMatrix<f64>) -> f64 {
        (a - b).amax()
    }

    /// The same integrals by many nodes on each half and nothing clever; good for Gaussians that are not too narrow.
    fn plain(a: &Side, b: &Side, per_m2: f64, counts: [usize; 2]) -> DMatrix<f64> {
        let fine = |side: &Side, count| {
            let panels = 24;
            let rule: Vec<Node> = (0..panels)
                .flat_map(|n| GAUSS_32.map(|[x, w]| [(2.0 * f64::from(n) + 1.0 + x) / f64::from(panels) - 1.0, w / f64::from(panels)]))
                .collect();
            side.nodes(&rule, count)
        };
        let ((xa, qa), (xb, qb)) = (fine(a, counts[0]), fine(b, counts[1]));
        let gaussian = DMatrix::from_fn(xa.len(), xb.len(), |i, j| (-per_m2 * (xa[i] - xb[j]).powi(2)).exp());
        qa.transpose() * gaussian * qb
    }

    #[test]
    fn integrals_agree_with_plain_quadrature() {
        let a = Side { centre_m: 0.0, half_m: 0.5 };
        let beside = Side { centre_m: 1.02, half_m: 0.5 };
        let over = Side { centre_m: 0.3, half_m: 0.7 };
        let within = Side { centre_m: 0.1, half_m: 0.2 };
        for per_m2 in [1e-3, 0.3, 4.0, 50.0, 165.0, 700.0, 1e4] {
            for b in [a, beside, over, within] {
                let counts = [10, 9];
                let exact = plain(&a, &b, per_m2, counts);
                let error = worst(&a.integrals(&b, per_m2, counts), &exact);
                assert!(error < 1e-9, "{b:?} {per_m2}: {error}");
                let turned = b.integrals(&a, per_m2, [9, 10]).transpose();
                assert!(worst(&turned, &exact) < 1e-9, "{b:?} {per_m2}");
            }
        }
    }

    #[test]
    fn the_table_agrees_with_quadrature() {
        let side = Side { centre_m: 0.2, half_m: 0.5 };
        for i in 0..40 {
            let per_m2 = 1e-5 * 4.3_f64.powi(i % 17) * (1.0 + 0.07 * f64::from(i));
            let count = 2 * MOST;
            let exact = side.integrals(&side, per_m2, [count, count]);
            let table = side.own_integrals(per_m2, count);
            let error = worst(&table, &exact);
            // Relative to the largest, which falls like 1/√p.
            assert!(error < 3e-8 * exact.amax(), "{per_m2}: {:.1e}", error / exact.amax());
        }
    }

    #[test]
    fn a_narrow_gaussian_sees_the_square_of_the_density() {
        // Function 0 of each half has the density 1/(s' half): the integral of its square diverges at the edge like a
        // logarithm, so that quadrupling p adds ln 4 / (2 c) / 2 per half with c the slope of s in tau² ...
        let table = Table::get();
        let value = |p: f64| {
            let mut row = [0.0; PAIRS];
            table.even(p, 1, &mut row);
            row[0] * (p / std::f64::consts::PI).sqrt()
        };
        let (a, b, c) = (value(1e8), value(4e8), value(16e8));
        // ... the same for every quadrupling, but for terms like p^-1/2.
        assert!(((c - b) / (b - a) - 1.0).abs() < 1e-3, "{a} {b} {c}");
    }

    #[test]
    fn functions_are_orthonormal_and_their_places_return() {
        for i in 0..MOST {
            for j in 0..=i {
                let sum: f64 = GAUSS_32.iter().map(|[x, w]| 0.5 * w * functions(0.5 + 0.5 * x)[i] * functions(0.5 + 0.5 * x)[j]).sum();
                assert!((sum - f64::from(u8::from(i == j))).abs() < 1e-13);
            }
        }
        for tau in [0.0, 1e-4, 0.3, 1.0] {
            assert!((tau_of(share_of(tau)) - tau).abs() < 1e-14);
        }
    }

    #[test]
    fn densities_integrate_to_the_charges() {
        let side = Side { centre_m: -0.3, half_m: 0.5 };
        let count = 7;
        // Substituting u² for the distance from each edge takes the root out.
        let mut sums = vec![0.0; count];
        for sign in [-1.0, 1.0] {
            for [x, w] in GAUSS_32 {
                let u = 0.5 * (1.0 + x);
                let place = side.centre_m + sign * side.half_m * (1.0 - u * u);
                let densities = side.densities(place, count);
                sums.iter_mut().zip(densities).for_each(|(sum, density)| *sum += 0.5 * w * 2.0 * u * side.half_m * density);
            }
        }
        for (i, sum) in sums.iter().enumerate() {
            assert!((sum - if i == 0 { 1.0 } else { 0.0 }).abs() < 1e-6, "{i} {sum}");
        }
        assert!(side.densities(0.2 + 1e-12, 3).iter().all(|d| *d == 0.0));
        assert!(side.densities(0.2, 3).iter().all(|d| d.is_finite()));
    }
}
