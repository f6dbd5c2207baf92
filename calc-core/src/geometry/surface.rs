//! A machined face from measured points: the plane that fits best, its twist, and how flat the face is.

use validator::Validate;

use crate::error::Error;
use crate::limit;
use crate::method::Method;
use crate::minimax::{four_equations, minimax_plane};
use crate::units::Length;

#[cfg(test)]
mod tests;

/// How [`fit`] works.
pub const FIT: Method = Method {
    id: "least-squares-plane",
    title: "Least-squares plane and twist of a measured face",
    equation: "z = c + a (x - xm) + b (y - ym), sum of (z - zi)^2 smallest; x along, y across, z height, xm and ym their means. \
         rms = sqrt(sum of squares / number of points). Twist = d Lx Ly with d from z = c + a x + b y + d x y fitted the same \
         way: how far one corner of the measured field (Lx by Ly) stands off the plane of the other three.",
    valid_for: "At least three points that are not in one line; for the twist, four that a saddle can be laid through. Deviations \
         are taken along the height, which for a face within a degree of level is the same.",
    sources: &[
        "ISO 12781-1:2011, Geometrical product specifications, flatness: least squares reference plane",
        "First principles (normal equations of a linear fit)",
    ],
};

/// How [`minimum_zone`] works.
pub const FLATNESS: Method = Method {
    id: "minimum-zone-flatness",
    title: "Flatness as the closest pair of parallel planes",
    equation: "t = smallest distance, along their normal, of two parallel planes that hold all points between them. Linear \
         programme: smallest e with |z - a x - b y - c| <= e at every point, t = 2 e / sqrt(1 + a^2 + b^2); solved again in a \
         frame turned to the plane found, until the plane no longer turns. Three points then hold one plane and one the other, \
         or two and two.",
    valid_for: "At least four points that are not in one line; three always give zero. Where two planes \
         at a small angle tie along the height, t may be that of either: they differ by half the square of the angle, nanometres \
         on a deck. Only the measured points count: what lies between them is not known.",
    sources: &[
        "ISO 1101:2017, Geometrical product specifications: flatness tolerance (two parallel planes a distance t apart)",
        "ISO 12781-1:2011, flatness: minimum zone reference planes; local deviations normal to the reference plane",
        "M. E. Houle, G. T. Toussaint, Computing the width of a set, IEEE Trans. Pattern Anal. Mach. Intell. 10 (1988) (from \
         memory): the contacts are corner and face, or edge and edge",
    ],
};

/// Fewer points than this describe no face.
pub const FEWEST_POINTS: usize = 3;

/// A face narrower than this share of its length, seen from above, counts as one line.
const ONE_LINE: f64 = 1e-3;
/// A face that leans by more than this is none that was set up to be measured: its flatness is not looked for.
const STEEP: f64 = 0.2;

/// One measured point of a face.
#[derive(Debug, Clone, Copy, PartialEq, Validate)]
pub struct SurfacePoint {
    /// Along the crank.
    #[validate(custom(function = "limit::position"))]
    pub along: Length,
    /// Across the face.
    #[validate(custom(function = "limit::position"))]
    pub across: Length,
    /// Above the crank axis.
    #[validate(custom(function = "limit::deck_height"))]
    pub height: Length,
}

/// The least-squares plane of a face.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Fit {
    /// Mean of the positions along.
    pub middle_along: Length,
    /// Mean of the positions across.
    pub middle_across: Length,
    /// Height of the plane there.
    pub middle_height: Length,
    /// Rise per length along.
    pub slope_along: f64,
    /// Rise per length across.
    pub slope_across: f64,
    /// Root of the mean square deviation.
    pub rms: Length,
    /// One corner of the measured field off the plane of the other three; none when the points do not show it.
    pub twist: Option<Length>,
}

impl Fit {
    /// Height of the plane at a place.
    #[must_use]
    pub fn height_at(&self, along: Length, across: Length) -> Length {
        let rise_along = self.slope_along * (along.metres() - self.middle_along.metres());
        let rise_across = self.slope_across * (across.metres() - self.middle_across.metres());
        Length::from_metres(self.middle_height.metres() + rise_along + rise_across)
    }
}

/// Positions and heights in metres, counted from their means, and those means.
struct Centred {
    points: Vec<[f64; 3]>,
    middle: [f64; 3],
}

fn centred(points: &[SurfacePoint]) -> Centred {
    let count = points.len() as f64;
    let place = |point: &SurfacePoint| [point.along.metres(), point.across.metres(), point.height.metres()];
    let sum = points.iter().map(place).fold([0.0; 3], |sum, point| std::array::from_fn(|axis| sum[axis] + point[axis]));
    let middle = sum.map(|total| total / count);
    let from_middle = |point| {
        let place = place(point);
        std::array::from_fn(|axis| place[axis] - middle[axis])
    };
    Centred { points: points.iter().map(from_middle).collect(), middle }
}

/// Spread of the points, seen from above, across their best line over that along it: 1 for a square field, 0 for a line.
///
/// **Equation** sqrt of the ratio of the two principal second moments
///
/// **Shape** A list of points.
///
/// **Units** None: a ratio.
///
/// **Valid for** Any list; 0 when all points are on one place.
///
/// **Errors** None.
///
/// **Source** First principles (principal axes of the second moments).
#[must_use]
pub fn spread_ratio(points: &[SurfacePoint]) -> f64 {
    let points = centred(points).points;
    let moment = |one: usize, other: usize| points.iter().map(|point| point[one] * point[other]).sum::<f64>();
    let (xx, yy, xy) = (moment(0, 0), moment(1, 1), moment(0, 1));
    let (mean, swing) = ((xx + yy) / 2.0, ((xx - yy) / 2.0).hypot(xy));
    // The product of both moments by the determinant: the difference of mean and swing would lose digits.
    let (largest, product) = (mean + swing, (xx * yy - xy * xy).max(0.0));
    if largest > 0.0 { product.sqrt() / largest } else { 0.0 }
}

