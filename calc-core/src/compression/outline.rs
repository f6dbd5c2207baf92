//! A closed outline traced in one plane, of straight lines and arcs: its area, and its area when the wall leans inwards.

use std::f64::consts::PI;

use validator::{Validate, ValidationError};

use crate::error::{Error, broken_rule};
use crate::limit;
use crate::units::{Length, Quantity};

/// One corner of an outline, and how the line to the next corner runs.
#[derive(Debug, Clone, Copy, PartialEq, Validate)]
pub struct OutlinePoint {
    /// Across.
    #[validate(custom(function = "limit::outline_coordinate"))]
    pub x: Length,
    /// Along.
    #[validate(custom(function = "limit::outline_coordinate"))]
    pub y: Length,
    /// Radius of the arc to the next corner, at most half a circle; a straight line when absent.
    #[validate(custom(function = "limit::arc_radius"))]
    pub arc_radius: Option<Length>,
    /// The arc bulges into the outline instead of out of it.
    pub arc_inwards: bool,
}

impl OutlinePoint {
    fn place(&self) -> [f64; 2] {
        [self.x.metres(), self.y.metres()]
    }
}

/// Fewest and most corners: two arcs can close an outline, lines need three.
const COUNT: std::ops::RangeInclusive<usize> = 2..=500;

/// Enough corners, arcs that reach, and lines that do not cross.
pub(crate) fn check_outline(field: &'static str, points: &[OutlinePoint]) -> Result<(), ValidationError> {
    let broken = |code, detail| Err(broken_rule(field, code, detail));
    if !COUNT.contains(&points.len()) {
        let detail = format!("must hold {} to {} corners; got {}.", COUNT.start(), COUNT.end(), points.len());
        return broken("wrong_length", detail);
    }
    for (index, (point, next)) in edges(points).enumerate() {
        let chord = distance(point.place(), next.place());
        if chord == 0.0 {
            return broken(
                "contradiction",
                format!("has entries {index} and the next at one place; give each corner once."),
            );
        }
        if let Some(radius) = point.arc_radius.filter(|radius| 2.0 * radius.metres() < chord * (1.0 - 1e-9)) {
            let detail = format!(
                "has an arc of radius {} at entry {index} that cannot reach the next corner, {} away; the radius is at least half \
                 of that.",
                radius.shown(),
                Length::from_metres(chord).shown()
            );
            return broken("contradiction", detail);
        }
    }
    match crossing(points) {
        None if area(points) > 0.0 => Ok(()),
        None => broken("contradiction", "encloses no area; trace it all the way round.".to_owned()),
        Some((one, other)) => broken(
            "contradiction",
            format!("crosses itself: the line from entry {one} meets the one from entry {other}."),
        ),
    }
}

/// Enclosed area in square metres: the polygon of the corners, and a circular segment for every arc.
pub(crate) fn area(points: &[OutlinePoint]) -> f64 {
    let arcs: f64 = edges(points).map(|(point, next)| segment(point, distance(point.place(), next.place()))).sum();
    signed_polygon(points).abs() + arcs
}

fn side_length(point: &OutlinePoint, chord: f64) -> f64 {
    point.arc_radius.map(Length::metres).map_or(chord, |radius| 2.0 * radius * (chord / (2.0 * radius)).min(1.0).asin())
}

/// Area between chord and arc, less than zero for an arc inwards.
fn segment(point: &OutlinePoint, chord: f64) -> f64 {
    let Some(radius) = point.arc_radius.map(Length::metres) else { return 0.0 };
    let angle = 2.0 * (chord / (2.0 * radius)).min(1.0).asin();
    let size = 0.5 * radius * radius * (angle - angle.sin());
    if point.arc_inwards { -size } else { size }
}

/// Area, perimeter and corner term of the area of an outline moved inwards by d: A - P d + C d^2, up to `furthest`.
pub(crate) fn offset_law(points: &[OutlinePoint], furthest: f64) -> Result<[f64; 3], Error> {
    let straight = polygon_of(points);
    let turns = half_turn_tangents(&straight);
    let count = straight.len();
    let length = |index: usize| distance(straight[index], straight[(index + 1) % count]);
    let shrink = |index: usize| turns[index] + turns[(index + 1) % count];
    let vanishing = (0..count).find(|index| length(*index) < furthest * shrink(*index));
    if vanishing.is_some() {
        let detail =
            "leans so far that a side of the outline vanishes before the wall ends; give levels instead of an outline.";
        return Err(Error::NoSolution { field: "wall_angle", detail: detail.to_owned() });
    }
    let perimeter = edges(points).map(|(point, next)| side_length(point, distance(point.place(), next.place()))).sum();
    Ok([area(points), perimeter, turns.iter().sum()])
}

