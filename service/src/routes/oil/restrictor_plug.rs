//! The thread of a drilled plug on the wire.

use calc_core::oil::pipe_thread as core;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::wire::Units;
use crate::wire::quantity::{AngleOutput, LengthOutput, RatioOutput, out};

/// Pipe size of a plug.
#[derive(Debug, Clone, Copy, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum PlugSize {
    /// 1/16 in pipe.
    Sixteenth,
    /// 1/8 in pipe.
    Eighth,
    /// 1/4 in pipe.
    Quarter,
    /// 3/8 in pipe.
    ThreeEighths,
    /// 1/2 in pipe.
    Half,
    /// 3/4 in pipe.
    ThreeQuarters,
    /// 1 in pipe.
    One,
}

/// Form of a plug's thread.
#[derive(Debug, Clone, Copy, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum PlugThread {
    /// Ordinary taper pipe thread (NPT), sealed with a compound.
    Ordinary,
    /// Dryseal taper pipe thread (NPTF), whose crests and roots seal.
    Dryseal,
}

/// What the plug's thread is like, and the drill for its tap.
#[derive(Debug, Serialize, ToSchema)]
pub struct RestrictorPlug {
    /// Size, threads per inch and form.
    designation: String,
    /// Threads per inch.
    threads_per_inch: RatioOutput,
    /// Distance from thread to thread.
    pitch: LengthOutput,
    /// Outside diameter of the pipe.
    pipe_diameter: LengthOutput,
    /// Pitch diameter at the small end (E0).
    small_end_pitch_diameter: LengthOutput,
    /// Pitch diameter at the hand-tight plane (E1).
    hand_tight_pitch_diameter: LengthOutput,
    /// Hand-tight engagement (L1).
    hand_tight_length: LengthOutput,
    /// Effective length of the external thread (L2).
    effective_length: LengthOutput,
    /// Minor diameter at the small end: the plug's body at its thinnest.
    small_end_minor_diameter: LengthOutput,
    /// Angle between the thread's flanks.
    thread_angle: AngleOutput,
    /// Taper on the diameter: change of diameter per length.
    taper: RatioOutput,
    /// Name of the tap drill, without a taper reamer.
    tap_drill: String,
    /// Diameter of the tap drill.
    tap_drill_diameter: LengthOutput,
}

impl PlugSize {
    pub(crate) fn core(self) -> core::PipeSize {
        match self {
            Self::Sixteenth => core::PipeSize::Sixteenth,
            Self::Eighth => core::PipeSize::Eighth,
            Self::Quarter => core::PipeSize::Quarter,
            Self::ThreeEighths => core::PipeSize::ThreeEighths,
            Self::Half => core::PipeSize::Half,
            Self::ThreeQuarters => core::PipeSize::ThreeQuarters,
            Self::One => core::PipeSize::One,
        }
    }
}

impl PlugThread {
    pub(crate) fn core(self) -> core::ThreadForm {
        match self {
            Self::Ordinary => core::ThreadForm::Ordinary,
            Self::Dryseal => core::ThreadForm::Dryseal,
        }
    }
}

impl RestrictorPlug {
    pub(crate) fn new(thread: core::PipeThread, units: Units) -> Self {
        Self {
            designation: thread.designation,
            threads_per_inch: RatioOutput(thread.threads_per_inch),
            pitch: out(thread.pitch, units),
            pipe_diameter: out(thread.pipe_diameter, units),
            small_end_pitch_diameter: out(thread.small_end_pitch_diameter, units),
            hand_tight_pitch_diameter: out(thread.hand_tight_pitch_diameter, units),
            hand_tight_length: out(thread.hand_tight_length, units),
            effective_length: out(thread.effective_length, units),
            small_end_minor_diameter: out(thread.small_end_minor_diameter, units),
            thread_angle: out(thread.thread_angle, units),
            taper: RatioOutput(thread.taper),
            tap_drill: thread.tap_drill.name,
            tap_drill_diameter: out(thread.tap_drill.diameter, units),
        }
    }
}
