//! Taper pipe threads, as plugs have them: dimensions and tap drills.

use crate::method::Method;
use crate::units::{Angle, Length};

use super::drills::{Drill, Series, nearest};

/// Where the dimensions come from.
pub const METHOD: Method = Method {
    id: "taper-pipe-thread",
    title: "Taper pipe thread of a plug",
    equation: "p = 1/n; E0 = D - (0.05 D + 1.1) p; E1 = E0 + L1/16; L2 = (0.8 D + 6.8) p; minor diameter at the small end E0 - 0.8 p. D \
         outside diameter of the pipe, n threads per inch, L1 hand-tight engagement (table), E0 and E1 pitch diameter at the small \
         end and at the hand-tight plane, L2 effective length. Taper 1 in 16 on the diameter, thread angle 60 degrees. Tap drills by \
         table.",
    valid_for: "Pipe sizes 1/16 to 1 in, ordinary (NPT) and dryseal (NPTF). Tables differ in the tap drill by a few thousandths of an \
         inch, and a hole reamed to the taper first wants a smaller drill: follow the tap's maker.",
    sources: &[
        "ASME B1.20.1, Pipe Threads, General Purpose (Inch), table 2 and its formulas, as reprinted in public tables",
        "ANSI B1.20.3, Dryseal Pipe Threads (Inch)",
        "Tap drills: public reprints of tap makers' tables; ordinary 1/16 from memory",
    ],
};

/// Form of the thread.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ThreadForm {
    /// Ordinary taper pipe thread, sealed with a compound: NPT.
    Ordinary,
    /// Dryseal taper pipe thread, whose crests and roots seal: NPTF.
    Dryseal,
}

/// Nominal size of the pipe.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PipeSize {
    /// 1/16 in.
    Sixteenth,
    /// 1/8 in.
    Eighth,
    /// 1/4 in.
    Quarter,
    /// 3/8 in.
    ThreeEighths,
    /// 1/2 in.
    Half,
    /// 3/4 in.
    ThreeQuarters,
    /// 1 in.
    One,
}

/// What a taper pipe thread is like.
#[derive(Debug, Clone, PartialEq)]
pub struct PipeThread {
    /// `1/8-27 NPT`.
    pub designation: String,
    /// Threads per inch.
    pub threads_per_inch: f64,
    /// Distance from thread to thread.
    pub pitch: Length,
    /// Outside diameter of the pipe, D.
    pub pipe_diameter: Length,
    /// Pitch diameter at the small end, E0.
    pub small_end_pitch_diameter: Length,
    /// Pitch diameter at the hand-tight plane, E1.
    pub hand_tight_pitch_diameter: Length,
    /// Hand-tight engagement, L1.
    pub hand_tight_length: Length,
    /// Effective length of the external thread, L2.
    pub effective_length: Length,
    /// Minor diameter at the small end: what the plug's body is at its thinnest.
    pub small_end_minor_diameter: Length,
    /// Angle of the thread's flanks.
    pub thread_angle: Angle,
    /// Taper on the diameter.
    pub taper: f64,
    /// Drill for the tap, without a reamer.
    pub tap_drill: Drill,
}

struct Row {
    name: &'static str,
    threads_per_inch: f64,
    diameter: f64,
    hand_tight: f64,
    /// Tap drill in inches: ordinary, dryseal.
    drills: [(Series, f64); 2],
}

const fn row(
    name: &'static str,
    threads_per_inch: f64,
    diameter: f64,
    hand_tight: f64,
    drills: [(Series, f64); 2],
) -> Row {
    Row { name, threads_per_inch, diameter, hand_tight, drills }
}

use Series::{Fractional, Letter};

const ROWS: [Row; 7] = [
    row("1/16", 27.0, 0.3125, 0.160, [(Letter, 0.242), (Letter, 0.242)]),
    row("1/8", 27.0, 0.405, 0.1615, [(Letter, 0.339), (Letter, 0.332)]),
    row("1/4", 18.0, 0.540, 0.2278, [(Fractional, 28.0 / 64.0), (Fractional, 28.0 / 64.0)]),
    row("3/8", 18.0, 0.675, 0.240, [(Fractional, 37.0 / 64.0), (Fractional, 36.0 / 64.0)]),
    row("1/2", 14.0, 0.840, 0.320, [(Fractional, 46.0 / 64.0), (Fractional, 45.0 / 64.0)]),
    row("3/4", 14.0, 1.050, 0.339, [(Fractional, 59.0 / 64.0), (Fractional, 58.0 / 64.0)]),
    row("1", 11.5, 1.315, 0.400, [(Fractional, 74.0 / 64.0), (Fractional, 73.0 / 64.0)]),
];

/// The dimensions of a taper pipe thread and its tap drill.
///
/// **Equation** E0 = D - (0.05 D + 1.1) p, E1 = E0 + L1/16, L2 = (0.8 D + 6.8) p, minor diameter E0 - 0.8 p
///
/// **Shape** One thread.
///
/// **Units** Lengths out.
///
/// **Valid for** Pipe sizes 1/16 to 1 in.
///
/// **Errors** None.
///
/// **Source** ASME B1.20.1, table 2; ANSI B1.20.3; tap drills from public reprints.
#[must_use]
pub fn thread(size: PipeSize, form: ThreadForm) -> PipeThread {
    let row = &ROWS[size as usize];
    let inches = Length::from_inches;
    let pitch = 1.0 / row.threads_per_inch;
    let small_end = row.diameter - (0.05 * row.diameter + 1.1) * pitch;
    let (series, drill) = row.drills[form as usize];
    let suffix = ["NPT", "NPTF"][form as usize];
    let [tabled, _] = nearest(series, inches(drill));
    PipeThread {
        designation: format!("{}-{} {suffix}", row.name, row.threads_per_inch),
        threads_per_inch: row.threads_per_inch,
        pitch: inches(pitch),
        pipe_diameter: inches(row.diameter),
        small_end_pitch_diameter: inches(small_end),
        hand_tight_pitch_diameter: inches(small_end + row.hand_tight / 16.0),
        hand_tight_length: inches(row.hand_tight),
        effective_length: inches((0.8 * row.diameter + 6.8) * pitch),
        small_end_minor_diameter: inches(small_end - 0.8 * pitch),
        thread_angle: Angle::from_degrees(60.0),
        taper: 1.0 / 16.0,
        tap_drill: tabled.unwrap_or(Drill { series, name: String::new(), diameter: inches(drill) }),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn tap_drills_are_drills_and_lie_between_minor_and_pitch_diameter() {
        use PipeSize::{Eighth, Half, One, Quarter, Sixteenth, ThreeEighths, ThreeQuarters};
        for size in [Sixteenth, Eighth, Quarter, ThreeEighths, Half, ThreeQuarters, One] {
            for form in [ThreadForm::Ordinary, ThreadForm::Dryseal] {
                let thread = thread(size, form);
                assert!(!thread.tap_drill.name.is_empty());
                assert!(
                    (thread.tap_drill.diameter.inches() - ROWS[size as usize].drills[form as usize].1).abs() < 1e-12
                );
                // The drill of a dryseal thread may be a little below the minor diameter of the plug.
                assert!(thread.tap_drill.diameter.inches() > 0.99 * thread.small_end_minor_diameter.inches());
                assert!(thread.tap_drill.diameter < thread.hand_tight_pitch_diameter);
            }
        }
    }
}