/// Whether the points, seen from above, are in one line or too few for a plane.
pub(crate) fn in_one_line(points: &[SurfacePoint]) -> bool {
    points.len() < FEWEST_POINTS || spread_ratio(points) <= ONE_LINE
}

/// The least-squares plane of a face, with its twist; none when the points are in one line.
///
/// **Equation** z = c + a (x - xm) + b (y - ym) with the smallest sum of squares; twist d Lx Ly of z = c + a x + b y + d x y
///
/// **Shape** A list of points.
///
/// **Units** Lengths; slopes are ratios.
///
/// **Valid for** At least three points that are not in one line.
///
/// **Errors** None.
///
/// **Source** ISO 12781-1:2011 (least squares reference plane); normal equations of a linear fit.
#[must_use]
pub fn fit(points: &[SurfacePoint]) -> Option<Fit> {
    if in_one_line(points) {
        return None;
    }
    let Centred { points, middle } = centred(points);
    let sum = |term: fn(&[f64; 3]) -> f64| points.iter().map(term).sum::<f64>();
    let (xx, yy, xy) = (sum(|p| p[0] * p[0]), sum(|p| p[1] * p[1]), sum(|p| p[0] * p[1]));
    let (xz, yz) = (sum(|p| p[0] * p[2]), sum(|p| p[1] * p[2]));
    let determinant = xx * yy - xy * xy;
    let slope_along = (xz * yy - yz * xy) / determinant;
    let slope_across = (yz * xx - xz * xy) / determinant;
    let squares: f64 = points.iter().map(|[x, y, z]| (z - slope_along * x - slope_across * y).powi(2)).sum();
    let [along, across, height] = middle.map(Length::from_metres);
    Some(Fit {
        middle_along: along,
        middle_across: across,
        middle_height: height,
        slope_along,
        slope_across,
        rms: Length::from_metres((squares / points.len() as f64).sqrt()),
        twist: twist(&points).map(Length::from_metres),
    })
}

/// d Lx Ly of the bilinear fit, in coordinates scaled to the measured field.
fn twist(points: &[[f64; 3]]) -> Option<f64> {
    let span = |axis: usize| {
        let places = points.iter().map(|point| point[axis]);
        places.clone().fold(f64::MIN, f64::max) - places.fold(f64::MAX, f64::min)
    };
    let (span_x, span_y) = (span(0), span(1));
    let mut rows = [[0.0; 4]; 4];
    let mut right = [0.0; 4];
    for [x, y, z] in points {
        let (x, y) = (x / span_x, y / span_y);
        let terms = [1.0, x, y, x * y];
        for (row, term) in terms.iter().enumerate() {
            for (place, other) in terms.iter().enumerate() {
                rows[row][place] += term * other;
            }
            right[row] += term * z;
        }
    }
    // Points in two crossing lines show no twist: then the equations do not settle it.
    let [.., twist] = four_equations(rows, right)?;
    Some(twist)
}

/// Flatness: the distance of the closest two parallel planes that hold all points between them.
///
/// **Equation** t = min over all directions n of (max n.p - min n.p)
///
/// **Shape** A list of points; none when they are in one line or the face leans by more than about 11 degrees.
///
/// **Units** Lengths.
///
/// **Valid for** Faces within some degrees of level; a smaller zone far off that direction (across a slender field) is not
/// looked for.
///
/// **Errors** [`Error::NotConverged`] should the linear programme fail.
///
/// **Source** ISO 1101:2017 (flatness tolerance); Houle and Toussaint 1988 for the contacts.
pub fn minimum_zone(points: &[SurfacePoint]) -> Result<Option<Length>, Error> {
    const MOST_TURNS: usize = 50;
    /// A turn by less changes a zone by less than the last bit.
    const LEVEL: f64 = 1e-8;
    if in_one_line(points) {
        return Ok(None);
    }
    let mut points = centred(points).points;
    for _ in 0..MOST_TURNS {
        let Some(plane) = minimax_plane(&points)? else { return Ok(None) };
        let slope = plane.slope_x.hypot(plane.slope_y);
        if slope <= LEVEL {
            return Ok(Some(Length::from_metres(2.0 * plane.half_width)));
        }
        if slope > STEEP {
            return Ok(None);
        }
        turn(&mut points, plane.slope_x, plane.slope_y);
    }
    Err(Error::NotConverged { what: "minimum zone", residual: LEVEL })
}

/// Turns the frame so that a plane of these slopes becomes level: then its deviations are normal to it.
fn turn(points: &mut [[f64; 3]], slope_x: f64, slope_y: f64) {
    let unit = |[x, y, z]: [f64; 3]| {
        let length = (x * x + y * y + z * z).sqrt();
        [x / length, y / length, z / length]
    };
    let normal = unit([-slope_x, -slope_y, 1.0]);
    let along = unit([1.0, 0.0, slope_x]);
    let across = [
        normal[1] * along[2] - normal[2] * along[1],
        normal[2] * along[0] - normal[0] * along[2],
        normal[0] * along[1] - normal[1] * along[0],
    ];
    let dot = |one: [f64; 3], other: [f64; 3]| one[0] * other[0] + one[1] * other[1] + one[2] * other[2];
    for point in points {
        *point = [dot(along, *point), dot(across, *point), dot(normal, *point)];
    }
}