/// The corners with every arc replaced by short chords.
fn polygon_of(points: &[OutlinePoint]) -> Vec<[f64; 2]> {
    /// Turns are counted at the chords' ends: with chords this short (in radians of arc) to one part in a million.
    const LONGEST_CHORD: f64 = PI / 720.0;
    let clockwise = signed_polygon(points) < 0.0;
    let mut corners = Vec::new();
    for (point, next) in edges(points) {
        let (from, to) = (point.place(), next.place());
        corners.push(from);
        let Some(radius) = point.arc_radius.map(Length::metres) else { continue };
        let half = (distance(from, to) / (2.0 * radius)).min(1.0).asin();
        let chords = (2.0 * half / LONGEST_CHORD).ceil();
        // The centre lies left of the chord for an outward arc of an outline that runs anticlockwise.
        let side = if clockwise == point.arc_inwards { 1.0 } else { -1.0 };
        let unit = [(to[0] - from[0]) / (2.0 * half.sin()), (to[1] - from[1]) / (2.0 * half.sin())];
        for step in 1..chords as usize {
            let turned = 2.0 * half * step as f64 / chords;
            // Chord from the arc's start to the point `turned` further on, as a rotation of the whole chord.
            let (chord, lean) = (2.0 * (turned / 2.0).sin(), side * (half - turned / 2.0));
            corners.push([
                from[0] + chord * (unit[0] * lean.cos() + unit[1] * lean.sin()),
                from[1] + chord * (unit[1] * lean.cos() - unit[0] * lean.sin()),
            ]);
        }
    }
    corners
}

fn half_turn_tangents(corners: &[[f64; 2]]) -> Vec<f64> {
    let count = corners.len();
    let anticlockwise = polygon_area(corners) > 0.0;
    let heading = |from: [f64; 2], to: [f64; 2]| (to[1] - from[1]).atan2(to[0] - from[0]);
    let turn = |index: usize| {
        let before = heading(corners[(index + count - 1) % count], corners[index]);
        let after = heading(corners[index], corners[(index + 1) % count]);
        let turn = (after - before + 3.0 * PI).rem_euclid(2.0 * PI) - PI;
        (if anticlockwise { turn } else { -turn } / 2.0).tan()
    };
    (0..count).map(turn).collect()
}

fn edges(points: &[OutlinePoint]) -> impl Iterator<Item = (&OutlinePoint, &OutlinePoint)> {
    points.iter().zip(points.iter().cycle().skip(1))
}

fn distance(from: [f64; 2], to: [f64; 2]) -> f64 {
    (to[0] - from[0]).hypot(to[1] - from[1])
}

fn signed_polygon(points: &[OutlinePoint]) -> f64 {
    polygon_area(&points.iter().map(OutlinePoint::place).collect::<Vec<_>>())
}

/// Half the sum of the cross products, positive when the corners run anticlockwise.
fn polygon_area(corners: &[[f64; 2]]) -> f64 {
    let cross = |from: [f64; 2], to: [f64; 2]| from[0] * to[1] - to[0] * from[1];
    let next = |index: usize| corners[(index + 1) % corners.len()];
    0.5 * corners.iter().enumerate().map(|(index, corner)| cross(*corner, next(index))).sum::<f64>()
}

/// Two chords that cross; neighbours share a corner and do not count.
fn crossing(points: &[OutlinePoint]) -> Option<(usize, usize)> {
    let corners: Vec<_> = points.iter().map(OutlinePoint::place).collect();
    let count = corners.len();
    let side = |a: [f64; 2], b: [f64; 2], p: [f64; 2]| (b[0] - a[0]) * (p[1] - a[1]) - (b[1] - a[1]) * (p[0] - a[0]);
    let cross = |one: usize, other: usize| {
        let (a, b) = (corners[one], corners[(one + 1) % count]);
        let (c, d) = (corners[other], corners[(other + 1) % count]);
        side(a, b, c) * side(a, b, d) < 0.0 && side(c, d, a) * side(c, d, b) < 0.0
    };
    let pairs = (0..count).flat_map(|one| (one + 2..count).map(move |other| (one, other)));
    pairs.into_iter().find(|(one, other)| cross(*one, *other))
}
